"""From the grid to rows: what is too fast for the grid is added here, still without any sensor.

Reads course, plan and a rate, gives true quantities row by row. The drive hears fast friction through its own inertia.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from world_b.values import DriveKind, Floats, Kind

from .course import Course
from .dice import Dice
from .grid import forerun, rise_at
from .lever import load_at
from .plan import Plan
from .rig import Rig
from .slider import slip_share


@dataclass(frozen=True, slots=True)
class Rows:
    """True quantities, each (n,).

    Attributes:
        t_s: even, from 0.
        load_n, force_n: at the contact.
        current_share, ring_share, motor_share: of full current and set speed.
        turns: of the ring since the first row.
        motor_turns: the same of the motor, as seen at the ring.
        pin_degc, bath_degc: behind the lag of the thermocouple.
        fast_share: of friction, what the contact does faster than the grid; sound goes with it.
        shake: what machines next door add to the noise of the cells, as a multiple of it.
    """

    t_s: Floats
    load_n: Floats
    force_n: Floats
    current_share: Floats
    ring_share: Floats
    motor_share: Floats
    turns: Floats
    motor_turns: Floats
    pin_degc: Floats
    bath_degc: Floats
    fast_share: Floats
    shake: Floats


def lay_rows(dice: Dice, rig: Rig, plan: Plan, course: Course, rate_hz: float) -> Rows:
    """Give the rows of a recording at this rate."""
    t_s = np.arange(int(plan.length_s * rate_hz)) / rate_hz
    grid_s, draw = course.t_s, dice.generator

    def at(values: Floats) -> Floats:
        return np.interp(t_s, grid_s, values)

    ring_share, motor_share = at(course.ring_share), at(course.motor_share)
    creep_share = rise_at(t_s, plan.creeps)
    ring_share *= 1.0 - creep_share
    turns = at(_turned(grid_s, course.ring_share) * rig.turns_hz)
    turns -= np.cumsum(creep_share * ring_share) * rig.turns_hz / rate_hz
    motor_turns = at(_turned(grid_s, course.motor_share) * rig.turns_hz)
    moving = np.tanh(ring_share / 0.05)
    load_n = load_at(t_s, plan.start_load_n, plan.placements, plan.blows, rig.lever)
    phase = 2.0 * np.pi * turns
    load_n *= 1.0 + rig.lever.runout_share * moving * np.sin(phase + draw.uniform(0.0, 6.28))
    unrest = rig.unrest
    # A time constant below the row's own length averages out; what is left is as fast as the rows.
    fast = unrest.broad_share * colored(draw, len(t_s), unrest.broad_lag_s * rate_hz)
    if plan.trouble is not None and plan.trouble.chatter_share:
        chatter = colored(draw, len(t_s), 0.03 * rate_hz) * plan.trouble.chatter_share
        fast += at(course.scuffed) * np.maximum(chatter, -0.7)
    fast += unrest.slow_share * at(_slow(draw, grid_s, unrest.slow_lag_s))
    fast += unrest.turn_share * (np.sin(phase) + 0.4 * np.sin(2.0 * phase + draw.uniform(0.0, 6.28)))
    for spell in plan.spells:
        fast += slip_share(draw, rig, spell, t_s)
    hot = rise_at(t_s, plan.rises)
    if plan.trouble is not None:
        hot += forerun(t_s, plan.trouble, turns)
    base_n = at(course.coefficient) * load_n
    force_n = np.maximum(base_n * (1.0 + moving * (hot + fast)), 0.0)
    current_share, ring_share, motor_share = _driven(rig, t_s, rate_hz, force_n - at(course.force_n), (
        at(course.current_share), ring_share, motor_share
    ))  # fmt: skip
    return Rows(
        t_s, load_n, force_n, current_share, ring_share, motor_share, turns, motor_turns,
        at(course.pin_read_degc), at(course.bath_read_degc), moving * (hot + fast), _shake(dice, plan, t_s),
    )  # fmt: skip


def colored(draw: np.random.Generator, count: int, lag_rows: float) -> Floats:
    """Give noise of standard deviation 1 whose correlation falls by e in `lag_rows` rows; (count,)."""
    keep = float(np.exp(-1.0 / lag_rows)) if lag_rows > 0.0 else 0.0
    draws = draw.standard_normal(count)
    if count:
        draws[1:] *= np.sqrt(1.0 - keep * keep)
    return np.asarray(lfilter([1.0], [1.0, -keep], draws))


def low_pass(values: Floats, lag_rows: float) -> Floats:
    """Give values behind a first-order lag, exact for values held over a row; begins settled."""
    keep = float(np.exp(-1.0 / lag_rows)) if lag_rows > 0.0 else 0.0
    out, _ = lfilter([1.0 - keep], [1.0, -keep], values, zi=np.array([keep * values[0]]))
    return np.asarray(out)


def _shake(dice: Dice, plan: Plan, t_s: Floats) -> Floats:
    """Let some of the machines next door be felt by the cells as well as heard."""
    shake = np.zeros(len(t_s))
    felt = dice.chance(0.4)
    for noise in plan.noises:
        if felt and noise.kind is Kind.NEIGHBOUR:
            first, last = np.searchsorted(t_s, [noise.t_s, noise.t_s + noise.duration_s])
            shake[first:last] += 0.3 * 10.0 ** (0.05 * noise.above_db)
    return shake


def _turned(t_s: Floats, share: Floats) -> Floats:
    steps = 0.5 * (share[1:] + share[:-1]) * np.diff(t_s)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _slow(draw: np.random.Generator, grid_s: Floats, lag_s: float) -> Floats:
    even_s = np.arange(0.0, grid_s[-1] + 1.0, 0.5)
    return np.interp(grid_s, even_s, colored(draw, len(even_s), lag_s / 0.5))


def _driven(
    rig: Rig, t_s: Floats, rate_hz: float, extra_n: Floats, steady: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Let fast friction pull at current and speed, linear about the steady state, where the ring turns freely.

    Torque reaches the motor behind the mechanical time constant; speed gives way by it, but for what a controller with
    integral action takes back.
    """
    current_share, ring_share, motor_share = steady
    drive = rig.drive
    extra_share = extra_n * rig.ring_radius_m / drive.full_torque_nm
    stiff = {
        DriveKind.BRUSHED_BARE: drive.peak_share,
        DriveKind.BRUSHED_LIMITED: drive.gain,
        DriveKind.INDUCTION_DIRECT: 2.0 * drive.peak_share / drive.pull_out_slip,
        DriveKind.INDUCTION_INVERTER: 1.0 / drive.full_slip,
    }[drive.kind]
    lag_s = drive.accelerate_s / stiff
    given_share = low_pass(extra_share, lag_s * rate_hz)
    free = np.clip((ring_share - 0.1) / 0.2, 0.0, 1.0) * (motor_share - ring_share < 0.02)
    torque = 0.5 * (1.0 + drive.drag_share)
    slope = (drive.current(torque + 0.05, 1.0, 1.0) - drive.current(torque - 0.05, 1.0, 1.0)) / 0.1
    if drive.kind is DriveKind.INDUCTION_DIRECT:
        slope = 1.0 - drive.magnetising_share
    on = current_share > 0.02
    current = current_share + on * free * slope * low_pass(given_share, drive.current_lag_s * rate_hz)
    yielding = free * given_share / stiff
    if drive.kind is DriveKind.BRUSHED_LIMITED:
        yielding = yielding - free * low_pass(given_share, drive.gain / drive.integral_per_s * rate_hz) / stiff
    most = 1.05 * drive.current(drive.peak_share, 0.0, 1.0)
    return (
        np.clip(current, 0.0, max(most, float(current_share.max()))),
        np.maximum(ring_share - np.clip(yielding, -0.4, 0.4) * ring_share, 0.0),
        np.maximum(motor_share - np.clip(yielding, -0.4, 0.4) * motor_share, 0.0),
    )
