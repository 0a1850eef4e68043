"""Bounds of the two sockets, and what has been counted at them.

Reads nothing.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class EndpointLimits:
    """Bounds; the values are proposals, not measurements.

    Attributes:
        clients: connections at each socket.
        answer_s: how long a command waits for the loop, s.
        idle_s: a sender that has said and been told nothing for this long is closed, s.
        evict_s: idle for this long, a sender makes room for a new one when all places are taken, s.
        hung_s: a reader that has taken nothing of what waits for it for this long is closed, s.
        allowance_s: how often senders and callers get a new allowance, and silent ones are looked for, s.
    """

    clients: int = 32
    answer_s: float = 2.0
    idle_s: float = 30.0
    evict_s: float = 1.0
    hung_s: float = 30.0
    allowance_s: float = 1.0


@dataclass(slots=True)
class Counters:
    """What has been counted since the endpoint started; `readers` and `senders` are the present numbers.

    Attributes:
        readers, senders: connected now.
        snapshots_sent, snapshots_dropped: over all readers; dropped ones were replaced by newer ones.
        snapshots_too_long: not sent to anybody.
        readers_hung: closed because they took nothing.
        clients_refused: turned away because all places were taken.
        commands_queued, commands_refused, commands_unanswered: lines by what became of them.
        senders_idle: closed because they were silent.
    """

    readers: int = 0
    senders: int = 0
    snapshots_sent: int = 0
    snapshots_dropped: int = 0
    snapshots_too_long: int = 0
    readers_hung: int = 0
    clients_refused: int = 0
    commands_queued: int = 0
    commands_refused: int = 0
    commands_unanswered: int = 0
    senders_idle: int = 0
