"""The lever with its weights: a mass on a spring, onto which hands put weights as ramps of force.

Reads placements and blows, gives the load at any time in closed form, so no grid and no rate enters.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Floats

_SETTLED = 9.0
"""After this many decay times a bounce is below 1e-4 of its first swing."""


@dataclass(frozen=True, slots=True)
class LeverFacts:
    """What a lever is.

    Attributes:
        frequency_hz: of its bounce without weights.
        halving_load_n: load at which the added mass has lowered the frequency by the root of two.
        damping_ratio: of the bounce, 0 to 1.
        runout_share: of the load, once a turn at set speed.
    """

    frequency_hz: float
    halving_load_n: float
    damping_ratio: float
    runout_share: float

    def bounce_hz(self, load_n: float) -> float:
        """Give the frequency with this load on."""
        return self.frequency_hz / float(np.sqrt(1.0 + load_n / self.halving_load_n))


@dataclass(frozen=True, slots=True)
class Placement:
    """A change of weight.

    Attributes:
        t_s: when the hand begins to let go.
        from_n, to_n: load before and after.
        ramp_s: over which the hand lets go, > 0.
        thud_share: height of the blow that a dropped weight adds, over the change.
    """

    t_s: float
    from_n: float
    to_n: float
    ramp_s: float
    thud_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Blow:
    """A knock on lever or bench.

    Attributes:
        t_s: when.
        swing_share: of the load, first swing.
    """

    t_s: float
    swing_share: float


def ramp_response(after_s: Floats, angular_per_s: float, damping_ratio: float) -> Floats:
    """Give what a mass on a spring does when force begins to rise by one a second.

    Args:
        after_s: (n,) time since the rise began.
        angular_per_s: undamped angular frequency, 1/s.
        damping_ratio: 0 to below 1.
    Returns:
        (n,) spring force; 0 before the rise.
    Source:
        Derived here: particular solution t - 2 zeta/omega plus the free swing that starts it at rest.
    """
    after_s = np.maximum(after_s, 0.0)
    swing_per_s = angular_per_s * np.sqrt(1.0 - damping_ratio**2)
    delay_s = 2.0 * damping_ratio / angular_per_s
    sine = (2.0 * damping_ratio**2 - 1.0) / swing_per_s
    phase = swing_per_s * after_s
    free = np.exp(-damping_ratio * angular_per_s * after_s) * (delay_s * np.cos(phase) + sine * np.sin(phase))
    return np.asarray(after_s - delay_s + free)


def load_at(t_s: Floats, start_n: float, placements: list[Placement], blows: list[Blow], lever: LeverFacts) -> Floats:
    """Give the load.

    Args:
        t_s: (n,) s, rising.
        start_n: load before the first placement.
        placements, blows: in order of time.
        lever: see `LeverFacts`.
    Returns:
        (n,) N, never below 0: a bounce can lift the pin off.
    """
    load_n = np.full(len(t_s), start_n)
    for placed in placements:
        change_n = placed.to_n - placed.from_n
        angular_per_s = 2.0 * np.pi * lever.bounce_hz(max(placed.to_n, placed.from_n))
        settled_s = placed.ramp_s + _SETTLED / (lever.damping_ratio * angular_per_s)
        first, last = np.searchsorted(t_s, [placed.t_s, placed.t_s + settled_s])
        after_s = t_s[first:last] - placed.t_s
        rise = ramp_response(after_s, angular_per_s, lever.damping_ratio)
        rise -= ramp_response(after_s - placed.ramp_s, angular_per_s, lever.damping_ratio)
        load_n[first:last] += change_n * rise / placed.ramp_s
        if placed.thud_share:
            load_n[first:last] += abs(change_n) * placed.thud_share * _swing(after_s, angular_per_s, lever)
        load_n[last:] += change_n
    for blow in blows:
        base_n = _at_rest(blow.t_s, start_n, placements)
        angular_per_s = 2.0 * np.pi * lever.bounce_hz(base_n)
        until_s = blow.t_s + _SETTLED / (lever.damping_ratio * angular_per_s)
        first, last = np.searchsorted(t_s, [blow.t_s, until_s])
        load_n[first:last] += base_n * blow.swing_share * _swing(t_s[first:last] - blow.t_s, angular_per_s, lever)
    return np.asarray(np.maximum(load_n, 0.0))


def _at_rest(t_s: float, start_n: float, placements: list[Placement]) -> float:
    done = [placed.to_n for placed in placements if placed.t_s <= t_s]
    return done[-1] if done else start_n


def _swing(after_s: Floats, angular_per_s: float, lever: LeverFacts) -> Floats:
    decay = np.exp(-lever.damping_ratio * angular_per_s * after_s)
    return np.asarray(decay * np.sin(angular_per_s * np.sqrt(1.0 - lever.damping_ratio**2) * after_s))
