"""Socket files, start and end of the endpoint: second cores, dead cores, frozen cores, errors of ours."""

import contextlib
import grp
import os
import signal
import socket
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from control_core import Core, core, hung_up, lines, until

from scuffwatch.control.client import CoreNotReached, LiveClient, send
from scuffwatch.control.endpoint import Endpoint, Inbox, SnapshotSource, SocketRefused
from scuffwatch.control.messages import (
    Mark,
    Note,
    Reply,
    to_line,
)


def test_socket_files_are_for_owner_and_group_and_are_removed(data_dir: Path) -> None:
    with core(data_dir) as made:
        for path in (made.live, made.command):
            assert stat.S_IMODE(path.lstat().st_mode) == 0o660
    assert not made.live.exists()
    assert not made.command.exists()


def test_the_file_of_a_successor_is_left_alone(data_dir: Path) -> None:
    with core(data_dir) as made, socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as successor:
        made.live.unlink()
        successor.bind(str(made.live))
        made.endpoint.stop()
        assert made.live.exists()
        assert not made.command.exists()


def test_a_second_core_is_refused_and_the_first_goes_on(data_dir: Path) -> None:
    with core(data_dir) as made:
        with pytest.raises(SocketRefused) as caught:
            Core(data_dir).endpoint.start()
        assert f"another core (process {os.getpid()}) holds it" in caught.value.sentence()
        assert send(made.command, Mark()).ok


def test_a_stranger_that_answers_on_the_path_is_not_pushed_aside(data_dir: Path) -> None:
    made = Core(data_dir)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as stranger:
        stranger.bind(str(made.command))
        stranger.listen(1)
        with pytest.raises(SocketRefused) as caught:
            made.endpoint.start()
        assert f"another core (process {os.getpid()}) answers on it" in caught.value.sentence()
        assert made.command.exists()
    assert not made.live.exists(), "nothing is left open by a start that failed"
    made.endpoint.start()
    made.endpoint.stop()


def test_a_stranger_too_busy_to_answer_is_not_pushed_aside_either(data_dir: Path) -> None:
    made = Core(data_dir)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as stranger, contextlib.ExitStack() as stack:
        stranger.bind(str(made.live))
        stranger.listen(0)
        with contextlib.suppress(BlockingIOError):
            while True:
                caller = stack.enter_context(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM))
                caller.setblocking(False)
                caller.connect(str(made.live))
        with pytest.raises(SocketRefused) as caught:
            made.endpoint.start()
        assert "another core answers on it" in caught.value.sentence()
        assert made.live.exists()


def test_what_is_no_socket_is_not_removed(data_dir: Path) -> None:
    made = Core(data_dir)
    made.live.write_text("notes of the workshop")
    with pytest.raises(SocketRefused) as caught:
        made.endpoint.start()
    assert "something that is no socket lies there" in caught.value.sentence()
    assert made.live.read_text() == "notes of the workshop"


@pytest.mark.parametrize(("name", "why"), [("x" * 120, "limit 107"), ("missing", "No such file or directory")])
def test_a_folder_that_will_not_do_is_named(data_dir: Path, name: str, why: str) -> None:
    with pytest.raises(SocketRefused) as caught:
        Core(data_dir / name).endpoint.start()
    assert why in caught.value.sentence()
    assert "The core has not started." in caught.value.sentence()


def test_the_command_socket_goes_to_the_group_that_is_named_and_the_live_socket_does_not(data_dir: Path) -> None:
    mine = data_dir.stat().st_gid
    groups = [each for each in grp.getgrall() if may_give_to(each.gr_gid)]
    another = next(
        (each for each in groups if each.gr_gid != mine), grp.getgrgid(mine)
    )  # its own, where it has no other
    live, command = data_dir / "live.sock", data_dir / "command.sock"
    endpoint = Endpoint(live, command, SnapshotSource(), Inbox(), command_group=another.gr_name)
    endpoint.start()
    try:
        assert (command.stat().st_gid, live.stat().st_gid) == (another.gr_gid, mine)
        assert stat.S_IMODE(command.stat().st_mode) == 0o660
    finally:
        endpoint.stop()


def may_give_to(group_number: int) -> bool:
    return os.geteuid() == 0 or group_number in os.getgroups()


def test_a_group_that_does_not_exist_stops_the_start(data_dir: Path) -> None:
    live, command = data_dir / "live.sock", data_dir / "command.sock"
    with pytest.raises(SocketRefused, match="no-such-group") as caught:
        Endpoint(live, command, SnapshotSource(), Inbox(), command_group="no-such-group").start()
    assert "there is no group no-such-group. The core has not started." in caught.value.sentence()
    with core(data_dir) as made:  # nothing of the refused start is in the way
        assert send(made.command, Mark()).ok


FORBIDDEN_CORE = """
import os, sys
from pathlib import Path
from scuffwatch.control.endpoint import Endpoint, Inbox, SnapshotSource, SocketRefused
if os.geteuid() == 0:  # no file mode binds root
    os.setgroups([]); os.setgid(65534); os.setuid(65534)
folder = Path(sys.argv[1])
try:
    Endpoint(
        folder / "live.sock", folder / "command.sock", SnapshotSource(), Inbox(), command_group="".join(sys.argv[2:])
    ).start()
except SocketRefused as refused:
    print(refused.sentence())
"""


def test_a_socket_that_may_not_be_asked_is_not_removed(data_dir: Path) -> None:
    data_dir.chmod(0o777)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as stranger:
        stranger.bind(str(data_dir / "live.sock"))
        (data_dir / "live.sock").chmod(0o000)
        command = [sys.executable, "-c", FORBIDDEN_CORE, str(data_dir)]
        ran = subprocess.run(command, capture_output=True, text=True, timeout=60)
        assert "live.sock: Permission denied. The core has not started." in ran.stdout, ran
        assert (data_dir / "live.sock").exists()


def test_a_group_the_core_is_no_member_of_stops_the_start(data_dir: Path) -> None:
    data_dir.chmod(0o777)
    own = {os.getegid(), *os.getgroups()} if os.geteuid() != 0 else {65534}
    foreign = next(each.gr_name for each in grp.getgrall() if each.gr_gid not in own)
    command = [sys.executable, "-c", FORBIDDEN_CORE, str(data_dir), foreign]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert f"the core is no member of the group {foreign}. The core has not started." in ran.stdout, ran


KILLED_CORE = """
import sys, time
from pathlib import Path
from scuffwatch.control.endpoint import Endpoint, Inbox, SnapshotSource
folder, inbox = Path(sys.argv[1]), Inbox()
Endpoint(folder / "live.sock", folder / "command.sock", SnapshotSource(), inbox).start()
print("ready", flush=True)
time.sleep(60)
"""


@contextlib.contextmanager
def other_core(folder: Path) -> Iterator[subprocess.Popen[str]]:
    with subprocess.Popen([sys.executable, "-c", KILLED_CORE, folder], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            yield process
        finally:
            process.kill()


def test_the_files_of_a_killed_core_are_taken_over(data_dir: Path) -> None:
    with other_core(data_dir) as killed:
        killed.kill()
        killed.wait()
    assert (data_dir / "command.sock").exists()
    with pytest.raises(CoreNotReached, match="no core answers"):
        send(data_dir / "command.sock", Mark())
    with core(data_dir) as made:
        assert send(made.command, Mark()).ok


def test_a_frozen_core_is_not_taken_for_dead(data_dir: Path) -> None:
    with other_core(data_dir) as frozen:
        os.kill(frozen.pid, signal.SIGSTOP)
        with pytest.raises(SocketRefused) as caught:
            Core(data_dir).endpoint.start()
        assert f"process {frozen.pid}" in caught.value.sentence()
        with pytest.raises(CoreNotReached, match="no answer"):
            send(data_dir / "command.sock", Mark(), timeout_s=0.3)


def test_clients_find_a_core_that_was_started_again(data_dir: Path) -> None:
    with contextlib.ExitStack() as stack:
        with core(data_dir) as made:
            readers = [stack.enter_context(LiveClient(made.live)) for _ in range(5)]
            assert all(reader.latest(20.0) is not None for reader in readers)
            caller = stack.enter_context(made.connect())
            caller.sendall(to_line(Mark()))
            assert lines(caller, 1)[0].ok
        assert hung_up(caller)
        for reader in readers:
            until(lambda reader=reader: reader.latest(0.05) is None and "no core answers" in reader.problem)
        with core(data_dir):
            assert all(reader.latest(20.0) is not None for reader in readers)
            assert [reader.reconnects for reader in readers] == [2] * 5


def test_one_endpoint_starts_and_stops_many_times(data_dir: Path) -> None:
    made = Core(data_dir)
    made.endpoint.start()
    made.endpoint.stop()
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(50):
        made.endpoint.start()
        with made.connect(), made.connect(made.live):
            made.endpoint.stop()
    made.endpoint.stop()
    assert len(os.listdir("/proc/self/fd")) == before
    made.publish()


def test_whoever_waits_at_the_end_is_told(data_dir: Path) -> None:
    with core(data_dir, running=False) as made, made.connect() as caller:
        caller.sendall(to_line(Note("a")))
        until(lambda: len(made.inbox) == 1)
        made.endpoint.stop()
        (reply,) = lines(caller, 1)
        assert reply.says.startswith("The core is stopping; ")
        ticket = made.inbox.take()
        assert ticket is not None
        ticket.answer(Reply(True, "After the end."))


def test_an_error_of_ours_ends_the_thread_where_it_is_seen(data_dir: Path) -> None:
    """A text in place of bytes is the misuse that mypy would catch; here it stands for any error in the thread."""
    made = Core(data_dir)
    made.endpoint.start()
    with made.connect() as caller, made.connect(made.live) as reader:
        until(lambda: made.endpoint.counters.readers == 1)
        made.snapshots.publish("{}")  # type: ignore[arg-type]
        until(lambda: made.endpoint.failed != "")
        assert hung_up(caller)
        assert hung_up(reader)
    assert made.endpoint.failed.startswith("The control thread ended by an error of ours (TypeError: ")
    assert "the guard goes on" in made.endpoint.failed
    assert not made.command.exists()
    made.endpoint.stop()
    assert made.endpoint.failed
