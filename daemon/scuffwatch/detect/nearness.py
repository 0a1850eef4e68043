"""How near each kind of scuffing evidence is to its limit: a picture for people, never part of a decision.

Reads what the scuffing detector knows at the moment, gives values beside limits, named as in its findings. Nothing is
worked out before somebody asks, so a slice costs no more than without it.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from scuffwatch.detect.bursts import Bursts
from scuffwatch.detect.once_per_turn import OncePerTurn
from scuffwatch.detect.other_kinds import Kind, Seen
from scuffwatch.detect.track import Phase, Track
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, PIN_TEMPERATURE, RING_SPEED, SOUND_LEVEL, Quality

_NAMES = {
    Kind.ACOUSTIC: ("sound_change_db", "dB"),
    Kind.VARIABILITY: ("unrest_ratio", ""),
    Kind.THERMAL: ("pin_heating_k_s", "K/s"),
}


class Known(Enum):
    """Whether a value is known, and why not."""

    KNOWN = "known"
    LEARNING = "learning"
    NOT_SLIDING = "not sliding"


@dataclass(frozen=True, slots=True)
class Near:
    """One kind of evidence beside its limit.

    Attributes:
        name: as in the evidence of findings.
        value, limit: in `unit`; `value` is NaN where it is not known.
        unit: printed unit, empty for a ratio or a count.
        share: how far the value is on its way to the limit: 0 where all is as usual, 1 at the limit, NaN where it is
            not known. Ratios to usual count as logarithms, bursts as the evidence they add up to.
        known: whether the value is known; else it is NaN.
    """

    name: str
    value: float
    limit: float
    unit: str
    share: float
    known: Known


@dataclass(frozen=True, slots=True)
class Speaking:
    """What speaks for the contact at the moment.

    Attributes:
        phase: of the contact.
        track: the one that speaks; None where none does yet.
        is_current: whether that is the motor's torque current; else it is friction.
        load_seen: whether a load is or was measured: without, a current says nothing.
        rises: how far it is above usual, and the rise it would be warned at: one pair a way. Natural logarithms.
        settled: whether its level has shown that it stays, so that a rise says something.
    """

    phase: Phase
    track: Track | None
    is_current: bool
    load_seen: bool
    rises: Sequence[tuple[float, float]]
    settled: bool


def nearness(
    s: Slice, contact: Speaking, bursts: Bursts, once_per_turn: OncePerTurn, others: Sequence[Seen]
) -> tuple[Near, ...]:
    """Give how near each kind is to its limit; nothing for a kind that has no channel with values to be believed.

    Args:
        s: the last slice.
        contact: what speaks for it.
        bursts, once_per_turn: of the same variable.
        others: sound, unrest and heating as they are now, NaN where not known.
    """
    return tuple(_each(s, contact, bursts, once_per_turn, others))


def _each(
    s: Slice, contact: Speaking, bursts: Bursts, once_per_turn: OncePerTurn, others: Sequence[Seen]
) -> Iterator[Near]:
    resting = contact.phase is Phase.OFF
    by_current = contact.is_current or (contact.track is None and contact.load_seen and not _speaks(s, FRICTION_FORCE))
    has_contact = contact.track is not None or _speaks(s, MOTOR_CURRENT if by_current else FRICTION_FORCE)
    if has_contact:
        yield _rise("torque_rise_ratio" if by_current else "friction_rise_ratio", contact, resting)
        yield _burst_count(contact, bursts, resting)
        if _speaks(s, RING_SPEED) and not once_per_turn.is_too_fast:
            ratio, limit = once_per_turn.ratio, once_per_turn.limit
            yield _near("once_per_turn_ratio", ratio, limit, "", _of_ratio(ratio, limit), resting)
    fitted = {
        Kind.ACOUSTIC: _speaks(s, SOUND_LEVEL),
        Kind.VARIABILITY: has_contact,
        Kind.THERMAL: _speaks(s, PIN_TEMPERATURE),
    }
    for seen in others:
        if fitted[seen.kind]:
            name, unit = _NAMES[seen.kind]
            share = _of_ratio(seen.value, seen.limit) if seen.kind is Kind.VARIABILITY else seen.value / seen.limit
            yield _near(name, seen.value, seen.limit, unit, share, resting)


def _speaks(s: Slice, name: str) -> bool:
    channel = s.channels.get(name)
    return channel is not None and channel.quality is not Quality.BAD


def _rise(name: str, contact: Speaking, resting: bool) -> Near:
    track = contact.track
    is_known = track is not None and contact.phase is Phase.FOLLOW and contact.settled and not track.is_learning
    rise, limit = max(contact.rises, key=lambda pair: pair[0] / pair[1])
    if not is_known:
        rise, limit = math.nan, contact.rises[0][1]
    return _near(name, math.exp(rise), math.exp(limit), "", rise / limit, resting)


def _burst_count(contact: Speaking, bursts: Bursts, resting: bool) -> Near:
    rate = bursts.rate
    is_known = contact.track is not None and bursts.is_known
    value, share = (float(rate.count), rate.near) if is_known else (math.nan, math.nan)
    return _near("burst_count", value, float(rate.enough_count), "", share, resting)


def _of_ratio(value: float, limit: float) -> float:
    return math.log(value) / math.log(limit) if value > 0.0 else value


def _near(name: str, value: float, limit: float, unit: str, share: float, resting: bool) -> Near:
    if resting or value != value:
        return Near(name, math.nan, limit, unit, math.nan, Known.NOT_SLIDING if resting else Known.LEARNING)
    return Near(name, value, limit, unit, max(0.0, share), Known.KNOWN)
