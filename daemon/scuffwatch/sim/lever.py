"""Dead-weight lever of the simulated rig: weights set down by hand, bounce, and the friction force that loads it.

Reads what is hung on and the friction force, gives the normal load at the contact.
"""

import math
from dataclasses import dataclass

from scuffwatch.sim.params import RigParams

_BOUNCE_ENDS = 7.0
"""Decay times after which the bounce is below 0.1 % and forgotten."""


@dataclass(frozen=True, slots=True)
class Hang:
    """One change of the weights by hand.

    Attributes:
        load_n: normal load they then make, N.
        ramp_s: time to lower or lift them, s.
        bounce_share: first swing, relative to the change of load.
        bounce_hz, bounce_decay_s: of the swing.
    """

    load_n: float
    ramp_s: float
    bounce_share: float
    bounce_hz: float
    bounce_decay_s: float


class Lever:
    """Load at the contact over time.

    What survives a call: the load hung on, the change in progress, the last load.
    """

    __slots__ = ("_began_t_s", "_friction_share", "_from_n", "_hang", "hung_n", "load_n")

    def __init__(self, params: RigParams) -> None:
        self._friction_share = params.pivot_height_mm / params.lever_arm_mm
        self._hang: Hang | None = None
        self._from_n = 0.0
        self._began_t_s = 0.0
        self.hung_n = 0.0
        self.load_n = 0.0

    def hang(self, change: Hang, t_s: float) -> None:
        """Begin a change of the weights at `t_s`."""
        self._hang, self._from_n, self._began_t_s = change, self.hung_n, t_s

    def step(self, t_s: float, friction_force_n: float) -> float:
        """Give the normal load at `t_s`, N, never below 0; friction pulls the pin in."""
        hung = self.hung_n if self._hang is None else self._moving(self._hang, t_s)
        load = hung + self._friction_share * friction_force_n if hung > 0.0 else 0.0
        self.load_n = load
        return load

    def _moving(self, change: Hang, t_s: float) -> float:
        x = (t_s - self._began_t_s) / change.ramp_s
        if x < 1.0:
            self.hung_n = self._from_n + (change.load_n - self._from_n) * x * x * (3.0 - 2.0 * x)
            return self.hung_n
        self.hung_n = change.load_n
        swing_s = t_s - self._began_t_s - change.ramp_s
        if swing_s > _BOUNCE_ENDS * change.bounce_decay_s:
            self._hang = None
            return self.hung_n
        first_n = change.bounce_share * (change.load_n - self._from_n)
        decay = math.exp(-swing_s / change.bounce_decay_s)
        return max(self.hung_n + first_n * decay * math.sin(math.tau * change.bounce_hz * swing_s), 0.0)
