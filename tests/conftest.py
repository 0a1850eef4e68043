"""What every test stands on: nothing may be left behind, a data folder of its own, and how hard hypothesis tries."""

import os
import shutil
import signal
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

GRACE_S = 5.0
"""How long a thread or a child may take to end after the test has told it to."""

if threading.current_thread() is threading.main_thread():
    # A shell that runs the tests in the background has them ignore Ctrl-C, and whatever they start as well.
    signal.signal(signal.SIGINT, signal.default_int_handler)

os.environ["SCUFFWATCH_COMPILED"] = "no"
"""Tests and what they start run the plain detectors, which are traced; those of the compiled ones say so themselves."""

settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],  # the machine is shared: slow draws say nothing about the code
)
settings.register_profile("long", settings.get_profile("ci"), derandomize=False, database=None, max_examples=5_000)
settings.register_profile("fast", settings.get_profile("ci"), max_examples=20)
settings.load_profile("ci")  # `--hypothesis-profile` comes later and wins


def _children() -> set[int]:
    own, found = os.getpid(), set[int]()
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            parent = stat.read_text(errors="replace").rpartition(")")[2].split()[1]
        except (FileNotFoundError, ProcessLookupError):
            continue  # somebody else's process that ended while we looked
        if int(parent) == own:
            found.add(int(stat.parent.name))
    return found


def _command_line(pid: int) -> str:
    try:
        raw = Path(f"/proc/{pid}/cmdline").read_bytes()
    except (FileNotFoundError, ProcessLookupError):
        return f"{pid} (ended)"
    return f"{pid} {raw.replace(bytes(1), b' ').decode(errors='replace').strip() or '(ended, never waited for)'}"


@pytest.fixture(autouse=True)
def nothing_left_behind() -> Iterator[None]:
    """Fail a test that leaves a thread or a child process of its own behind.

    What a module or session fixture started before the test began is not the test's own.
    """
    threads, children = set(threading.enumerate()), _children()
    yield
    give_up_t_mono_s = time.monotonic() + GRACE_S
    while True:
        left_threads = [t for t in threading.enumerate() if t not in threads]
        left_children = _children() - children
        if not left_threads and not left_children:
            return
        if time.monotonic() > give_up_t_mono_s:
            break
        time.sleep(0.01)
    names = [f"thread {t.name}" for t in left_threads] + [f"process {_command_line(pid)}" for pid in left_children]
    pytest.fail("left behind: " + ", ".join(names))


@pytest.fixture
def data_dir() -> Iterator[Path]:
    """Give an empty data folder whose path is short enough for the Unix sockets in it (107 bytes, unix(7))."""
    folder = Path(tempfile.mkdtemp(prefix="scuff-"))
    yield folder
    shutil.rmtree(folder)
