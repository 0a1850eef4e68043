"""Load steps: when a weight has been set down or lifted, told from bounce, bumps and drift.

Reads the normal load slice by slice, says when it left the level of the stage, that it came back, or where it settled.
"""

from collections import deque
from dataclasses import dataclass

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import NORMAL_LOAD, Quality

_TICK_S = 0.1
_HOLE_S = 0.25
_BAD = Quality.BAD


@dataclass(frozen=True, slots=True)
class StepParams:
    """What a load step is.

    Attributes:
        share, least_n: a step is larger than this share of the load and than this force.
        settle_s: a level is settled when the means of 0.1 s stay within one step size of each other for so long.
        bump_s: a new level counts only so long after the load left the old one.
        back_s: so long at the old level again and it never left.
        drift_s: time constant with which the level follows slow drift.
    """

    share: float = 0.04
    least_n: float = 5.0
    settle_s: float = 1.0
    bump_s: float = 2.0
    back_s: float = 0.5
    drift_s: float = 60.0

    def size_n(self, level_n: float) -> float:
        """Give the smallest change of load that counts as a step at this level, N."""
        return max(self.share * abs(level_n), self.least_n)


@dataclass(frozen=True, slots=True)
class Left:
    """The load has left its level, or settles for the first time."""


@dataclass(frozen=True, slots=True)
class Back:
    """The load is at its old level again: a bump."""


@dataclass(frozen=True, slots=True)
class Settled:
    """The load has settled at a new level.

    Attributes:
        level_n: mean of the settled second, N.
        since_t_rig_s: when the load left the old level, s.
    """

    level_n: float
    since_t_rig_s: float


class LoadSteps:
    """Follow the normal load in means of 0.1 s.

    A tenth of a second without a good value, or a longer hole, gives no mean: nothing settles across it.

    Args:
        params: see `StepParams`.

    What survives a call: the level, the unfinished mean, the means of the last `settle_s`, when the load left.

    Attributes:
        tick_over: whether the last slice ended a mean; only then can something have happened.
        load_is_good: whether the load of the last slice is fitted and not BAD.
    """

    def __init__(self, params: StepParams) -> None:
        self._params = params
        self._level_n: float | None = None
        self._recent: deque[float] = deque(maxlen=max(2, round(params.settle_s / _TICK_S)))
        self._total = 0.0
        self._n = 0
        self._tick = -1
        self._duration_s, self._stride = 0.0, 1
        self._open = False
        self._tick_start_s = 0.0
        self.load_is_good = False
        self.tick_over = False
        self._left_s: float | None = None
        self._back = 0

    @property
    def left_t_rig_s(self) -> float | None:
        """Give when the load left its level, s; None where it is at it, or has none yet."""
        return self._left_s

    def update(self, s: Slice) -> Left | Back | Settled | None:
        """Take the next slice, say what has happened to the load."""
        index = s.index
        if s.duration_s != self._duration_s:
            self._duration_s = s.duration_s
            self._stride = max(1, round(_TICK_S / s.duration_s))
        tick = index // self._stride
        happened = None
        self.tick_over = False
        if tick != self._tick or s.gap_before_s > _HOLE_S:
            happened = self._begin_tick(s, tick)
        load = s.channels.get(NORMAL_LOAD)
        self.load_is_good = load is not None and load.quality is not _BAD
        if load is not None and self.load_is_good:
            self._total += load.mean
            self._n += 1
        if (index + 1) % self._stride == 0:
            return self._end_tick(s.t_rig_s) or happened
        return happened

    def _begin_tick(self, s: Slice, tick: int) -> Left | Back | Settled | None:
        """Begin a mean; where the slice that ends the last one was lost, that one is judged now."""
        start_s = s.t_rig_s - s.duration_s
        happened = self._end_tick(start_s) if self._open else None
        if s.gap_before_s > _HOLE_S or tick < self._tick:
            self._recent.clear()
        self._tick, self._open = tick, True
        self._tick_start_s = start_s
        return happened

    def _end_tick(self, t_rig_s: float) -> Left | Back | Settled | None:
        """Judge the mean that has come to its end."""
        self.tick_over, self._open = True, False
        total_n, n, self._total, self._n = self._total, self._n, 0.0, 0
        if not n:
            self._recent.clear()
            return None
        return self._judge(total_n / n, t_rig_s)

    def _judge(self, mean_n: float, t_rig_s: float) -> Left | Back | Settled | None:
        p = self._params
        self._recent.append(mean_n)
        level = self._level_n
        at_level = level is not None and abs(mean_n - level) <= p.size_n(level)
        if self._left_s is None:
            if level is not None and at_level:
                self._level_n = level + (mean_n - level) * _TICK_S / p.drift_s
                return None
            self._left_s = self._tick_start_s
            self._back = 0
            return Left()
        self._back = self._back + 1 if at_level else 0
        if self._back * _TICK_S >= p.back_s - 1e-9:
            self._left_s = None
            return Back()
        if t_rig_s - self._left_s < p.bump_s - 1e-9 or not self._is_settled():
            return None
        return self._settle()

    def _is_settled(self) -> bool:
        recent = self._recent
        if len(recent) < (recent.maxlen or 0):
            return False
        low, high = min(recent), max(recent)
        return high - low <= self._params.size_n((low + high) / 2)

    def _settle(self) -> Settled | None:
        assert self._left_s is not None
        since_t_rig_s = self._left_s
        self._level_n = sum(self._recent) / len(self._recent)
        self._left_s = None
        return Settled(self._level_n, since_t_rig_s)
