"""Turns the ring: motor, belt, drag, friction and what holds it from outside, step by step.

Reads a rig and courses on the fine grid, gives speed, torque, current and friction force. Two inertias are one until
the belt must pass on more than it can; then it slips until both run alike again. A ring that stands is held by friction
up to what the contact bears.
"""

from dataclasses import dataclass
from math import exp, inf

import numpy as np
from world_b.values import Floats

from .chance import STEP_S
from .drives import pull_of
from .film import SPEED_POWER
from .rig import Rig

_PLACES = 720
_SLIPPING_SHARE = 0.8
"""Of the belt's torque that it still passes on while it slips."""
_PATCH_TURNS = 0.06
"""Half the width of a hot patch on the ring."""
_STARTING_RAD_S = 0.05
_FRESH_SHARE = 0.2
"""By what friction at rest exceeds that of slow sliding."""


@dataclass(frozen=True, slots=True)
class Courses:
    """What acts on the ring, on the fine grid, (n,).

    Attributes:
        supply: of the motor, 0 switched off to 1.
        hung_n: see `lever`.
        solid_mu, fluid_mu, thickness: see `film`; unrest is in `solid_mu` and `fluid_mu`.
        scuffed_share, scuffed_mu: see `scuffing`.
        hot: of a patch once a turn.
        weld_n: force that welds bear.
        outside_nm: what holds the ring from outside.
        drag_share: of the warm drag.
    """

    supply: Floats
    hung_n: Floats
    solid_mu: Floats
    fluid_mu: Floats
    thickness: Floats
    scuffed_share: Floats
    scuffed_mu: Floats
    hot: Floats
    weld_n: Floats
    outside_nm: Floats
    drag_share: Floats

    def columns(self, begin: int, end: int) -> list[list[float]]:
        """Give the courses of a stretch as lists, in the order above."""
        return [getattr(self, name)[begin:end].tolist() for name in self.__dataclass_fields__]


@dataclass(frozen=True, slots=True)
class Turned:
    """What came of it, (n,); speeds in rad/s at the ring, angle in turns."""

    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    current_a: Floats
    load_n: Floats
    friction_n: Floats
    turns: Floats


def runout(rig: Rig) -> Floats:
    """Give by what run-out multiplies the load around the ring, (_PLACES,)."""
    place = np.arange(_PLACES) / _PLACES * 2.0 * np.pi
    lever = rig.lever
    return 1.0 + lever.runout_share * np.sin(place) + lever.runout_twice_share * np.sin(2.0 * place + 1.0)


def _patch() -> list[float]:
    place = np.arange(_PLACES) / _PLACES
    return [float(share) for share in np.exp(-(((place - 0.5) / _PATCH_TURNS) ** 2))]


@dataclass(frozen=True, slots=True)
class Start:
    """How the ring turns as a stretch begins: its speed in rad/s, its angle in turns.

    `settles` is for how many steps it turns under the first of the courses before they begin to be told.
    """

    ring_rad_s: float
    turns: float
    settles: int = 0


def turn(rig: Rig, courses: Courses, start: Start, begin: int = 0, end: int | None = None) -> Turned:
    """Turn the ring through a stretch of the courses, all of them as a rule."""
    motor, radius_m, pull_share = rig.motor, rig.radius_m, rig.lever.pull
    running = start.ring_rad_s > 0.0
    pull, out, patch = pull_of(motor, running), runout(rig).tolist(), _patch()
    cog = (motor.cog_share * np.sin(np.arange(_PLACES) / _PLACES * 2.0 * np.pi)).tolist()
    ring = driven = start.ring_rad_s
    turns, slips, rest = start.turns, False, 0.0
    rows: list[tuple[float, float, float, float, float, float, float]] = []
    both_kgm2 = motor.motor_kgm2 + motor.ring_kgm2
    columns = [column[:1] * start.settles + column for column in courses.columns(begin, end or len(courses.supply))]
    for supply, hung, solid, fluid, thick, scuffed, scuffed_mu, hot, weld, outside, drag_share in zip(
        *columns, strict=True
    ):
        share = ring / motor.set_rad_s
        place = int(turns * _PLACES) % _PLACES
        spots = exp(-thick * share**SPEED_POWER)
        solid_mu = solid * (1.0 + hot * patch[place])
        if ring < _STARTING_RAD_S:
            solid_mu *= 1.0 + _FRESH_SHARE
        healthy_mu = solid_mu * spots + fluid * (1.0 - spots) * share**0.5
        mu = (1.0 - scuffed) * healthy_mu + scuffed * scuffed_mu
        load = hung * out[place] / (1.0 - pull_share * min(mu, 1.0))
        bears = load * mu + weld
        unrest = 1.0 + cog[int(turns * motor.cog_per_turn * _PLACES) % _PLACES]
        drag = motor.drag_nm * drag_share * (0.6 + 0.4 * share) * unrest
        torque, current = pull(driven, supply)
        against = bears * radius_m + drag + outside
        if not slips:
            change = (torque - against) / both_kgm2
            if motor.belt_nm < inf and torque - motor.motor_kgm2 * change > motor.belt_nm and torque > 0.0:
                slips = True
        if slips:
            passed = _SLIPPING_SHARE * motor.belt_nm
            ring_new = max(ring + (passed - against) / motor.ring_kgm2 * STEP_S, 0.0)
            driven = max(driven + (torque - passed) / motor.motor_kgm2 * STEP_S, 0.0)
            if ring_new >= driven:
                ring_new = driven = (motor.ring_kgm2 * ring_new + motor.motor_kgm2 * driven) / both_kgm2
                slips = False
        else:
            passed = torque
            ring_new = driven = max(ring + change * STEP_S, 0.0)
        if ring_new == 0.0:
            if ring > 0.0:
                rest = rig.lever.kept_share * bears
            bears = min(bears, max((passed - drag - outside) / radius_m, rest))
        ring = ring_new
        turns += ring * STEP_S / 6.283185307179586
        rows.append((ring, driven, torque, current, load, bears, turns))
    table = np.array(rows[start.settles :]).T
    return Turned(*(np.ascontiguousarray(row) for row in table))
