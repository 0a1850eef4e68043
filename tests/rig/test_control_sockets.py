"""The command socket under load and abuse: real sockets, a stand-in for the loop, one endpoint."""

import contextlib
import logging
import os
import resource
import socket
import threading
import time
from pathlib import Path

import pytest
from control_core import core, hung_up, lines, until

from scuffwatch.control.client import LiveClient, send
from scuffwatch.control.endpoint import EndpointLimits
from scuffwatch.control.messages import (
    LINE_MAX_BYTES,
    Mark,
    Note,
    OpenRun,
    Reply,
    StopRequest,
    to_line,
)
from scuffwatch.model.run import RunKind


def test_a_command_reaches_the_loop_with_its_sender_and_its_reply_comes_back(data_dir: Path) -> None:
    with core(data_dir) as made:
        reply = send(made.command, OpenRun(RunKind.TEST, lubricant="HB-7", loads_n=(80.0, 160.0)), "anna")
        assert reply == Reply(True, "Done: OpenRun.")
        (ticket,) = made.taken
    assert ticket.command == OpenRun(RunKind.TEST, "HB-7", loads_n=(80.0, 160.0), actor="anna")
    assert (ticket.peer.uid, ticket.peer.gid, ticket.peer.pid) == (os.getuid(), os.getgid(), os.getpid())


def test_many_commands_on_one_connection_are_answered_in_order(data_dir: Path) -> None:
    """More lines than may wait at once, some of them wrong, all in one write."""
    with core(data_dir) as made, made.connect() as caller:
        sent = [to_line(Note(f"{number}")) if number % 3 else b'{"v":1,"command":"note"}\n' for number in range(45)]
        caller.sendall(b"".join(sent))
        replies = lines(caller, 45)
        assert [each.ok for each in replies] == [bool(number % 3) for number in range(45)]
        assert [t.command for t in made.taken] == [Note(str(number)) for number in range(45) if number % 3]


def test_more_lines_than_a_second_allows_are_answered_in_the_next(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(allowance_s=0.2)) as made, made.connect() as caller:
        caller.sendall(to_line(Mark()) * 170)
        assert len(lines(caller, 170)) == 170


def test_lines_behind_a_crowd_of_refused_ones_need_no_further_push(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(allowance_s=600.0)) as made, made.connect() as caller:
        caller.sendall(b'{"v":1,"command":"note"}\n' * 40 + to_line(Mark()))
        assert [each.ok for each in lines(caller, 41)] == [False] * 40 + [True]


def test_a_sender_that_must_wait_costs_neither_time_nor_memory(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(allowance_s=600.0)) as made, made.connect() as caller:
        caller.settimeout(0.5)
        poured = 0
        with contextlib.suppress(TimeoutError):
            while poured < 10_000_000:
                poured += caller.send(to_line(Mark()) * 500)
        t_start_s, busy_s = time.monotonic(), time.process_time()
        time.sleep(0.5)
        share = (time.process_time() - busy_s) / (time.monotonic() - t_start_s)
        assert len(made.taken) == 50
        assert poured < 1_000_000, "what the kernel and our buffer hold together"
    assert share < 0.15, "it must wait, not turn round and round"


def test_a_command_cut_into_single_bytes_is_one_command(data_dir: Path) -> None:
    with core(data_dir) as made, made.connect() as caller:
        for byte in to_line(Note("größer als µ\nzweite Zeile"), "anna"):
            caller.sendall(bytes((byte,)))
        assert lines(caller, 1) == [Reply(True, "Done: Note.")]
        assert made.taken[0].command == Note("größer als µ\nzweite Zeile", actor="anna")


def test_half_a_line_is_never_a_command(data_dir: Path) -> None:
    whole = to_line(StopRequest())
    with core(data_dir) as made:
        for end in range(len(whole)):
            with made.connect() as caller:
                caller.sendall(whole[:end])
                caller.shutdown(socket.SHUT_WR)
                assert hung_up(caller)
        assert send(made.command, Mark()).ok
        assert [type(t.command) for t in made.taken] == [Mark]


def test_a_sender_that_shuts_its_side_still_gets_its_answers(data_dir: Path) -> None:
    with core(data_dir, running=False) as made, made.connect() as caller:
        caller.sendall(to_line(Note("a")) + to_line(Note("b")))
        caller.shutdown(socket.SHUT_WR)
        until(lambda: len(made.inbox) == 2)
        made.runs.set()
        assert lines(caller, 2) == [Reply(True, "Done: Note.")] * 2
        assert hung_up(caller)


@pytest.mark.parametrize(
    "garbage",
    [b"hello\n", b"\x00\xff" * 500 + b"\n", b"GET / HTTP/1.1\r\n", b"[" * 60_000 + b"\n", b"{}\n", b"\n"],
)
def test_garbage_gets_one_sentence_and_the_end_of_the_connection(data_dir: Path, garbage: bytes) -> None:
    with core(data_dir) as made, made.connect() as caller:
        caller.sendall(garbage)
        (reply,) = lines(caller, 1)
        assert not reply.ok
        assert reply.says.startswith("Command refused: ")
        assert hung_up(caller)
        assert send(made.command, Mark()).ok


def test_a_line_that_never_ends_is_cut_off_at_the_limit(data_dir: Path) -> None:
    with core(data_dir) as made, made.connect() as caller:
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            for _ in range(64):
                caller.sendall(b"x" * 65_536)
        (reply,) = lines(caller, 1)
        assert f"limit {LINE_MAX_BYTES}" in reply.says
        assert hung_up(caller)
        assert made.taken == []


def test_a_line_of_the_greatest_length_is_served(data_dir: Path) -> None:
    with core(data_dir) as made, made.connect() as caller:
        line = to_line(Note("x"))[:-1]
        caller.sendall(line + b" " * (LINE_MAX_BYTES - len(line) - 1) + b"\n")
        assert lines(caller, 1) == [Reply(True, "Done: Note.")]


def test_a_full_inbox_refuses_with_a_sentence_but_takes_a_stop(data_dir: Path) -> None:
    with core(data_dir, running=False) as made:
        with contextlib.ExitStack() as stack:
            callers = [stack.enter_context(made.connect()) for _ in range(5)]
            for number, caller in enumerate(callers[:4]):
                caller.sendall(b"".join(to_line(Note(f"{number} {each}")) for each in range(8)))
            until(lambda: len(made.inbox) == 32)
            callers[4].sendall(to_line(Note("one too many")))
            (refused,) = lines(callers[4], 1)
            why = "32 commands wait for the core's loop, limit 32"
            assert refused == Reply(False, f"Note refused: {why}. Send it again in a moment.")
            callers[4].sendall(to_line(StopRequest(), "anna") + to_line(StopRequest(), "ben"))
            until(lambda: len(made.inbox) == 33)
            made.slice()
            assert made.taken[0].command == StopRequest(actor="anna")
            assert lines(callers[4], 2) == [Reply(True, "Done: StopRequest.")] * 2
            made.runs.set()
            assert all(each.ok for caller in callers[:4] for each in lines(caller, 8))
        assert len(made.taken) == 33


def test_a_loop_that_does_not_answer_is_answered_for(data_dir: Path) -> None:
    limits = EndpointLimits(answer_s=0.3)
    with core(data_dir, limits, running=False) as made:
        withdrawn = send(made.command, Note("a"))
        assert not withdrawn.ok
        assert "did not take this command within 0.3 s; it has been withdrawn" in withdrawn.says
        assert "the motor permit has lapsed" in withdrawn.says
        made.runs.set()
        assert send(made.command, Note("b")).ok
        assert [t.command for t in made.taken] == [Note("b")]
        assert made.endpoint.counters.commands_unanswered == 1


def test_a_command_that_was_taken_and_not_answered_is_said_to_be_unknown(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(answer_s=0.3), running=False) as made, made.connect() as caller:
        caller.sendall(to_line(Note("a")))
        until(lambda: len(made.inbox) == 1)
        ticket = made.inbox.take()
        assert ticket is not None
        (reply,) = lines(caller, 1)
        assert "took this command but did not answer within 0.3 s" in reply.says
        ticket.answer(Reply(True, "Too late."))
        ticket.answer(Reply(True, "And twice."))
        made.runs.set()
        caller.sendall(to_line(Mark()))
        assert lines(caller, 1) == [Reply(True, "Done: Mark.")]


def test_a_stop_request_outlives_its_answer_and_those_that_join_it_are_answered(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(answer_s=0.3), running=False) as made:
        first = send(made.command, StopRequest(), "anna")
        assert "it is kept and comes first when the loop runs again" in first.says
        assert len(made.inbox) == 1
        with made.connect() as caller:
            caller.sendall(to_line(StopRequest(), "ben"))
            until(lambda: made.endpoint.counters.commands_queued == 2)
            made.runs.set()
            assert lines(caller, 1) == [Reply(True, "Done: StopRequest.")]
        assert [t.command for t in made.taken] == [StopRequest(actor="anna")]


def test_a_flood_from_one_sender_is_served_at_its_rate_and_stops_nobody(data_dir: Path) -> None:
    with core(data_dir) as made, made.connect() as flooder:
        flooder.setblocking(False)
        flood, stopped = to_line(Note("x")) * 500, threading.Event()

        def pour() -> None:
            while not stopped.is_set():
                try:
                    flooder.send(flood)
                except BlockingIOError:
                    time.sleep(0.001)
                except OSError:
                    return

        thread = threading.Thread(target=pour)
        t_start_s = time.monotonic()
        thread.start()
        until(lambda: len(made.taken) > 40)
        for _ in range(5):
            assert send(made.command, StopRequest()).ok
        seconds = time.monotonic() - t_start_s
        of_flood = sum(isinstance(t.command, Note) for t in made.taken)
        stopped.set()
        thread.join()
        assert of_flood <= 50 * (seconds + 2)


def test_a_flood_of_garbage_leaves_a_few_lines_in_the_log(data_dir: Path, caplog: pytest.LogCaptureFixture) -> None:
    with core(data_dir) as made:
        for _ in range(40):
            with made.connect() as caller:
                caller.sendall(b"hello\n")
                assert len(lines(caller, 1)) == 1
        assert made.endpoint.counters.commands_refused == 40
    written = [each for each in caplog.messages if each.startswith("command line from ")]
    assert len(written) == 10
    assert f"uid {os.getuid()}, gid {os.getgid()}, pid {os.getpid()}: Command refused" in written[0]


def test_every_command_is_in_the_log_with_its_sender_on_one_line(
    data_dir: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    with core(data_dir) as made:
        assert send(made.command, Note("all well\nnote by root: permitted"), "anna\\nben").ok
        (written,) = [each for each in caplog.messages if each.startswith("note by ")]
    who = f"uid {os.getuid()}, gid {os.getgid()}, pid {os.getpid()}"
    assert written == f'note by "anna\\\\nben" ({who}) done: Done: Note.'


def test_callers_that_leave_answers_and_snapshots_unread_are_let_go(data_dir: Path) -> None:
    with core(data_dir) as made:
        with made.connect() as caller, made.connect(made.live):
            caller.sendall(to_line(Mark()))
            until(lambda: bool(made.taken) and made.endpoint.counters.snapshots_sent > 2)
            caller.sendall(to_line(Mark()))
        until(lambda: made.endpoint.counters.senders == made.endpoint.counters.readers == 0)
        assert send(made.command, Mark()).ok


def test_silent_senders_are_closed_also_when_they_dribble(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(idle_s=0.5)) as made, made.connect() as silent, made.connect() as dribbler:
        until(lambda: made.endpoint.counters.senders == 2)
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            while made.endpoint.counters.senders:
                dribbler.sendall(b"x")
                time.sleep(0.02)
        assert hung_up(silent)
        until(lambda: made.endpoint.counters.senders_idle == 2)


def test_forty_senders_get_an_answer_or_a_sentence_each(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(evict_s=600.0)) as made, contextlib.ExitStack() as stack:
        callers = [stack.enter_context(made.connect()) for _ in range(40)]
        replies = []
        for caller in callers:
            with contextlib.suppress(BrokenPipeError):
                caller.sendall(to_line(Mark()))
            replies += lines(caller, 1)
        assert [each.ok for each in replies] == [True] * 32 + [False] * 8
        assert {each.says for each in replies[32:]} == {"32 senders of commands, limit 32."}
        assert made.endpoint.counters.clients_refused == 8
        callers[0].close()
        until(lambda: made.endpoint.counters.senders == 31)
        assert send(made.command, Mark()).ok


def test_sleepers_in_every_place_do_not_shut_a_stop_request_out(data_dir: Path) -> None:
    with core(data_dir, EndpointLimits(evict_s=0.1)) as made, contextlib.ExitStack() as stack:
        sleepers = [stack.enter_context(made.connect()) for _ in range(32)]
        until(lambda: made.endpoint.counters.senders == 32)
        deadline_s = time.monotonic() + 20.0
        reply = send(made.command, StopRequest())
        while not reply.ok and time.monotonic() < deadline_s:
            reply = send(made.command, StopRequest())
        assert reply == Reply(True, "Done: StopRequest.")
        assert hung_up(sleepers[0])


def test_forty_readers_are_served_or_told_why_not(data_dir: Path) -> None:
    with core(data_dir) as made, contextlib.ExitStack() as stack:
        readers = []
        for _ in range(40):
            reader = stack.enter_context(LiveClient(made.live))
            reader.latest(0.0)
            readers.append(reader)
        assert all(reader.latest(20.0) is not None for reader in readers[:32])
        for reader in readers[32:]:
            until(lambda reader=reader: reader.latest(0.01) is None and "limit 32" in reader.problem)
        assert made.endpoint.counters.readers == 32
        readers[3].close()
        assert readers[35].latest(20.0) is not None


def test_callers_that_come_and_go_leave_no_descriptor_behind(data_dir: Path) -> None:
    with core(data_dir) as made:
        send(made.command, Mark())
        until(lambda: made.endpoint.counters.senders == 0)
        before = len(os.listdir("/proc/self/fd"))
        for _ in range(150):
            made.connect().close()
            made.connect(made.live).close()
        until(lambda: made.endpoint.counters.senders == made.endpoint.counters.readers == 0)
        assert send(made.command, Mark()).ok
        until(lambda: made.endpoint.counters.senders == 0)
        assert len(os.listdir("/proc/self/fd")) == before


def test_no_descriptor_left_to_accept_with_is_no_end(data_dir: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    with core(data_dir) as made:
        callers = [socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) for _ in range(3)]
        used = max(int(name) for name in os.listdir("/proc/self/fd")) + 1
        spare = [os.open("/dev/null", os.O_RDONLY) for _ in range(used + 1 - len(os.listdir("/proc/self/fd")))]
        try:
            resource.setrlimit(resource.RLIMIT_NOFILE, (max(spare) + 1 if spare else used, hard))
            for caller in callers:
                caller.connect(str(made.command))
            t_start_s, busy_s = time.monotonic(), time.process_time()
            time.sleep(0.5)
            share = (time.process_time() - busy_s) / (time.monotonic() - t_start_s)
            assert made.endpoint.counters.senders < 3
        finally:
            resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
            for each in spare:
                os.close(each)
        until(lambda: made.endpoint.counters.senders == 3)
        for caller in callers:
            caller.close()
        assert send(made.command, Mark()).ok
    assert share < 0.15, "it must wait, not turn round and round"
