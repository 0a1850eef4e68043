"""Run Python under the system call filter of a service file: `python confined.py UNIT CODE`.

The filter is worked out as systemd.exec(5) says for SystemCallFilter= and SystemCallErrorNumber=, with the groups of
calls as `systemd-analyze syscall-filter` tells them, and loaded by libseccomp: seccomp_init(3), seccomp_rule_add(3).
"""

import ctypes
import errno
import os
import subprocess
import sys
from pathlib import Path

KILL_PROCESS, ERRNO, ALLOW = 0x80000000, 0x00050000, 0x7FFF0000
"""SCMP_ACT_KILL_PROCESS, SCMP_ACT_ERRNO, SCMP_ACT_ALLOW."""
PR_SET_NO_NEW_PRIVS, PR_SET_MDWE = 38, 65


def members(name: str) -> set[str]:
    """Give the calls of a group, or the call itself."""
    if not name.startswith("@"):
        return {name}
    command = ["systemd-analyze", "--no-pager", "syscall-filter", name]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    words = [line.strip() for line in ran.stdout.splitlines()[1:]]
    return set[str]().union(*(members(word) for word in words if word and not word.startswith("#")))


def allowed(lines: list[str]) -> set[str]:
    """Give the calls a unit leaves: the lines of its filter one after the other, and what systemd needs to start it."""
    calls = set[str]()
    for line in lines:
        key, _, value = line.partition("=")
        if key == "SystemCallFilter":
            found = set[str]().union(*(members(name) for name in value.lstrip("~").split()))
            calls = calls - found if value.startswith("~") else calls | found
    return calls | members("@default") | {"execve"}


def confine(unit: Path) -> None:
    """Put this process under the filter of a unit; there is no way back."""
    lines = unit.read_text(encoding="utf-8").splitlines()
    calls = allowed(lines)
    libc, seccomp = ctypes.CDLL(None, use_errno=True), ctypes.CDLL("libseccomp.so.2")
    seccomp.seccomp_init.restype = ctypes.c_void_p
    refused = ERRNO | errno.EPERM if "SystemCallErrorNumber=EPERM" in lines else KILL_PROCESS
    context = ctypes.c_void_p(seccomp.seccomp_init(ctypes.c_uint32(refused)))
    for call in sorted(calls):
        number = seccomp.seccomp_syscall_resolve_name(call.encode())
        if number >= 0 and seccomp.seccomp_rule_add(context, ctypes.c_uint32(ALLOW), number, 0):
            raise OSError(f"no rule for {call}")
    if libc.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0):
        raise OSError(ctypes.get_errno(), "no new privileges")
    if "MemoryDenyWriteExecute=yes" in lines:
        libc.prctl(PR_SET_MDWE, 1, 0, 0, 0)  # Linux 6.3 and later; older ones do without
    if seccomp.seccomp_load(context):
        raise OSError("the filter could not be loaded")


if __name__ == "__main__":
    confine(Path(sys.argv[1]))
    os.execv(sys.executable, [sys.executable, "-c", sys.argv[2]])
