"""The mechanical variable: how hard the contact drags for its load, as a logarithm with the noise as its floor.

Reads slices, gives y = ln[(drag + floor) / load]: from friction force, and beside it from the motor's torque current.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.smooth import share_of
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, Quality

_FLOOR_SIGMAS = 3.0
_NOISE_MEMORY_S = 20.0
_OUTLIER_TIMES = 4.0
_LEAST_SHARE = 1e-3


@dataclass(frozen=True, slots=True)
class MechanicsParams:
    """What is known of the rig for the mechanical variable.

    Attributes:
        no_load_current_a: with the pin lifted, A; NaN where it is not known.
        load_min_n: below this load the contact counts as unloaded, N.
    """

    no_load_current_a: float = math.nan
    load_min_n: float = 5.0


class Noise:
    """Noise of one channel from the steps between values, spikes left out.

    Attributes:
        sigma: standard deviation of one value, in the channel's unit; 0 before anything is known.
    """

    __slots__ = ("_last", "_mean_step", "_seen")

    def __init__(self) -> None:
        self._last = math.nan
        self._mean_step = 0.0
        self._seen = 0

    def learn(self, x: float, dt_s: float) -> None:
        """Take the next fresh value."""
        step = abs(x - self._last)
        self._last = x
        if step != step:
            return
        self._seen += 1
        if self._seen < 30:
            self._mean_step += (step - self._mean_step) / self._seen
            return
        if step > _OUTLIER_TIMES * self._mean_step > 0.0:
            step = _OUTLIER_TIMES * self._mean_step
        self._mean_step += (step - self._mean_step) * share_of(dt_s, _NOISE_MEMORY_S)

    @property
    def sigma(self) -> float:
        """Give the standard deviation; the mean step of white noise is 2/sqrt(pi) of it."""
        return 0.886 * self._mean_step


class Drag:
    """One view of the contact's drag: its value over the load, as a logarithm.

    What survives a call: the noise and the offset, learned unloaded.

    Attributes:
        y: ln(ratio to 1 of the unit) of the last slice; NaN where a source is missing.
        fresh: whether it is new in the slice.
    """

    __slots__ = ("_idle", "_noise", "_own_idle", "fresh", "y")

    def __init__(self, idle: float = 0.0) -> None:
        self._idle = idle
        self._own_idle = False
        self._noise = Noise()
        self.y = math.nan
        self.fresh = False

    def read(self, drag: float, channel: ChannelSlice | None, load_n: float, dt_s: float) -> None:
        """Take the slice's drag (NaN where there is none) and load (1 where none is measured)."""
        self.fresh = channel is not None and channel.fresh
        if drag != drag or load_n != load_n:
            self.y = math.nan
            return
        if self.fresh:
            self._noise.learn(drag, dt_s)
        floor = max(_FLOOR_SIGMAS * self._noise.sigma, _LEAST_SHARE * drag, 1e-9)
        self.y = math.log((max(drag - self._idle, 0.0) + floor) / load_n)

    def learn_idle(self, drag: float, dt_s: float) -> None:
        """Take the drag of an unloaded contact on a turning ring."""
        if drag != drag:
            return
        if not self._own_idle:
            self._own_idle, self._idle = True, drag
        self._idle += (drag - self._idle) * share_of(dt_s, 2.0)


class Mechanics:
    """Both views of the drag.

    Args:
        params: see `MechanicsParams`.

    Attributes:
        friction, current: the views.
        load_n: of the last slice; NaN where it is not fitted or BAD.
        has_load: whether the load is measured now.
        loaded: whether the contact carries load; None where it is not known.
    """

    def __init__(self, params: MechanicsParams) -> None:
        self._params = params
        self._no_load_a = params.no_load_current_a if params.no_load_current_a > 0.0 else 0.0
        self._load_fitted = False
        self.friction = Drag()
        self.current = Drag()
        self.load_n = math.nan
        self.has_load = False
        self.loaded: bool | None = None

    def read(self, s: Slice, turning: bool) -> None:
        """Take the next slice."""
        channels, dt_s = s.channels, s.duration_s
        load = channels.get(NORMAL_LOAD)
        self.load_n = _value(load)
        self.has_load = self.load_n == self.load_n
        self.loaded = self.load_n >= self._params.load_min_n if self.has_load else None
        by_load_n = max(self.load_n, self._params.load_min_n) if self.has_load else 1.0
        force = channels.get(FRICTION_FORCE)
        drag_n = abs(_value(force))
        current = channels.get(MOTOR_CURRENT)
        torque_a = self._torque_current_a(_value(current))
        if self.loaded is False:
            if turning:
                self.friction.learn_idle(drag_n, dt_s)
            self.friction.y = self.current.y = math.nan
            return
        self.friction.read(drag_n, force, by_load_n, dt_s)
        self.current.read(torque_a, current, by_load_n, dt_s)

    def _torque_current_a(self, current_a: float) -> float:
        """Give the current that makes torque; a motor's idle part is not in phase with it or not of the contact."""
        return math.sqrt(max(current_a * current_a - self._no_load_a * self._no_load_a, 0.0))


def _value(channel: ChannelSlice | None) -> float:
    return math.nan if channel is None or channel.quality is Quality.BAD else channel.mean
