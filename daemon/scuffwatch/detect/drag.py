"""One view of how hard the contact drags: a drag with its noise, and y = ln[(drag + floor) / load].

Reads values of a channel and the load, gives numbers to `Mechanics`.
"""

import math

from scuffwatch.detect.noise import Noise
from scuffwatch.detect.single_jump import SingleReading
from scuffwatch.detect.smooth import share_of

_FLOOR_SIGMAS = 3.0
_ABOVE_SIGMAS, _BELOW_SIGMAS = 8.0, 4.0
"""A drag stands out of its noise from the first on, and no longer below the second."""
_MEAN_MEMORY_S = 1.0
_MEAN_ABOVE_SIGMAS, _MEAN_BELOW_SIGMAS = 3.0, 2.0
"""The same for its mean over a second, which is steadier: at this much its floor leaves a rise to be seen."""
_LEAST_SHARE, _LEAST_FLOOR = 0.02, 1e-9
_ROUNDING, _STEPS_LEAST = 1e-6, 10
"""A smaller step between two values is no converter's but a rounding error; the least of so few may be a scuffing's."""


class Drag:
    """One view of the contact's drag.

    Args:
        is_cell: whether it is a force cell's, with even steps; a torque current's grow towards zero.

    What survives a call: the noise, and the smallest step between two values.

    Attributes:
        drag: of the last slice, in its own unit; NaN where there is none.
        y: ln((drag + floor) / load); NaN where there is none.
        floor: of the last slice, in the drag's unit: noise, and how far its zero may be off.
        noise: standard deviation of y from the channel's own noise; of a cell one step of its converter at least.
        fresh: whether it is new in the slice.
        is_above_noise: whether the drag stands out of its noise.
        mean_is_above_noise: whether its mean over a second does.
    """

    __slots__ = (
        "_dt_s",
        "_is_cell",
        "_mean",
        "_mean_share",
        "_noise",
        "_reading",
        "_seen",
        "_step",
        "_steps",
        "drag",
        "floor",
        "fresh",
        "is_above_noise",
        "mean_is_above_noise",
        "noise",
        "y",
    )

    def __init__(self, *, is_cell: bool = False) -> None:
        self._is_cell = is_cell
        self._mean = 0.0
        self._dt_s = self._mean_share = 0.0
        self._seen, self._step, self._steps = math.nan, math.inf, 0
        self._noise, self._reading = Noise(), SingleReading()
        self.drag = self.y = self.noise = math.nan
        self.floor = 0.0
        self.fresh = self.is_above_noise = self.mean_is_above_noise = False

    def read(self, drag: float, fresh: bool, load_n: float, dt_s: float, least: float = 0.0, zero: float = 0.0) -> None:
        """Take the slice's drag (NaN where there is none) and load (1 where none was ever measured).

        Below `least` a drag is none; `zero` is how far its zero may be off.
        """
        self.fresh = fresh
        if drag != drag:
            self.drag = self.y = math.nan
            return
        noise = self._noise
        if fresh:
            noise.learn(drag, dt_s)
            step = abs(drag - self._seen)
            if step > _ROUNDING:
                self._steps += 1
                if step < self._step:
                    self._step = step
            self._seen = drag
        if self._is_cell:
            drag = self._reading.take(drag, noise)
        sigma = noise.sigma
        out_of_noise = (_BELOW_SIGMAS if self.is_above_noise else _ABOVE_SIGMAS) * sigma
        self.is_above_noise = drag > out_of_noise and drag > least
        if dt_s != self._dt_s:
            self._dt_s, self._mean_share = dt_s, share_of(dt_s, _MEAN_MEMORY_S)
        mean = self._mean = self._mean + (drag - self._mean) * self._mean_share
        out_of_noise = (_MEAN_BELOW_SIGMAS if self.mean_is_above_noise else _MEAN_ABOVE_SIGMAS) * sigma
        self.mean_is_above_noise = noise.is_known and mean > out_of_noise and mean > least
        if drag < 0.0:
            drag = 0.0
        self.drag = drag
        self.floor = _floor(sigma, drag, least if least > zero else zero)
        with_floor = drag + self.floor
        if self._is_cell and sigma < self._step and self._steps >= _STEPS_LEAST:
            sigma = self._step
        self.noise = sigma / with_floor
        # A coarse cell that shows nothing but 0 has neither noise nor drag: no multiple of that says anything.
        is_shown = noise.is_known and with_floor > _LEAST_FLOOR
        self.y = math.log(with_floor / load_n) if is_shown else math.nan

    def forget(self) -> None:
        """Take an unloaded contact: it does not drag."""
        self.drag = self.y = math.nan
        self._mean, self.mean_is_above_noise = 0.0, False


def _floor(sigma: float, drag: float, least: float) -> float:
    floor, share = _FLOOR_SIGMAS * sigma, _LEAST_SHARE * drag
    if share > floor:
        floor = share
    if least > floor:
        floor = least
    return floor if floor > _LEAST_FLOOR else _LEAST_FLOOR
