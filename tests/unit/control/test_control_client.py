"""The client against servers of every manner: silent, rude, of another version, gone and back."""

import contextlib
import json
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from scuffwatch.control.client import CoreNotReached, LiveClient, Reach, send
from scuffwatch.control.live_client import BACKOFF_MAX_S
from scuffwatch.control.messages import Mark, Note, Reply, StopRequest, reply_to_line
from scuffwatch.control.snapshot import SNAPSHOT_MAX_BYTES, encode
from scuffwatch.model.errors import CommandRefused

Manner = Callable[[socket.socket], None]


@contextmanager
def server(path: Path, manner: Manner, calls: int = 1) -> Iterator[None]:
    """Serve `calls` connections, one after another, each in the given manner."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen(4)

        def serve() -> None:
            for _ in range(calls):
                connection, _ = listener.accept()
                with connection:
                    manner(connection)

        thread = threading.Thread(target=serve)
        thread.start()
        yield
        thread.join(10.0)
    path.unlink()


def snapshot(seq: int, t_mono_s: float | None = None) -> bytes:
    return encode({"v": 1, "seq": seq}, time.monotonic() if t_mono_s is None else t_mono_s) + b"\n"


def says(*lines: bytes) -> Manner:
    def manner(connection: socket.socket) -> None:
        for line in lines:
            connection.sendall(line)
        connection.shutdown(socket.SHUT_WR)
        connection.recv(1)

    return manner


def replies(*pieces: bytes) -> Manner:
    def manner(connection: socket.socket) -> None:
        connection.recv(70_000)
        for piece in pieces:
            connection.sendall(piece)

    return manner


def not_reached(path: Path, timeout_s: float = 2.0) -> CoreNotReached:
    with pytest.raises(CoreNotReached) as caught:
        send(path, Mark(), "anna", timeout_s)
    assert caught.value.sentence().startswith(f"Core at {path}: ")
    return caught.value


def test_a_reply_in_pieces_is_one_reply(data_dir: Path) -> None:
    line = reply_to_line(Reply(True, "Marked.", {"stage": 3}))
    with server(data_dir / "c", replies(line[:5], line[5:20], line[20:])):
        assert send(data_dir / "c", Mark(), "anna") == Reply(True, "Marked.", {"stage": 3})


def test_what_breaks_a_limit_is_not_sent(data_dir: Path) -> None:
    with pytest.raises(CommandRefused):
        send(data_dir / "nobody-listens-here", Note("x" * 2001))


def test_no_socket_and_a_dead_socket_are_no_core(data_dir: Path) -> None:
    assert not_reached(data_dir / "none").reason is Reach.NO_CORE
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as dead:
        dead.bind(str(data_dir / "dead"))
    assert not_reached(data_dir / "dead").reason is Reach.NO_CORE
    (data_dir / "file").write_text("no socket")
    assert not_reached(data_dir / "file").reason is Reach.NO_CORE
    assert not_reached(data_dir / ("x" * 120)).reason is Reach.NO_CORE
    assert "Nothing has been sent." in not_reached(data_dir / "none").sentence()


def test_a_core_that_keeps_silent_is_no_answer(data_dir: Path) -> None:
    def listen_only(connection: socket.socket) -> None:
        while connection.recv(100):
            continue

    with server(data_dir / "c", listen_only):
        silent = not_reached(data_dir / "c", 0.2)
    assert silent.reason is Reach.NO_ANSWER
    assert "no answer within 0.2 s" in silent.sentence()
    assert "the motor permit has lapsed" in silent.sentence()


def test_a_core_that_takes_no_connection_is_no_answer_and_nothing_was_sent(data_dir: Path) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(data_dir / "c"))
        listener.listen(0)
        waiting = []
        while True:  # fill the queue of a listener that never accepts
            caller = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            waiting.append(caller)
            caller.setblocking(False)
            try:
                caller.connect(str(data_dir / "c"))
            except BlockingIOError:
                break
        full = not_reached(data_dir / "c", 0.2)
        with LiveClient(data_dir / "c") as live:
            assert live.latest(0.05) is None
            assert "takes no connection" in live.problem
        for caller in waiting:
            caller.close()
    assert full.reason is Reach.NO_ANSWER
    assert "Nothing has been sent." in full.sentence()


@pytest.mark.parametrize(
    "pieces",
    [(), (b'{"v":1,"ok":tr',), (b"hello\n",), (b'{"v":9,"ok":true,"says":"x"}\n',), (b"x" * 80_000,)],
)
def test_a_core_that_hangs_up_or_babbles_leaves_it_unknown(data_dir: Path, pieces: tuple[bytes, ...]) -> None:
    with server(data_dir / "c", replies(*pieces)):
        cut = not_reached(data_dir / "c")
    assert cut.reason is Reach.CUT_OFF
    assert "is not known" in cut.sentence()


def test_a_caller_that_is_turned_away_hears_why(data_dir: Path) -> None:
    def turn_away(connection: socket.socket) -> None:
        connection.sendall(reply_to_line(Reply(False, "32 senders of commands, limit 32.")))

    with server(data_dir / "c", turn_away, calls=20):
        for _ in range(20):  # the line may meet a socket that is closed already, or not: both must do
            assert send(data_dir / "c", Note("x" * 2000)) == Reply(False, "32 senders of commands, limit 32.")


def _as_nobody(code: str) -> subprocess.CompletedProcess[str]:
    """Run code as a user without rights, where this process is root, whom no file mode binds."""
    drop = "import os\nif os.geteuid() == 0: os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
    imports = "from pathlib import Path\nfrom scuffwatch.control.client import *\n"
    return subprocess.run([sys.executable, "-c", imports + drop + code], capture_output=True, text=True, timeout=60)


def test_a_user_outside_the_group_is_told_so(data_dir: Path) -> None:
    path = data_dir / "c"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen(1)
        data_dir.chmod(0o755)
        path.chmod(0o000)
        code = f"try: send(Path({str(path)!r}), Mark())\nexcept CoreNotReached as e: print(e.reason.name, e.sentence())"
        ran = _as_nobody(code)
        live = _as_nobody(f"c = LiveClient(Path({str(path)!r})); print(c.latest(0.05), c.problem)")
    assert ran.stdout.startswith("NO_PERMISSION "), ran
    assert "operators' group" in ran.stdout
    assert live.stdout.startswith("None "), live
    assert "may not use the socket" in live.stdout


def test_the_client_starts_without_numpy_pydantic_and_threads() -> None:
    code = (
        "import sys; before = set(sys.modules); import scuffwatch.control.client; "
        "print(*sorted(m for m in set(sys.modules) - before if '.' not in m))"
    )
    ran = subprocess.run([sys.executable, "-I", "-c", code], capture_output=True, text=True, check=True, timeout=60)
    loaded = set(ran.stdout.split())
    assert "scuffwatch" in loaded
    assert not loaded & {
        "numpy",
        "pydantic",
        "flask",
        "serial",
        "sqlite3",
        "asyncio",
        "threading",
        "logging",
        "difflib",
    }
    assert {name for name in loaded if name not in sys.stdlib_module_names} == {"scuffwatch"}


def test_the_newest_of_many_is_given_once(data_dir: Path) -> None:
    with server(data_dir / "l", says(*(snapshot(seq) for seq in range(50)))), LiveClient(data_dir / "l") as live:
        got = []
        while not got or got[-1][0]["seq"] < 49:
            received = live.latest(2.0)
            assert received is not None
            got.append(received)
        assert [each[0]["seq"] for each in got] == sorted({each[0]["seq"] for each in got})
        assert live.latest(0.0) is None


def test_a_snapshot_in_pieces_is_whole_before_it_is_given(data_dir: Path) -> None:
    line = snapshot(7)
    go_on = threading.Event()

    def slowly(connection: socket.socket) -> None:
        connection.sendall(line[:-9])
        go_on.wait(10.0)
        connection.sendall(line[-9:])
        connection.recv(1)

    with server(data_dir / "l", slowly), LiveClient(data_dir / "l") as live:
        assert live.latest(0.05) is None
        assert "no snapshot has come yet" in live.problem
        go_on.set()
        received = live.latest(2.0)
        assert received is not None
        assert received[0]["seq"] == 7
        assert live.problem == ""


def test_an_old_snapshot_bears_its_own_time_and_a_foreign_clock_is_not_believed(data_dir: Path) -> None:
    old_s = time.monotonic() - 60.0
    for stamp_s, low_s, high_s in ((old_s, old_s, old_s), (old_s + 1e6, old_s + 60.0, float("inf"))):
        with server(data_dir / "l", says(snapshot(1, stamp_s))), LiveClient(data_dir / "l") as live:
            received = live.latest(2.0)
            assert received is not None
            assert low_s <= received[1] <= min(high_s, time.monotonic())


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (b"hello\n", "a line that is no snapshot of version 1"),
        (b"[" * 50_000 + b"\n", "a line that is no snapshot of version 1"),
        (b"[]\n", "a line that is no snapshot of version 1"),
        (json.dumps({"v": 2, "seq": 1}).encode() + b"\n", "a line that is no snapshot of version 1"),
        (reply_to_line(Reply(False, "32 readers of live values, limit 32.")), "32 readers of live values, limit 32."),
    ],
)
def test_a_line_that_is_no_snapshot_is_counted_and_said(data_dir: Path, line: bytes, problem: str) -> None:
    with server(data_dir / "l", says(line)), LiveClient(data_dir / "l") as live:
        while live.refused_lines == 0:
            assert live.latest(0.05) is None
        assert problem in live.problem


@pytest.mark.slow
def test_a_line_without_end_is_not_kept_for_ever(data_dir: Path) -> None:
    sent: list[int] = []

    def babble(connection: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while sum(sent) < 50 * SNAPSHOT_MAX_BYTES:
                sent.append(connection.send(b"x" * 65_536))

    with server(data_dir / "l", babble), LiveClient(data_dir / "l") as live:
        assert live.latest(0.5) is None
    assert sum(sent) < 4 * SNAPSHOT_MAX_BYTES


def test_it_connects_again_by_itself_and_asks_less_often(data_dir: Path) -> None:
    path = data_dir / "l"
    with LiveClient(path) as live:
        assert live.latest(0.01) is None
        assert "no core answers" in live.problem
        for seq in (1, 2):
            with server(path, says(snapshot(seq))):
                received = live.latest(5.0)
                assert received is not None
                assert received[0]["seq"] == seq
                assert live.latest(0.02) is None
        assert live.reconnects == 2


@pytest.mark.slow
def test_the_wait_between_two_tries_grows_to_its_cap(data_dir: Path) -> None:
    """2 s of waiting with doubling waits from 0.1 s leaves room for 5 tries, not for thousands."""
    path = data_dir / "l"
    tries = 0
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    listener.bind(str(path))
    listener.listen(64)
    with LiveClient(path) as live:
        stopped = threading.Event()

        def hang_up() -> None:
            nonlocal tries
            while not stopped.is_set():
                connection, _ = listener.accept()
                tries += 1
                connection.close()

        thread = threading.Thread(target=hang_up)
        thread.start()
        assert live.latest(2.0) is None
        asked = live.reconnects
        stopped.set()
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as last:
            last.connect(str(path))
        thread.join(10.0)
        listener.close()
    assert 2 <= asked <= 6
    assert BACKOFF_MAX_S == 2.0


def test_following_tells_silence_from_news(data_dir: Path) -> None:
    with server(data_dir / "l", says(snapshot(1))), LiveClient(data_dir / "l") as live:
        following = live.follow(0.05)
        first = next(following)
        assert first is not None
        assert first[0]["seq"] == 1
        assert next(following) is None
        assert next(following) is None


def test_a_stop_request_needs_no_proper_name(data_dir: Path) -> None:
    got: list[bytes] = []

    def keep(connection: socket.socket) -> None:
        got.append(connection.recv(1000))
        connection.sendall(reply_to_line(Reply(True, "Stopped.")))

    with server(data_dir / "c", keep):
        assert send(data_dir / "c", StopRequest(), "n" * 500).ok
    assert json.loads(got[0]) == {"v": 1, "command": "stop_request", "actor": ""}
