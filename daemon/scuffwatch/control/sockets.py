"""Socket files: claimed only where nobody answers on them, given back only where they are still ours.

Reads a path, gives a listening socket. Used by `endpoint` alone.
"""

import contextlib
import errno
import fcntl
import grp
import os
import socket
import stat
import struct
from dataclasses import dataclass
from pathlib import Path

from scuffwatch.control.inbox import Peer
from scuffwatch.model.errors import OperatorError

BACKLOG = 32
PATH_MAX_BYTES = 107
"""Room in sockaddr_un less the closing zero: unix(7)."""

_UCRED = struct.Struct("iII")
"""struct ucred: pid, uid, gid: unix(7), SO_PEERCRED."""


class SocketRefused(OperatorError):
    """A socket file cannot be claimed.

    Args:
        path: of the socket file.
        why: one clause.
        do: what to do next, one sentence.
    """

    def __init__(self, path: Path, why: str, do: str) -> None:
        super().__init__(path, why, do)
        self.path, self.why, self.do = path, why, do

    def sentence(self) -> str:
        """Give the sentence a person reads."""
        return f"Socket {self.path}: {self.why}. The core has not started. {self.do}"


@dataclass(frozen=True, slots=True)
class Claim:
    """A listening socket and the file it answers on.

    Attributes:
        path: of the file.
        listener: non-blocking.
        device, inode: of the file, so that a successor's file is never removed.
        lock_fd: open lock file; the kernel lets go of the lock when this process ends, however it ends.
    """

    path: Path
    listener: socket.socket
    device: int
    inode: int
    lock_fd: int

    def release(self) -> None:
        """Close the socket, remove its file if it is still this one, give up the lock. Call once; never raises."""
        self.listener.close()
        with contextlib.suppress(OSError):
            now = os.lstat(self.path)
            if (now.st_dev, now.st_ino) == (self.device, self.inode):
                os.unlink(self.path)
        with contextlib.suppress(OSError):
            os.close(self.lock_fd)


def claim(path: Path, mode: int, group: str = "") -> Claim:
    """Listen on a path, after removing a socket file that a dead core left there.

    Args:
        path: the file; its folder exists. The file takes the folder's group where the folder has the set-group-id bit.
        mode: of the file, for instance 0o660.
        group: of the file, by name; empty leaves it as it falls. Without rights, one the core is a member of.
    Raises:
        SocketRefused: another core answers there, something else lies there, or the system does not allow it.
    """
    if len(os.fsencode(path)) > PATH_MAX_BYTES:
        raise SocketRefused(
            path, f"path of {len(os.fsencode(path))} bytes, limit {PATH_MAX_BYTES}", "Choose a shorter folder."
        )
    try:
        return _claim(path, mode, group)
    except OSError as error:
        why = os.strerror(error.errno or 0)
        raise SocketRefused(path, why, "Let the core's user own its folder.") from error


def peer_of(connection: socket.socket) -> Peer:
    """Give the credentials of the process that connected (or that listens, on a client's socket)."""
    raw = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _UCRED.size)
    pid, uid, gid = _UCRED.unpack(raw)
    return Peer(uid, gid, pid)


def _claim(path: Path, mode: int, group: str) -> Claim:
    lock_fd = os.open(path.with_name(path.name + ".lock"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        _lock(path, lock_fd)
        _clear(path)
        return _listen(path, mode, group, lock_fd)
    except (OSError, SocketRefused):
        os.close(lock_fd)
        raise


def _lock(path: Path, lock_fd: int) -> None:
    """Hold the lock file: two cores that start together must not take each other's socket for stale."""
    try:
        fcntl.flock(lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        holder = os.pread(lock_fd, 20, 0).decode("ascii", "replace").strip()
        why = f"another core (process {holder}) holds it"
        raise SocketRefused(path, why, "Stop that core first, or give this one another folder.") from None
    os.ftruncate(lock_fd, 0)
    os.pwrite(lock_fd, f"{os.getpid()}\n".encode(), 0)


def _give_to(path: Path, group: str) -> None:
    try:
        os.chown(path, -1, grp.getgrnam(group).gr_gid)
    except KeyError:
        raise SocketRefused(path, f"there is no group {group}", "Make the group, or name another one.") from None
    except PermissionError:
        why = f"the core is no member of the group {group}"
        raise SocketRefused(path, why, "Add its user to the group, or name another one.") from None


def _listen(path: Path, mode: int, group: str, lock_fd: int) -> Claim:
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        listener.setblocking(False)
        listener.bind(os.fspath(path))
        if group:
            _give_to(path, group)
        os.chmod(path, mode)  # before listen: until then nobody can connect
        made = os.lstat(path)
        listener.listen(BACKLOG)
    except (OSError, SocketRefused):
        listener.close()
        raise
    return Claim(path, listener, made.st_dev, made.st_ino, lock_fd)


def _clear(path: Path) -> None:
    """Remove a stale socket file; refuse where somebody answers or it is no socket."""
    try:
        kind = os.lstat(path).st_mode
    except FileNotFoundError:
        return
    if not stat.S_ISSOCK(kind):
        raise SocketRefused(path, "something that is no socket lies there", "Move it away or choose another path.")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.setblocking(False)
        try:
            probe.connect(os.fspath(path))
        except OSError as error:
            if error.errno == errno.ECONNREFUSED:
                os.unlink(path)
                return
            if error.errno != errno.EAGAIN:  # EAGAIN: somebody listens and is too busy to answer
                raise
            other = "another core"
        else:
            other = f"another core (process {peer_of(probe).pid})"
    raise SocketRefused(path, f"{other} answers on it", "Stop that core first, or give this one another folder.")
