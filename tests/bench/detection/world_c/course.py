"""Steps contact, drive and heat through a recording, and once more without its trouble: the twin.

Reads inputs on the grid, gives the noise-free course on the same grid.
"""

from copy import copy
from dataclasses import dataclass, replace
from math import exp

import numpy as np
from world_b.values import Floats

from .contact import Contact
from .drive import Drive
from .grid import Inputs
from .heat import Heat
from .plan import Plan, Trouble
from .rig import Rig

RESIDUAL_LAG_S = 0.3
FORCE_LAG_S = 0.05
_REFERENCE_S, _SETTLE_S = 5.0, 1.0
_LEAST_LOAD_SHARE = 0.01
_AIMS = 4
_SETTLING_STEPS = 200


@dataclass(frozen=True, slots=True)
class Course:
    """The noise-free world on the grid; each (n,).

    Attributes:
        t_s, load_n: s, N.
        coefficient: friction force over load, without what passes quickly; while at rest, what is left wound up.
        force_n: friction force with everything.
        ring_share, motor_share: speeds over set speed, the latter as seen at the ring.
        torque_share, current_share: of full torque and current.
        bath_degc, pin_degc, bath_read_degc, pin_read_degc: true, and behind the thermocouple's lag.
        scuffed: share of the contact.
    """

    t_s: Floats
    load_n: Floats
    coefficient: Floats
    force_n: Floats
    ring_share: Floats
    motor_share: Floats
    torque_share: Floats
    current_share: Floats
    bath_degc: Floats
    pin_degc: Floats
    bath_read_degc: Floats
    pin_read_degc: Floats
    scuffed: Floats


class _World:
    """The state that a step changes."""

    def __init__(self, rig: Rig, plan: Plan, residual_share: float) -> None:
        self.rig, self.residual_share = rig, residual_share
        self.nights, self.top_ups = plan.nights, plan.top_ups
        self.contact = Contact(rig.contact, plan.running)
        self.drive = Drive(rig.drive, plan.running)
        self.heat = Heat(rig.heat, plan.warm)
        self.kinetic_n = self.force_n = 0.0
        self.ratio = 0.0
        self.rows: list[tuple[float, ...]] = []

    def settle(self, given: Inputs) -> None:
        """Let a rig that is met in mid run have run for a while at its first load."""
        for _ in range(_SETTLING_STEPS):
            self._step(-1.0, 0.1, float(given.load_n[0]), True, 1.0, float(given.film[0]), 0.0, 0.0)
        self.rows.clear()

    def branch(self) -> "_World":
        other = copy(self)
        other.contact, other.drive, other.heat = copy(self.contact), copy(self.drive), copy(self.heat)
        other.rows = list(self.rows)
        return other

    def run(
        self, given: Inputs, first: int, last: int, limits_degc: tuple[float, float], trouble: Trouble | None
    ) -> None:
        """Step from row `first` to before row `last` of the grid; without trouble for the twin."""
        steps_s = np.diff(given.t_s, append=2.0 * given.t_s[-1] - given.t_s[-2])
        hot = given.hot_share if trouble is None else given.hot_share + given.precursor_share
        jam_share = np.zeros(len(hot)) if trouble is None else given.jam_share
        columns = (given.t_s, steps_s, given.load_n, given.on, given.volts_share, given.film, hot, jam_share)
        begun = trouble is None
        for row in zip(*(column[first:last].tolist() for column in columns), strict=True):
            if not begun and trouble is not None and row[0] >= trouble.t_s - 1e-9:
                self._fail(trouble, limits_degc, row[6])
                begun = True
            self._step(*row)

    def _fail(self, trouble: Trouble, limits_degc: tuple[float, float], hot_share: float) -> None:
        if trouble.damage is not None:
            self.contact.fail(trouble.damage, self.ratio * (1.0 + hot_share), self.heat.pin_degc)
        if trouble.heat is not None:
            pin_limit_degc, bath_limit_degc = limits_degc
            limit_degc = pin_limit_degc if trouble.heat.name == "PIN_DRY" else bath_limit_degc
            self.heat.fail(trouble.heat, limit_degc, trouble.heat_within_s)

    def _step(
        self,
        t_s: float,
        dt_s: float,
        load_n: float,
        on: bool,
        volts_share: float,
        film: float,
        hot_share: float,
        jam_share: float,
    ) -> None:
        rig, contact, drive, heat = self.rig, self.contact, self.drive, self.heat
        ring_share = drive.ring_share
        if self.nights and t_s >= self.nights[0][0]:
            away_s = self.nights[0][1]
            self.nights = self.nights[1:]
            for part in (contact, drive, heat):
                part.rest(away_s)
        if self.top_ups and t_s >= self.top_ups[0][0]:
            heat.cool_by(self.top_ups[0][1])
            self.top_ups = self.top_ups[1:]
        friction = contact.step(dt_s, load_n, ring_share, 0.5 * (heat.bath_degc + heat.pin_degc), film)
        kinetic_n = friction * (1.0 + hot_share) * load_n
        radius_share_n = rig.ring_radius_m / rig.drive.full_torque_nm
        drive.step(dt_s, on, volts_share, kinetic_n * radius_share_n + jam_share)
        if drive.ring_share > 0.0:
            self.force_n = self.kinetic_n = kinetic_n
        elif on and jam_share == 0.0 and drive.torque_share > rig.drive.drag_share:
            held_share = min(drive.torque_share, rig.drive.belt_share) - rig.drive.drag_share
            self.force_n = min(kinetic_n, held_share / radius_share_n)
        else:
            left_n = min(self.residual_share * self.kinetic_n, kinetic_n, self.force_n)
            self.force_n += (left_n - self.force_n) * (1.0 - exp(-dt_s / RESIDUAL_LAG_S))
        power_share = self.force_n * rig.sliding_speed_m_s * drive.ring_share / rig.top_power_w
        contact.heat(dt_s, power_share, heat.pin_degc)
        heat.step(dt_s, power_share)
        if load_n > _LEAST_LOAD_SHARE * rig.top_load_n:
            self.ratio = friction if drive.ring_share > 0.0 else self.force_n / load_n
        self.rows.append(
            (
                load_n, self.ratio, self.force_n, drive.ring_share, drive.motor_share, drive.torque_share,
                drive.current_share, heat.bath_degc, heat.pin_degc, heat.bath_read_degc, heat.pin_read_degc,
                contact.scuffed,
            )
        )  # fmt: skip


def run_course(
    rig: Rig, plan: Plan, given: Inputs, limits_degc: tuple[float, float], residual_share: float
) -> tuple[Course, Course]:
    """Give the course and its undamaged twin; the same object twice without trouble.

    Args:
        rig, plan, given: see there.
        limits_degc: of pin and bath, which an abnormal heating is made to reach.
        residual_share: of the friction force that stays wound up at rest.
    """
    world, n = _World(rig, plan, residual_share), len(given.t_s)
    if plan.running:
        world.settle(given)
    trouble = plan.trouble
    first = n if trouble is None else int(np.searchsorted(given.t_s, trouble.first_s))
    world.run(given, 0, first, limits_degc, None)
    if trouble is None:
        course = _as_course(given, world)
        return course, course
    twin = world.branch()
    # Of the twin no more is asked than the time in which an event is to be seen.
    twin.run(given, first, n, limits_degc, None)
    onset = int(np.searchsorted(given.t_s, trouble.t_s - 1e-9))
    world.run(given, first, onset, limits_degc, trouble)
    return _as_course(given, _aimed(world, plan, given, onset, limits_degc)), _as_course(given, twin)


def _aimed(world: _World, plan: Plan, given: Inputs, onset: int, limits_degc: tuple[float, float]) -> _World:
    """Run on from the onset, at the pace that makes it severe when the plan says.

    Everything that runs away has one common pace, so time to severe goes nearly as its inverse.
    """
    trouble, n = plan.trouble, len(given.t_s)
    assert trouble is not None
    for _ in range(_AIMS if trouble.damage is not None else 1):
        tried = world.branch()
        tried.run(given, onset, n, limits_degc, trouble)
        if trouble.damage is None:
            break
        took_s = _half_way_s(tried, given, onset, trouble)
        if abs(np.log(took_s / trouble.severe_after_s)) < 0.15:
            break
        pace = trouble.damage.pace * float(np.clip(took_s / trouble.severe_after_s, 0.02, 50.0))
        trouble = replace(trouble, damage=replace(trouble.damage, pace=pace))
    return tried


def _half_way_s(tried: _World, given: Inputs, onset: int, trouble: Trouble) -> float:
    rows = np.array(tried.rows)
    ratio = rows[onset:, 1] / rows[max(onset - 1, 0), 1]
    assert trouble.damage is not None
    final = trouble.damage.final_ratio
    reached = np.flatnonzero(ratio >= (3.0 if final > 3.0 else 0.5 * (1.0 + final)))
    at = given.t_s[onset + reached[0]] if len(reached) else given.t_s[-1] + 3.0 * trouble.severe_after_s
    return float(max(at - trouble.t_s, 0.004))


def _as_course(given: Inputs, world: _World) -> Course:
    return Course(given.t_s, *np.ascontiguousarray(np.array(world.rows).T))


def lagged(t_s: Floats, values: Floats, lag_s: float) -> Floats:
    """Give values behind a first-order lag, on a grid that need not be even."""
    keep = np.exp(-np.diff(t_s, prepend=t_s[0]) / lag_s).tolist()
    out, last = [], float(values[0])
    for share, value in zip(keep, values.tolist(), strict=True):
        last = value + (last - value) * share
        out.append(last)
    return np.array(out)


def reference_n(course: Course, plan: Plan, onset_s: float) -> float:
    """Give the median friction force before an onset: of the last 5 s, or since a second after the
    last change of load."""
    changed_s = max((p.t_s + p.ramp_s for p in plan.placements if p.t_s < onset_s), default=0.0)
    begin_s = min(max(onset_s - _REFERENCE_S, changed_s + _SETTLE_S), onset_s - 0.5)
    even_s = np.arange(begin_s, onset_s, 0.01)
    return float(np.median(np.interp(even_s, course.t_s, course.force_n)))
