"""Runs a prepared recording through contact, drive, heat and sound, without any sensor.

Reads what is prepared, gives true courses at even steps of at most 5 ms.
"""

from dataclasses import dataclass
from math import ceil

import numpy as np
from world_b.values import Flags, Floats, Inside, Kind

from .chance import Chance
from .hands import load_at
from .hearing import level_db
from .motors import current_of
from .patches import Scuffed
from .plan import Plan
from .rig import Rig
from .turning import Task, turn
from .unrest import fast_factor, remembered
from .warmth import STEP_S, Slow, Visits, heat_alone

FASTEST_STEP_HZ = 200.0


@dataclass(frozen=True, slots=True)
class Damaged:
    """Where the damage is, the coefficient where all is scuffed, and that over the healthy one."""

    scuffed: Scuffed
    ratio: float
    plateau: float


def steps_a_row(rate_hz: float) -> int:
    """Give how many steps are made for one row."""
    return max(ceil(FASTEST_STEP_HZ / rate_hz - 1e-9), 1)


def run(
    rig: Rig, plan: Plan, slow: Slow, visits: Visits, damaged: Damaged | None, rate_hz: float, chance: Chance
) -> Inside:
    """Run a recording.

    Args:
        rig, plan: what and how.
        slow: healthy coefficient, at steps of half a second.
        visits: of the bath.
        damaged: of scuffing and seizure.
        rate_hz: rows a second.
        chance: stream of the noise inside the contact.
    """
    step_s = 1.0 / (rate_hz * steps_a_row(rate_hz))
    t_s = step_s * np.arange(int(plan.duration_s * rate_hz) * steps_a_row(rate_hz), dtype=np.float64)
    task = _task(rig, plan, slow, damaged, t_s, chance)
    turned = turn(rig, task, chance.child(9))
    friction_w = turned.friction_n * turned.ring_rad_s * rig.radius_m
    heat = heat_alone(rig, _by_half_seconds(friction_w, t_s), slow.ratio, plan.heat, visits)
    slow_s = np.arange(len(heat.bath_degc)) * STEP_S + STEP_S
    share = np.zeros(len(t_s)) if damaged is None else damaged.scuffed.mean_at(t_s)
    motor_turns = turned.motor_rad_s / rig.set_speed_rad_s
    return Inside(
        t_s=t_s,
        normal_load_n=task.load_n,
        friction_force_n=turned.friction_n,
        motor_current_a=current_of(rig.drive, turned.torque_nm, turned.motor_rad_s, turned.live),
        ring_speed_rad_s=turned.ring_rad_s,
        motor_speed_rad_s=turned.motor_rad_s,
        shaft_torque_nm=turned.torque_nm,
        bath_temperature_degc=np.interp(t_s, slow_s, heat.bath_degc),
        pin_temperature_degc=np.interp(t_s, slow_s, heat.pin_degc),
        sound_level_db=level_db(rig, motor_turns, friction_w, np.where(turned.ring_rad_s > 0.0, share, 0.0)),
        on=turned.live,
        heat_in_j=heat.put_in_j - heat.lost_j,
        bath_heat_j=heat.kept_j,
        drag_torque_nm=rig.drive.drag_nm,
        ring_radius_m=rig.radius_m,
    )


def _task(rig: Rig, plan: Plan, slow: Slow, damaged: Damaged | None, t_s: Floats, chance: Chance) -> Task:
    slow_s = np.arange(len(slow.ratio)) * STEP_S
    ratio = np.interp(t_s, slow_s, slow.ratio) * fast_factor(plan, rig.film, t_s, chance.child(1))
    step_s = float(t_s[1] - t_s[0])
    full = np.zeros(len(t_s))
    if damaged is not None and plan.damage is not None:
        chatter = plan.damage.chatter_share * remembered(chance.child(2), len(t_s), step_s, plan.damage.chatter_s)
        wear = 0.08 * remembered(chance.child(3), len(t_s), step_s, 4.0)
        full = damaged.ratio * np.clip(1.0 + chatter + wear, 0.5, 1.5)
    return Task(
        step_s=step_s,
        load_n=load_at(plan, t_s, chance.child(4)),
        ratio=ratio,
        full_ratio=full,
        scuffed=None if damaged is None else damaged.scuffed,
        rows=np.full(len(t_s), -1.0) if damaged is None else damaged.scuffed.row_at(t_s),
        switched=switched_at(plan, t_s),
        jam_nm=_jam_nm(rig, plan, t_s),
        begin_rad_s=rig.set_speed_rad_s if plan.mid_run else 0.0,
    )


def switched_at(plan: Plan, t_s: Floats) -> Flags:
    """Say when the motor is switched on and has its supply, (n,)."""
    on = np.zeros(len(t_s), dtype=np.bool_)
    for on_s, off_s in plan.switches:
        on |= (t_s >= on_s) & (t_s < off_s)
    gone = [plan.supply_lost]
    gone += [(each.t_s, each.t_s + each.duration_s) for each in plan.nuisances if each.kind is Kind.BRIEF_DIP]
    for from_s, to_s in gone:
        first, last = np.searchsorted(t_s, (from_s, to_s))
        on[first:last] = False
    return on


def _jam_nm(rig: Rig, plan: Plan, t_s: Floats) -> Floats:
    if plan.jam is None:
        return np.zeros(len(t_s))
    held_nm = plan.jam.strength * min(rig.drive.top_torque_nm, rig.drive.belt_nm)
    grown: Floats = held_nm * np.clip((t_s - plan.jam.t_s) / plan.jam.ramp_s, 0.0, 1.0)
    return grown


def _by_half_seconds(course: Floats, t_s: Floats) -> Floats:
    """Give means over the steps of the heat."""
    bins = (t_s / STEP_S + 1e-9).astype(np.int64)
    means: Floats = np.bincount(bins, weights=course) / np.maximum(np.bincount(bins), 1)
    return means
