"""What the technician sets as limits, and heat trouble strong enough to pass them. Reads `slow`, `plan`."""

import math
from dataclasses import dataclass, replace

import numpy as np
from world_b.values import BATH_TEMPERATURE, FRICTION_FORCE, PIN_TEMPERATURE, Flags, Floats, Inside

from world_l.draws import chance
from world_l.plan import Plan
from world_l.rig import Rig
from world_l.slow import STEP_S, SlowTraces, Trouble, run_slow

SURELY_K = 1.5
"""An overheat passes its limit by this much."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of temperature for every rig; one of friction where the technician trusts himself to set it."""

    temperatures: dict[str, float]
    friction_wanted: bool
    friction_per_top_load: float
    top_load_n: float

    def of_channels(self, names: tuple[str, ...], inside: Inside, healthy_until_s: float) -> dict[str, float]:
        """Give the limits of the channels a recording has."""
        found = {name: limit for name, limit in self.temperatures.items() if name in names}
        if self.friction_wanted and FRICTION_FORCE in names:
            healthy_n = inside.friction_force_n[inside.t_s < healthy_until_s]
            worst_n = float(np.max(healthy_n, initial=0.0))
            found[FRICTION_FORCE] = float(f"{max(self.friction_per_top_load * self.top_load_n, 1.5 * worst_n):.2g}")
        return found


def draw_limits(rng: np.random.Generator, rig: Rig, slow: SlowTraces, healthy_until_s: float) -> Limits:
    """Draw limits to the next five degrees, well above the warmest that a healthy run will be."""
    healthy = slow.t_s <= min(healthy_until_s, slow.t_s[-1])
    temperatures = {
        PIN_TEMPERATURE: _next_five(float(np.max(slow.pin_degc[healthy])) + rng.uniform(10.0, 25.0)),
        BATH_TEMPERATURE: _next_five(float(np.max(slow.bath_degc[healthy])) + rng.uniform(8.0, 20.0)),
    }
    return Limits(temperatures, chance(rng, 0.35), rng.uniform(0.2, 0.4), rig.top_load_n)


def _next_five(degc: float) -> float:
    return 5.0 * math.ceil(degc / 5.0)


def strong_enough(
    rig: Rig, plan: Plan, load_n: Floats, gain: Floats, on: Flags, limits: Limits
) -> tuple[SlowTraces, Trouble, Plan]:
    """Give the mildest heat trouble on a rising scale that passes the limits in time, with its traces and its plan."""
    assert plan.overheat is not None
    over = plan.overheat
    pin_limit, bath_limit = limits.temperatures[PIN_TEMPERATURE], limits.temperatures[BATH_TEMPERATURE]
    watts = rig.heat.bath_j_per_k * 15.0 / (over.by_s - over.t_s)
    strength = 0.8
    while True:
        trouble = Trouble(strength, watts)
        slow = run_slow(rig, plan, load_n, gain, on, trouble)
        at = min(int(over.by_s / STEP_S), len(slow.t_s) - 1)
        if slow.pin_degc[at] > pin_limit + SURELY_K and (over.pin_only or slow.bath_degc[at] > bath_limit + SURELY_K):
            return slow, trouble, plan
        strength *= 1.25
        if over.pin_only and strength > 30.0:
            over = replace(over, pin_only=False)
            plan, strength = replace(plan, overheat=over), 0.8
