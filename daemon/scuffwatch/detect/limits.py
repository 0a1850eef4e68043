"""Hard limits: one channel against a low and a high limit, armed always, nothing learned.

Reads slices, gives findings. The fast path: nothing is learned and nothing is waited for.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.words import limit_says
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import FRICTION_FORCE, Quality, Reason, unit_of
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

_BAD = Quality.BAD
_CLEAR_SHARE = 0.05
_BY_MAGNITUDE = (FRICTION_FORCE, FRICTION_COEFFICIENT)
_DELAY_SLACK = 1e-9
"""Keeps 0.04 s over 0.01 s at 4 slices, not 5."""
_ONE_VALUE_S, VERY_SLOW_S, _ROUNDING = 0.05, 0.2, 1e-6
"""A slice of 20 a second or fewer holds a single value, and an electrical spike may last for two of them; of very slow
values two have to do. A faster rig's slice is the mean of several."""


@dataclass(frozen=True, slots=True)
class LimitParams:
    """One hard limit.

    Attributes:
        channel: name; the mean of the slice is judged.
        low, high: in the channel's unit; infinite where there is none.
        on_delay_s: time beyond the limit without a break before it is a finding; counted in slices, at least one, and
            two or three where a slice is so long that it holds a single value.
        kind, level: of the finding.
        clear_band: how far inside the limit the value must be, for as long as the on-delay, before it has cleared;
            in the channel's unit.
        label: the cause, as the sentence begins.
        after_start: whether it counts only once the motor has started: start current is no overload.
    """

    channel: str
    low: float
    high: float
    on_delay_s: float
    kind: FindingKind
    level: Level
    clear_band: float
    label: str
    after_start: bool = False

    @classmethod
    def above(
        cls, channel: str, high: float, on_delay_s: float, means: tuple[FindingKind, Level, str], after_start: bool
    ) -> "LimitParams":
        """Give an upper limit that has cleared 5 % inside of it; `means` is kind, level and label.

        Friction counts by its magnitude: its cell reads negative where the ring turns the other way round.
        """
        kind, level, label = means
        low = -high if channel in _BY_MAGNITUDE else -math.inf
        return cls(channel, low, high, on_delay_s, kind, level, _CLEAR_SHARE * high, label, after_start)


def slices_in(delay_s: float, duration_s: float) -> int:
    """Give how many slices a delay lasts, at least one."""
    return max(1, math.ceil(delay_s / duration_s - _DELAY_SLACK))


def _least(duration_s: float) -> int:
    if is_shorter(duration_s, _ONE_VALUE_S):
        return 1
    return 3 if is_shorter(duration_s, VERY_SLOW_S) else 2


def is_shorter(duration_s: float, than_s: float) -> bool:
    """Say whether slices are shorter; a table's length is the median of differences of its stamps, and rounded."""
    return duration_s * (1.0 + _ROUNDING) < than_s


class HardLimit:
    """Watch one limit.

    A slice whose value is BAD neither counts as beyond nor as inside: a count goes on after it and what stands keeps
    standing; the sensor fault is another detector's. Only MISSING, the word for a quantity that does not exist now
    (no friction coefficient without load), counts as inside. A hole counts like a BAD slice. Where the on-delay is more
    than one slice it also takes two new samples, so that one spike on a slow channel, held over many slices, is none.

    Args:
        params: see `LimitParams`.

    What survives a call: how many slices in a row were beyond or well inside, and what stands.

    Attributes:
        channel: that it watches.
        standing: the finding, while its condition is true.
    """

    __slots__ = (
        "_beyond",
        "_duration_s",
        "_fresh",
        "_high",
        "_inside",
        "_low",
        "_needed",
        "_params",
        "_well_high",
        "_well_low",
        "channel",
        "standing",
    )

    def __init__(self, params: LimitParams) -> None:
        self._params = params
        self.channel = params.channel
        self._low, self._high = params.low, params.high
        self._well_low = params.low + params.clear_band
        self._well_high = params.high - params.clear_band
        self._duration_s = math.nan
        self._needed = 1
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands, nothing is counted."""
        self._beyond = self._fresh = self._inside = 0
        self.standing: tuple[Finding, ...] = ()

    def update(self, s: Slice, armed: bool = True) -> tuple[Finding, ...]:
        """Take the next slice.

        Args:
            s: slice with the channel; one without it says nothing.
            armed: whether a value beyond the limit counts now.
        Returns:
            The finding in the slice in which it became true, else nothing.
        """
        channel = s.channels.get(self.channel)
        if channel is None:
            return ()
        if s.duration_s != self._duration_s:
            self._duration_s = s.duration_s
            self._needed = max(_least(s.duration_s), slices_in(self._params.on_delay_s, s.duration_s))
        if channel.quality is _BAD:
            if channel.reason is Reason.MISSING:
                self._well_inside()
            return ()
        mean = channel.mean
        if mean > self._high or mean < self._low:
            return self._outside(s, channel) if armed else self._not_counted()
        self._beyond = self._fresh = 0
        if self._well_low <= mean <= self._well_high:
            self._well_inside()
        else:
            self._inside = 0
        return ()

    def _outside(self, s: Slice, channel: ChannelSlice) -> tuple[Finding, ...]:
        self._inside = 0
        self._beyond += 1
        self._fresh += channel.fresh
        if self.standing or self._beyond < self._needed or self._fresh < min(2, self._needed):
            return ()
        self.standing = (self._finding(s, channel.mean),)
        return self.standing

    def _not_counted(self) -> tuple[Finding, ...]:
        self._beyond = self._fresh = self._inside = 0
        return ()

    def _well_inside(self) -> None:
        self._beyond = self._fresh = 0
        self._inside += 1
        if self._inside >= self._needed:
            self.standing = ()

    def _finding(self, s: Slice, mean: float) -> Finding:
        p = self._params
        limit = p.high if mean > p.high else p.low
        evidence = Evidence(p.channel, mean, limit, unit_of(p.channel))
        says = limit_says(p.label, p.channel, mean, limit, p.level)
        return Finding(p.kind, p.level, s.t_rig_s, (p.channel,), (evidence,), says)
