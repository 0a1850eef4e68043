"""Buffers of one reader and one sender on a socket pair: nothing grows past its bound, no line is torn."""

import socket
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.control.commands import Mark
from scuffwatch.control.connections import (
    LINES_PER_ALLOWANCE,
    OUT_MAX_BYTES,
    READ_BYTES,
    WAITING_MAX,
    CommandSender,
    LiveReader,
    Settled,
)
from scuffwatch.control.inbox import Peer, Ticket
from scuffwatch.control.messages import LINE_MAX_BYTES, Reply

PEER = Peer(0, 0, 1)
Pair = tuple[socket.socket, socket.socket]


@pytest.fixture
def pair() -> Iterator[Pair]:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_STREAM)
    with ours, theirs:
        ours.setblocking(False)
        theirs.setblocking(False)
        yield ours, theirs


def read_all(end: socket.socket) -> bytes:
    came = b""
    try:
        while more := end.recv(65_536):
            came += more
    except BlockingIOError:
        return came
    return came


def test_a_reader_gets_whole_lines_and_every_loss_is_counted(pair: Pair) -> None:
    ours, theirs = pair
    reader = LiveReader(ours, 0.0)
    came, completed, dropped = b"", 0, 0
    for number in range(500):
        dropped += reader.offer(b"%d " % number + b"x" * (number * 97 % 30_000) + b"\n")
        completed += reader.flush(float(number))
        if number % 37 == 36:
            came += read_all(theirs)
    while reader.behind:
        completed += reader.flush(500.0)
        came += read_all(theirs)
    came += read_all(theirs)
    numbers = [int(line.split()[0]) for line in came.splitlines()]
    assert [len(line) for line in came.splitlines()] == [len(str(n)) + 1 + n * 97 % 30_000 for n in numbers]
    assert numbers == sorted(set(numbers))
    assert len(numbers) == completed
    assert completed + dropped == 500
    assert dropped > 100
    assert numbers[-1] == 499, "the newest is never the one that is lost"


def test_a_snapshot_not_yet_begun_makes_room_for_every_newer_one(pair: Pair) -> None:
    """Short lines fill the socket between two lines, so that the one that waits is whole."""
    ours, theirs = pair
    reader = LiveReader(ours, 0.0)
    number = 0
    while not reader.behind:
        number += 1
        reader.offer(b"%d\n" % number)
        reader.flush(0.0)
    for newer in range(number + 1, number + 6):
        assert reader.offer(b"%d\n" % newer) == 1
        assert reader.flush(0.0) == 0
    came = read_all(theirs)
    assert reader.flush(1.0) == 1
    came += read_all(theirs)
    assert [int(line) for line in came.splitlines()] == [*range(1, number), number + 5]


def test_a_reader_that_takes_nothing_shows_no_progress(pair: Pair) -> None:
    reader = LiveReader(pair[0], 0.0)
    for second in range(100):
        reader.offer(b"x" * 20_000 + b"\n")
        reader.flush(float(second))
    assert reader.behind
    assert reader.t_progress_s < 20.0


def test_replies_left_unread_have_a_bound(pair: Pair) -> None:
    sender = CommandSender(pair[0], PEER, 0.0)
    owe(sender, replies=4)  # what the kernel takes and what we may keep, together
    with pytest.raises(ConnectionAbortedError, match=f"limit {OUT_MAX_BYTES}"):
        owe(sender, replies=8)


def owe(sender: CommandSender, replies: int) -> None:
    for _ in range(replies):
        sender.waiting.append(Settled(Reply(True, "x" * 60_000)))
        sender.pump()
        sender.flush()


def test_answers_wait_for_those_before_them(pair: Pair) -> None:
    ours, theirs = pair
    sender = CommandSender(ours, PEER, 0.0)
    first = Ticket(Mark(), PEER, 0.0, lambda ticket, reply: None)
    sender.waiting.extend((first, Settled(Reply(False, "second"))))
    sender.pump()
    sender.flush()
    assert read_all(theirs) == b""
    first.reply = Reply(True, "first")
    sender.pump()
    sender.flush()
    assert [b"first" in line for line in read_all(theirs).splitlines()] == [True, False]


def test_no_more_lines_are_given_than_may_be_served(pair: Pair) -> None:
    ours, theirs = pair
    sender = CommandSender(ours, PEER, 0.0)
    theirs.sendall(b"x\n" * 200)
    sender.receive()
    given_now = 0
    for _ in sender.lines():
        given_now += 1
        sender.waiting.append(Ticket(Mark(), PEER, 0.0, lambda ticket, reply: None))
    assert given_now == WAITING_MAX
    assert not sender.may_read
    sender.waiting.clear()
    assert len(list(sender.lines())) == LINES_PER_ALLOWANCE - WAITING_MAX
    assert not sender.may_read
    sender.lines_left = 1_000
    assert len(list(sender.lines())) == 200 - LINES_PER_ALLOWANCE


def test_lines_that_nobody_takes_stay_in_the_socket(pair: Pair) -> None:
    ours, theirs = pair
    sender = CommandSender(ours, PEER, 0.0)
    taken = 0
    while sender.may_read:
        taken += theirs.send(b"x\n" * 4_096)
        sender.receive()
    assert LINE_MAX_BYTES < taken <= LINE_MAX_BYTES + READ_BYTES


def test_lines_that_wait_are_served_though_the_sender_has_gone(pair: Pair) -> None:
    ours, theirs = pair
    sender = CommandSender(ours, PEER, 0.0)
    theirs.sendall(b"a\n" * (LINES_PER_ALLOWANCE + 1) + b"half")
    theirs.shutdown(socket.SHUT_WR)
    sender.receive()
    sender.receive()
    assert sender.ended
    assert len(list(sender.lines())) == LINES_PER_ALLOWANCE
    assert not sender.done
    sender.lines_left = 1
    assert list(sender.lines()) == [b"a\n"]
    assert sender.done


@given(
    st.lists(st.binary(max_size=40).map(lambda line: line.replace(b"\n", b"")), max_size=30),
    st.lists(st.integers(1, 50), max_size=60),
)
def test_any_split_of_the_bytes_gives_the_same_lines(texts: list[bytes], cuts: list[int]) -> None:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_STREAM)
    with ours, theirs:
        ours.setblocking(False)
        sender = CommandSender(ours, PEER, 0.0)
        sent, got = b"".join(text + b"\n" for text in texts), []
        for size in [*cuts, len(sent) + 1]:
            theirs.sendall(sent[:size])
            sent = sent[size:]
            sender.receive()
            got += list(sender.lines())
        assert got == [text + b"\n" for text in texts]


def test_a_line_without_end_is_given_at_the_limit_and_kept_no_longer(pair: Pair) -> None:
    ours, theirs = pair
    sender = CommandSender(ours, PEER, 0.0)
    got: list[bytes] = []
    for _ in range(8):
        theirs.sendall(b"x" * 16_384)
        sender.receive()
        got += list(sender.lines())
    assert len(got[0]) == LINE_MAX_BYTES + 1
    assert len(got) == 1
