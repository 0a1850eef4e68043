"""Draws an overheat that comes to pass.

Reads dice, a rig and a plan without it, gives an `Overheat`. Whether a trouble heats a rig past what its technician
set is tried on a rough heat balance, with a steady friction coefficient, before anything is turned.
"""

from dataclasses import replace

import numpy as np
from world_b.values import BATH_TEMPERATURE, PIN_TEMPERATURE, Floats

from .chance import SLOW_STEP_S, Dice, even, grid
from .film import middling_mu, usual_power_w
from .heat import temperatures
from .plan import HeatTrouble, Overheat, Plan
from .rig import Rig

_TRIES = 5
_LEFT_S = 40.0
"""Least time from the limit to the end of the recording."""
_LEAST_S = 15.0
"""From the beginning of the trouble to the limit."""


def draw_overheat(dice: Dice, rig: Rig, plan: Plan) -> Overheat:
    """Give a trouble that passes a limit in the recording, as a rule."""
    kinds = list(HeatTrouble)
    dice.shuffle(kinds)
    trouble = Overheat(0.3 * plan.duration_s, kinds[0], 1.0)
    load_n, turning = _work(plan)
    power_w = usual_power_w(rig, load_n, turning, middling_mu(rig.contact))
    for kind in kinds:
        for _ in range(_TRIES):
            trouble = Overheat(even(dice, 0.25, 0.5) * plan.duration_s, kind, even(dice, 0.6, 1.0))
            passed_s = _passed_s(rig, replace(plan, overheat=trouble), power_w)
            if trouble.t_s + _LEAST_S < passed_s < plan.duration_s - _LEFT_S:
                return trouble
    return trouble


def _work(plan: Plan) -> tuple[Floats, Floats]:
    """Give the load, N, and whether the motor is on, on the slow grid, without the hands' haste."""
    t_s = grid(plan.duration_s, SLOW_STEP_S)
    load_n, turning = np.zeros(len(t_s)), np.zeros(len(t_s))
    for load in plan.loads:
        load_n[t_s >= load.t_s] = load.load_n
    for switch in plan.switches:
        turning[t_s >= switch.t_s] = float(switch.on)
    return load_n, turning


def _passed_s(rig: Rig, plan: Plan, power_w: Floats) -> float:
    heat = temperatures(rig, plan, power_w)
    courses = {PIN_TEMPERATURE: heat.pin_degc, BATH_TEMPERATURE: heat.bath_degc}
    past = np.zeros(len(power_w), np.bool_)
    for name, course in courses.items():
        past |= course > rig.limits.get(name, np.inf)
    return float(np.argmax(past)) * SLOW_STEP_S if past.any() else plan.duration_s
