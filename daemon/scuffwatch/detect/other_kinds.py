"""Evidence beside the mechanical kind: sound, unrest and heating, each against what is usual for it.

Reads slices and the track that speaks for the contact, gives which kinds have been seen in the last seconds, with the
value each was seen at and the limit it had then.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from scuffwatch.detect.level_rise import HeatRise, SoundRise
from scuffwatch.detect.track import Phase, Track
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import PIN_TEMPERATURE, SOUND_LEVEL, Quality

_OFF, _HOLD, _GOOD = Phase.OFF, Phase.HOLD, Quality.GOOD
"""By names of their own: to look one up in its class every slice takes longer than the comparison."""


class Kind(Enum):
    """Kinds of evidence that may stand beside the mechanical one."""

    ACOUSTIC = "acoustic"
    VARIABILITY = "variability"
    THERMAL = "thermal"


@dataclass(frozen=True, slots=True)
class OtherParams:
    """When a kind has been seen.

    Attributes:
        sound_db, sound_sigmas: the acoustic kind, dB and multiples of the usual spread.
        unrest, unrest_least: the variability kind, ratio to usual, and its least size.
        heating_k_s: the thermal kind, K/s above usual.
        together_s: a kind counts so long after it was last seen, s.
    """

    sound_db: float = 4.0
    sound_sigmas: float = 5.0
    unrest: float = 2.5
    unrest_least: float = 0.03
    heating_k_s: float = 0.4
    together_s: float = 2.0


@dataclass(frozen=True, slots=True)
class Seen:
    """One kind as it was seen at its strongest: the value, and the limit it was held against."""

    kind: Kind
    value: float
    limit: float


def is_heard(others: Sequence[Seen]) -> bool:
    """Say whether sound or heating has been seen, which is more than the swing of the drag itself."""
    return any(seen.kind is not Kind.VARIABILITY for seen in others)


def agree(others: Sequence[Seen]) -> bool:
    """Say whether sound and heating have both been seen."""
    kinds = {seen.kind for seen in others}
    return Kind.ACOUSTIC in kinds and Kind.THERMAL in kinds


class OtherKinds:
    """Follow sound, unrest and heating.

    Args:
        params: see `OtherParams`.

    What survives a call: what is usual for sound and heating, when each kind was last seen, and how strong.

    Attributes:
        seen: the kinds seen in the last seconds.
    """

    def __init__(self, params: OtherParams) -> None:
        self._params = params
        self._sound, self._heat = SoundRise(), HeatRise()
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing has been seen; what is usual is kept."""
        self._acoustic, self._variability, self._thermal = (_Last(kind) for kind in Kind)
        self.seen: list[Seen] = []

    def forget_motion(self) -> None:
        """Begin anew after a stop."""
        self._sound.forget_motion()
        self._heat.forget_motion()

    def recall(self) -> None:
        """Take the sound that was usual before the last stop: it was none."""
        self._sound.recall()

    def forget_means(self) -> None:
        """Begin anew after a hole."""
        self._sound.forget_means()
        self._heat.forget_means()

    def weigh(self, s: Slice, phase: Phase, track: Track | None) -> None:
        """Take the next slice.

        Args:
            s: slice with whatever is fitted of sound and pin temperature.
            phase: of the contact.
            track: the one that speaks for the contact; None where none does.
        """
        p, dt_s, sound, holds = self._params, s.duration_s, self._sound, phase is _HOLD
        if phase is not _OFF:
            sound.update(_good(s.channels.get(SOUND_LEVEL)), dt_s, holds)
        if s.t_rig_s >= self._heat.next_s:
            self._heat.update(_good(s.channels.get(PIN_TEMPERATURE)), s.t_rig_s)
        together_s = p.together_s
        changed = self._acoustic.note(abs(sound.rise_db), self._limit_db, dt_s, together_s)
        restless = track.jitter_ratio if track is not None and track.jitter >= p.unrest_least else math.nan
        changed |= self._variability.note(restless, p.unrest, dt_s, together_s)
        heating_k_s = math.nan if holds else self._heat.excess_k_s
        changed |= self._thermal.note(heating_k_s, p.heating_k_s, dt_s, together_s)
        if changed:
            last = (self._acoustic, self._variability, self._thermal)
            self.seen = [one.seen for one in last if one.since_s <= together_s]

    @property
    def loud_db(self) -> float:
        """Give how much louder it is than usual, dB, where that stands out of the usual spread; else NaN."""
        rise_db = self._sound.rise_db
        return rise_db if rise_db >= self._params.sound_sigmas * self._sound.sigma_db else math.nan

    @property
    def heating_k_s(self) -> float:
        """Give the pin temperature's rate above usual, K/s; NaN where it is not known."""
        return self._heat.excess_k_s

    @property
    def _limit_db(self) -> float:
        """Give the change of sound that counts, dB: the stated one, or a multiple of the usual spread."""
        p = self._params
        limit_db = p.sound_sigmas * self._sound.sigma_db
        return limit_db if limit_db > p.sound_db else p.sound_db

    def now(self, phase: Phase, track: Track | None) -> Sequence[Seen]:
        """Give every kind as it is now, whether it counts or not: its value, NaN where it is not known, and its limit.

        Args:
            phase, track: as for `weigh`.
        """
        p, sound = self._params, self._sound
        usual = math.nan if track is None else track.usual_unrest
        is_known = track is not None and usual == usual and track.jitter > 0.0
        restless = track.jitter_ratio if track is not None and is_known else math.nan
        # The kind asks for a ratio and a least size: the larger of the two, as a ratio.
        least = p.unrest_least * restless / track.jitter if track is not None and is_known else p.unrest
        return (
            Seen(Kind.ACOUSTIC, abs(sound.rise_db), self._limit_db),
            Seen(Kind.VARIABILITY, restless, max(p.unrest, least)),
            Seen(Kind.THERMAL, math.nan if phase is _HOLD else self._heat.excess_k_s, p.heating_k_s),
        )


class _Last:
    """When one kind was last seen, and how strong.

    Attributes:
        seen: at its strongest while it lasted.
        since_s: time since it was last above its limit, s; infinite where it never was.
    """

    __slots__ = ("_kind", "seen", "since_s")

    def __init__(self, kind: Kind) -> None:
        self._kind, self.since_s = kind, math.inf
        self.seen = Seen(kind, math.nan, math.nan)

    def note(self, value: float, limit: float, dt_s: float, together_s: float) -> bool:
        """Take the slice's value; say whether what has been seen may have changed."""
        since_s = self.since_s
        if not value >= limit:
            if since_s == math.inf:
                return False
            self.since_s = since_s + dt_s
            return since_s <= together_s < self.since_s
        if since_s > together_s or value > self.seen.value:
            self.seen = Seen(self._kind, value, limit)
        self.since_s = 0.0
        return True


def _good(channel: ChannelSlice | None) -> float:
    return math.nan if channel is None or channel.quality is not _GOOD else channel.mean
