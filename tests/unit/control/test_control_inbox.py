"""The way from the control thread to the loop: bounded, in order, stop first, nothing done after it was given up."""

import os
import pwd
import threading

from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.control.commands import Command, Mark, Note, StopRequest
from scuffwatch.control.inbox import Inbox, Offer, Peer, Ticket
from scuffwatch.control.messages import Reply

NOBODY = Peer(65534, 65534, 1)


def ticket(command: Command, answers: list[Reply] | None = None) -> Ticket:
    kept = answers if answers is not None else []
    return Ticket(command, NOBODY, 0.0, lambda _, reply: kept.append(reply))


def test_commands_come_in_order_and_no_more_than_the_bound() -> None:
    inbox = Inbox(3)
    offered = [ticket(Note(str(number))) for number in range(4)]
    assert [inbox.offer(each) for each in offered] == [Offer.QUEUED] * 3 + [Offer.FULL]
    assert len(inbox) == 3
    assert [inbox.take() for _ in range(4)] == [*offered[:3], None]


def test_a_stop_request_has_its_own_place_and_comes_first() -> None:
    inbox = Inbox(2)
    notes = [ticket(Note("a")), ticket(Note("b"))]
    for each in notes:
        inbox.offer(each)
    stop = ticket(StopRequest())
    assert inbox.offer(stop) is Offer.QUEUED
    assert inbox.offer(ticket(StopRequest())) is Offer.JOINED
    assert len(inbox) == 3
    assert [inbox.take() for _ in range(4)] == [stop, *notes, None]
    assert inbox.offer(ticket(StopRequest())) is Offer.QUEUED


def test_a_withdrawn_command_is_passed_over_but_a_stop_request_never() -> None:
    inbox = Inbox()
    late, next_one, stop = ticket(Mark()), ticket(Mark()), ticket(StopRequest())
    for each in (late, next_one, stop):
        inbox.offer(each)
    assert late.claim()
    assert stop.claim()
    assert inbox.take() is stop
    assert inbox.take() is next_one
    assert inbox.take() is None
    assert not next_one.claim()


def test_an_answer_goes_where_the_ticket_says() -> None:
    answers: list[Reply] = []
    ticket(Mark(), answers).answer(Reply(True, "Marked."))
    assert answers == [Reply(True, "Marked.")]


def test_only_one_of_two_threads_may_carry_a_command_out() -> None:
    tickets = [ticket(Mark()) for _ in range(20_000)]
    won: dict[str, set[int]] = {"loop": set(), "control": set()}
    gate = threading.Barrier(2)

    def claim_all(name: str) -> None:
        gate.wait()
        for number, each in enumerate(tickets):
            if each.claim():
                won[name].add(number)

    threads = [threading.Thread(target=claim_all, args=(name,)) for name in won]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert not won["loop"] & won["control"]
    assert len(won["loop"]) + len(won["control"]) == len(tickets)


@given(st.lists(st.sampled_from(["note", "stop", "take", "withdraw"]), max_size=60))
def test_no_order_of_steps_loses_a_stop_or_passes_the_bound(steps: list[str]) -> None:
    inbox = Inbox(4)
    waiting: list[Ticket] = []
    stop_waits = False
    for step in steps:
        if step == "stop":
            offer = inbox.offer(ticket(StopRequest()))
            assert offer is (Offer.JOINED if stop_waits else Offer.QUEUED)
            stop_waits = True
        elif step == "note":
            note = ticket(Note("x"))
            if inbox.offer(note) is Offer.QUEUED:
                waiting.append(note)
        elif step == "withdraw" and waiting:
            assert waiting.pop().claim()
        elif step == "take":
            taken = inbox.take()
            if stop_waits:
                assert taken is not None
                assert isinstance(taken.command, StopRequest)
                stop_waits = False
            else:
                assert taken is (waiting.pop(0) if waiting else None)
        assert len(inbox) <= 4 + 1


def test_a_peer_is_named_by_the_user_database_or_by_its_number() -> None:
    # Outside source: the host's own user database.
    assert Peer(os.getuid(), os.getgid(), os.getpid()).user == pwd.getpwuid(os.getuid()).pw_name
    assert Peer(4_000_000_123, 0, 1).user == "uid 4000000123"
    assert Peer(7, 8, 9).says == "uid 7, gid 8, pid 9"
