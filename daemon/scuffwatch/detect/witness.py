"""The motor's current as a witness of friction: what the friction cell says alone, the motor would have felt.

Reads both views of the drag, gives for how long friction has been far above usual without the motor's current: a drift
of the cell looks like scuffing in friction alone. A current that does not feel a weight either, as that of a mains
motor far below its rating, denies nothing. And for how long the current has been above usual while the cell is beyond
its range: then the cell is not broken, the contact drags more than it can say.
"""

import math

from scuffwatch.detect.drag import Drag
from scuffwatch.detect.track import Track

_RISE, _FAULT_RISE = 0.25, 0.45
_BORNE_SHARE, _BORNE_RISE = 0.25, 0.2
_OUT_MOST_S = 20.0
"""A cell that has been beyond its range for longer, while the current stayed, is broken: what the current shows from
then on it shows alone."""
_NOISE_MOST = 0.1
"""Of one value; a noisier current cannot show what is asked of its mean over 0.4 s."""
_TOLD_BY = 0.2
"""A weight by which load and friction grow so far tells whether the current feels it; natural logarithm."""
_LAG_S, _FAULT_S = 0.3, 1.0
"""A current may follow so much later: filters and drives take up to 0.15 s."""
_LASTS_S = 10.0
"""A cell that has been so long at fault scuffs no more by what a door or a neighbour's machine sounds like."""


class Witness:
    """Follow whether the current bears out a rise of friction.

    What survives a call: for how long it has not, whether friction has been as usual at this load, and what load,
        friction and current were at the level before.

    Attributes:
        denies: whether friction is well above usual for 0.3 s and a current that could show it does not.
        is_fault: whether friction is far above usual for a second, and the same.
        is_lasting: whether that has been so for ten.
        borne_out_s: for how long the current has been well above usual while friction is beyond its range, s.
        is_deaf: whether the last weight that friction felt did not move the current.
    """

    def __init__(self) -> None:
        self._has_been_usual = True
        self._before: tuple[float, float, float] | None = None
        self._is_noted = self.is_deaf = False
        self._out_s = 0.0
        self.forget()

    def begin_level(self) -> None:
        """Say that the load has gone to another level: only a rise from what was usual there can be denied."""
        self._has_been_usual = self._is_noted = False
        self.forget()

    def note_level(self, load_n: float, friction: Track, current: Track) -> None:
        """Compare a level that has been learned with the one before.

        Args:
            load_n: by which both views are taken, N.
            friction, current: tracks of both views.
        """
        if self._is_noted or friction.is_learning or current.is_learning:
            return
        if not (friction.is_known and current.is_known and load_n > 0.0):
            return
        self._is_noted = True
        load = math.log(load_n)
        before, self._before = self._before, (load, friction.base + load, current.base + load)
        if before is None:
            return
        by_load, by_friction, by_current = (now - then for now, then in zip(self._before, before, strict=True))
        if by_load < 0.0:
            by_load, by_friction, by_current = -by_load, -by_friction, -by_current
        if by_load >= _TOLD_BY and by_friction >= _TOLD_BY:
            self.is_deaf = by_current < _BORNE_SHARE * min(by_load, by_friction)

    def forget(self) -> None:
        """Begin anew."""
        self._unborne_s = self._fault_s = 0.0
        self.denies = self.is_fault = self.is_lasting = False
        self.borne_out_s = 0.0

    def update(self, friction: Track, current: Track, torque: Drag, is_out: bool, dt_s: float) -> None:
        """Take the next slice.

        Args:
            friction, current: tracks of both views.
            torque: the drag as the motor's current shows it.
            is_out: whether friction is beyond its range, and so says nothing.
            dt_s: length of the slice, s.
        """
        if is_out:
            self._out_s += dt_s
            bears_out = current.rise >= _BORNE_RISE and current.low_rise > 0.0 and self._out_s <= _OUT_MOST_S
            self.borne_out_s = self.borne_out_s + dt_s if bears_out else 0.0
            return
        self.borne_out_s = self._out_s = 0.0
        rise = friction.rise
        if not rise >= _RISE:
            self._has_been_usual = True
            if self._unborne_s:
                self.forget()
            return
        if not self._has_been_usual:
            return
        able = (
            not self.is_deaf
            and current.is_known
            and torque.is_above_noise
            and torque.noise <= _NOISE_MOST
            and torque.y == torque.y
        )
        unborne = able and current.rise < _BORNE_SHARE * rise
        self._unborne_s = self._unborne_s + dt_s if unborne else 0.0
        self._fault_s = self._fault_s + dt_s if unborne and friction.rise >= _FAULT_RISE else 0.0
        self.denies = self._unborne_s >= _LAG_S - 1e-9
        self.is_fault = self._fault_s >= _FAULT_S - 1e-9
        self.is_lasting = self._fault_s >= _LASTS_S - 1e-9
