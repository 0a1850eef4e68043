"""Senders of commands: every line gets one answer, from the loop or about the loop.

Reads lines from connected senders, offers tickets to the inbox, sends the replies. Driven by `endpoint` in the control
thread. A command that the loop has not taken in time is withdrawn, so that it is never carried out hours later; a stop
request is the exception and is kept.
"""

import logging
import selectors
import socket
import time
from collections import deque

from scuffwatch.control.commands import StopRequest, kind_of
from scuffwatch.control.connections import LINES_PER_ALLOWANCE, CommandSender, Settled
from scuffwatch.control.counters import Counters, EndpointLimits
from scuffwatch.control.door import Door, turn_away
from scuffwatch.control.inbox import Inbox, Offer, Ticket
from scuffwatch.control.messages import Refusal, Reply, from_line, in_one_line
from scuffwatch.control.refusal_log import RefusalLog
from scuffwatch.control.sockets import Claim, peer_of
from scuffwatch.control.waker import Waker

_log = logging.getLogger(__name__)

_LAPSED = "A loop that stands still renews no lease, so the motor permit has lapsed."


class CommandDesk:
    """Serves `command.sock`.

    Args:
        selector: of the control thread.
        claim: listening socket and its file.
        inbox: where tickets go.
        waker: rung when the loop has answered.
        limits: see `EndpointLimits`.
        counters: counted into.
    """

    def __init__(
        self,
        selector: selectors.BaseSelector,
        claim: Claim,
        inbox: Inbox,
        waker: Waker,
        limits: EndpointLimits,
        counters: Counters,
    ) -> None:
        self._selector, self._inbox, self._waker = selector, inbox, waker
        self._limits, self._counters = limits, counters
        self._senders: set[CommandSender] = set()
        self._open: dict[Ticket, CommandSender] = {}
        self._joined: set[Ticket] = set()
        self._answers: deque[tuple[Ticket, Reply]] = deque()
        self._refusals = RefusalLog(_log, time.monotonic())
        self._door = Door(selector, claim, self._greet)

    @property
    def t_next_s(self) -> float:
        """Give when this desk must be called again, host monotonic clock, s; infinite where nothing waits."""
        oldest = next(iter(self._open), None)
        return oldest.t_mono_s + self._limits.answer_s if oldest else float("inf")

    def turn(self, now_s: float) -> None:
        """Send the loop's answers, and answer for the loop where it did not."""
        while self._answers:
            ticket, reply = self._answers.popleft()
            self._settle(ticket, reply)
            if isinstance(ticket.command, StopRequest):
                for joined in tuple(self._joined):
                    self._settle(joined, reply)
        while self.t_next_s <= now_s:
            self._give_up(next(iter(self._open)))

    def sweep(self, now_s: float) -> None:
        """Let go of silent senders, let every sender ask again, let new ones in."""
        for sender in tuple(self._senders):
            if not sender.waiting and now_s - sender.t_last_s > self._limits.idle_s:
                self._counters.senders_idle += 1
                self._drop(sender)
                continue
            sender.lines_left = LINES_PER_ALLOWANCE
            self._serve(sender)
        self._refusals.sweep(now_s)
        self._door.refill()

    def close(self) -> None:
        """Tell everybody who waits that the core stops, and close everything."""
        stopping = Reply(False, "The core is stopping; whether this command was carried out is not known.")
        for ticket in tuple(self._open):
            self._settle(ticket, stopping)
        for sender in tuple(self._senders):
            self._drop(sender)
        self._door.close()

    def _deliver(self, ticket: Ticket, reply: Reply) -> None:
        """Take an answer, in the loop's thread."""
        self._answers.append((ticket, reply))
        self._waker.wake()

    def _greet(self, connection: socket.socket) -> None:
        now_s = time.monotonic()
        if len(self._senders) >= self._limits.clients and not self._evict(now_s):
            self._counters.clients_refused += 1
            turn_away(connection, f"{len(self._senders)} senders of commands, limit {self._limits.clients}.")
            return
        sender = CommandSender(connection, peer_of(connection), now_s)
        self._selector.register(connection, selectors.EVENT_READ, lambda mask: self._ready(sender, mask))
        self._senders.add(sender)
        self._counters.senders = len(self._senders)

    def _evict(self, now_s: float) -> bool:
        """Close the sender that has been idle longest, so that sleepers never shut a stop request out."""
        idle = [sender for sender in self._senders if not sender.waiting]
        longest = min(idle, key=lambda sender: sender.t_last_s, default=None)
        if longest is None or now_s - longest.t_last_s < self._limits.evict_s:
            return False
        self._counters.senders_idle += 1
        self._drop(longest)
        return True

    def _ready(self, sender: CommandSender, mask: int) -> None:
        if sender not in self._senders:
            return
        if mask & selectors.EVENT_READ and sender.may_read:
            try:
                sender.receive()
            except OSError:
                self._drop(sender)
                return
        self._serve(sender)

    def _serve(self, sender: CommandSender) -> None:
        """Do all that can be done for a sender now, and wait for what it needs next."""
        if sender not in self._senders:
            return
        served = True
        while served:  # answers that leave make room for lines that wait
            sender.pump()
            served = False
            for line in sender.lines():
                self._line(sender, line)
                served = True
        try:
            sender.flush()
        except OSError:
            self._drop(sender)
            return
        if sender.done:
            self._drop(sender)
        else:
            self._watch(sender)

    def _line(self, sender: CommandSender, line: bytes) -> None:
        sender.t_last_s = time.monotonic()
        command = from_line(line)
        if isinstance(command, Refusal):
            sender.closing = command.malformed
            self._refuse(sender, command.says)
            return
        ticket = Ticket(command, sender.peer, sender.t_last_s, self._deliver)
        offer = self._inbox.offer(ticket)
        if offer is Offer.FULL:
            why = f"{self._inbox.most} commands wait for the core's loop, limit {self._inbox.most}"
            self._refuse(sender, f"{kind_of(command).title} refused: {why}. Send it again in a moment.")
            return
        self._counters.commands_queued += 1
        sender.waiting.append(ticket)
        self._open[ticket] = sender
        if offer is Offer.JOINED:
            self._joined.add(ticket)

    def _refuse(self, sender: CommandSender, says: str) -> None:
        self._counters.commands_refused += 1
        sender.waiting.append(Settled(Reply(False, says)))
        self._refusals.refused(sender.peer, says)

    def _settle(self, ticket: Ticket, reply: Reply) -> None:
        """Answer a ticket, once."""
        sender = self._open.pop(ticket, None)
        if sender is None:
            return
        self._joined.discard(ticket)
        ticket.reply = reply
        sender.t_last_s = time.monotonic()
        name, actor = kind_of(ticket.command).name, in_one_line(ticket.command.actor)
        done = "done" if reply.ok else "not done"
        _log.info('%s by "%s" (%s) %s: %s', name, actor, ticket.peer.says, done, in_one_line(reply.says))
        self._serve(sender)

    def _give_up(self, ticket: Ticket) -> None:
        """Say that the loop did not answer, and what that means."""
        self._counters.commands_unanswered += 1
        within = f"within {self._limits.answer_s:g} s"
        if isinstance(ticket.command, StopRequest):
            says = (
                f"The core's loop did not answer the stop request {within}; it is kept and comes first when the loop "
                f"runs again. {_LAPSED} If the ring turns, use the emergency stop at the rig."
            )
        elif ticket.claim():
            says = (
                f"The core's loop did not take this command {within}; it has been withdrawn and will not be carried "
                f"out. {_LAPSED} Look at the rig."
            )
        else:
            says = (
                f"The core's loop took this command but did not answer {within}; whether it was carried out is not "
                f"known. {_LAPSED} Look at the rig, and at the record before you send it again."
            )
        self._settle(ticket, Reply(False, says, {"answered": False}))

    def _watch(self, sender: CommandSender) -> None:
        wanted = (selectors.EVENT_READ if sender.may_read else 0) | (selectors.EVENT_WRITE if sender.unsent else 0)
        known = self._selector.get_map().get(sender.connection)
        if not wanted and known is not None:
            self._selector.unregister(sender.connection)
        elif wanted and known is None:
            self._selector.register(sender.connection, wanted, lambda mask: self._ready(sender, mask))
        elif wanted and known is not None and known.events != wanted:
            self._selector.modify(sender.connection, wanted, known.data)

    def _drop(self, sender: CommandSender) -> None:
        if sender not in self._senders:
            return
        self._senders.discard(sender)
        if sender.connection in self._selector.get_map():
            self._selector.unregister(sender.connection)
        sender.connection.close()
        self._counters.senders = len(self._senders)
