"""What happened, read from the noise-free course; what a technician would have set; whether it is what was asked for.

Reads course, twin and readings, gives the truth on the clock of the stamps.
"""

from dataclasses import dataclass
from math import nan

import numpy as np
from scipy.ndimage import median_filter
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    TRIP_WORTHY,
    Floats,
    Klass,
    Precursor,
    Truth,
)

from .course import FORCE_LAG_S, Course, lagged, reference_n
from .faults import clock
from .grid import switched_on
from .hearing import contact_db
from .heat import HeatTrouble
from .plan import Plan
from .rig import Rig
from .slider import limit_cycle

SEVERE, STALLED_SHARE, SEEN = 3.0, 0.02, 5.0
SEEN_WITHIN_S, BEFORE_LIMIT_S = 10.0, 180.0
MARGIN, MARGIN_K = 1.25, 10.0
_UNREST_S = 10.0
_LEAST_HEATING_W = 15.0


@dataclass(frozen=True, slots=True)
class Found:
    """Times on the unbroken clock, s; NaN where a thing did not happen."""

    severe_s: float
    stall_s: float
    overheat_s: float


def temperature_limits_degc(rig: Rig) -> tuple[float, float]:
    """Give what a technician would set for pin and bath: a quarter and 10 K above the warmest he thinks healthy."""
    pin_degc, bath_degc = (max(MARGIN * hot, hot + MARGIN_K) for hot in (rig.hottest_pin_degc, _hottest_bath(rig)))
    return 5.0 * float(np.ceil(pin_degc / 5.0)), 5.0 * float(np.ceil(bath_degc / 5.0))


def _hottest_bath(rig: Rig) -> float:
    return max(rig.heat.hottest_bath_degc, rig.heat.ambient_degc + 1.4 * rig.heat.bath_rise_k)


def find(rig: Rig, plan: Plan, course: Course, limits_degc: tuple[float, float]) -> Found:
    """Read the times of an event from the course."""
    trouble = plan.trouble
    if trouble is None:
        return Found(nan, nan, nan)
    t_s, after = course.t_s, course.t_s >= trouble.t_s - 1e-9
    severe_s = stall_s = overheat_s = nan
    if trouble.damage is not None:
        force_n = lagged(t_s, course.force_n, FORCE_LAG_S)
        severe_s = _first(t_s, after & (force_n >= SEVERE * reference_n(course, plan, trouble.t_s)))
    if trouble.heat is None:
        pulling = switched_on(t_s, plan) & (course.torque_share > 0.5 * rig.drive.drag_share)
        stall_s = _first(t_s, after & pulling & (course.ring_share < STALLED_SHARE))
    else:
        watched = [course.pin_degc >= limits_degc[0]] if PIN_TEMPERATURE in CHANNELS_OF[rig.channel_set] else []
        if BATH_TEMPERATURE in CHANNELS_OF[rig.channel_set] or not watched:
            watched.append(course.bath_degc >= limits_degc[1])
        if not CHANNELS_OF[rig.channel_set].count(PIN_TEMPERATURE):
            watched.append(course.pin_degc >= limits_degc[0])
        overheat_s = _first(t_s, after & np.any(watched, axis=0))
    return Found(severe_s, stall_s, overheat_s)


def _first(t_s: Floats, true: np.ndarray) -> float:
    where = np.flatnonzero(true)
    return float(t_s[where[0]]) if len(where) else nan


def wrong_with(klass: Klass, rig: Rig, plan: Plan, course: Course, twin: Course, found: Found) -> str:
    """Say why a recording is not what its class promises; nothing if it is."""
    first_s = plan.quiet_from_s
    calm = course.t_s < first_s
    if np.any(_slow_for_long(rig, plan, twin)):
        return "the healthy motor does not bear its load"
    limits_degc = temperature_limits_degc(rig)
    for degc, limit_degc in zip((twin.pin_degc, twin.bath_degc), limits_degc, strict=True):
        if degc.max() * MARGIN > limit_degc + 5.0 or degc.max() + 6.0 > limit_degc:
            return "the healthy rig is hotter than was thought"
    if plan.trouble is not None and (not np.any(calm) or course.ring_share[calm][-1] < 0.7):
        return "the ring does not turn when trouble begins"
    if plan.trouble is not None and course.load_n[calm][-1] < 0.05 * rig.top_load_n:
        return "no load when trouble begins"
    if plan.trouble is not None and found.severe_s - plan.trouble.t_s > (
        3.2 if klass is Klass.SCUFFING_SUDDEN else 20.0
    ):
        return "slower than its class"
    if klass in (Klass.SEIZURE, Klass.JAM) and np.isnan(found.stall_s):
        return "no stall"
    if klass is Klass.OVERHEAT and not found.overheat_s < plan.length_s - 12.0:
        return "no overheat"
    if plan.trouble is not None and plan.trouble.heat is not None and _too_fast(rig, plan.trouble.heat, course):
        return "nothing heats so fast"
    return ""


def _too_fast(rig: Rig, cause: HeatTrouble, course: Course) -> bool:
    """Say whether a cause heats faster than it can: friction alone, a heater of a kilowatt or so, a small pin."""
    if cause is not HeatTrouble.HEATER and rig.top_power_w < _LEAST_HEATING_W:
        return True
    most_k_per_s = {HeatTrouble.COOLING: 0.15, HeatTrouble.HEATER: 0.6, HeatTrouble.PIN_DRY: 3.0}[cause]
    degc = course.pin_degc if cause is HeatTrouble.PIN_DRY else course.bath_degc
    return bool(np.max(np.diff(degc) / np.diff(course.t_s)) > most_k_per_s)


def _slow_for_long(rig: Rig, plan: Plan, twin: Course) -> np.ndarray:
    start_s = 3.0 + 8.0 * rig.drive.accelerate_s + 1.5 * rig.drive.ramp_s
    slow = np.zeros(len(twin.t_s), dtype=np.bool_)
    for span in plan.on:
        slow |= (twin.t_s > span.begin_s + start_s) & (twin.t_s < span.end_s) & (twin.ring_share < 0.6)
    if plan.lost is not None:
        slow &= twin.t_s < plan.lost.begin_s
    return slow


def limits_of(rig: Rig, plan: Plan, twin: Course, strictness: float) -> dict[str, float]:
    """Give the limits of a rig, each at least `MARGIN` above what healthy running reaches here.

    Args:
        rig, plan, twin: see there; what is faster than the grid is bounded by the rig's own unrest.
        strictness: 0 for the closest limit, 1 for a lax one.
    """
    pin_degc, bath_degc = temperature_limits_degc(rig)
    fast_share = most_fast_share(rig, plan)
    nominal_n = rig.contact.boundary_friction * rig.top_load_n
    force_n = float(twin.force_n.max()) * (1.0 + fast_share)
    force_limit_n = MARGIN * max(force_n, nominal_n) * (1.0 + 0.8 * strictness)
    # Behind the start, a motor that takes up speed again after a dip included.
    turning = twin.ring_share > 0.85
    fast_torque_share = fast_share * float(twin.force_n.max()) * rig.ring_radius_m / rig.drive.full_torque_nm
    current_share = max(float(twin.current_share[turning].max(initial=0.0)) + fast_torque_share, 0.5)
    current_share *= 1.0 + 2.0 * rig.current.ripple_share + rig.current.hunt_share + 4.0 * rig.current.noise_share
    current_limit_share = MARGIN * current_share * (1.0 + 0.6 * strictness)
    limits = {FRICTION_FORCE: force_limit_n, PIN_TEMPERATURE: pin_degc, BATH_TEMPERATURE: bath_degc}
    if force_limit_n > 0.95 * rig.friction_cell.range_n:
        del limits[FRICTION_FORCE]
    limit_a = current_limit_share * rig.drive.full_current_a
    held_a = rig.drive.current(rig.drive.peak_share, 0.0, 1.0) * rig.drive.full_current_a
    if limit_a < min(0.95 * rig.current.range_a, 0.9 * held_a):
        limits[MOTOR_CURRENT] = limit_a
    return {name: float(f"{limits[name]:.3g}") for name in CHANNELS_OF[rig.channel_set] if name in limits}


def most_fast_share(rig: Rig, plan: Plan) -> float:
    """Give by how much healthy friction rises above its course at most, but for one row in 100 000."""
    unrest = rig.unrest
    share = 4.3 * unrest.broad_share + 4.0 * unrest.slow_share + 1.4 * unrest.turn_share + rig.lever.runout_share
    if plan.spells:
        share += 1.6 * max(spell.strength for spell in plan.spells) * float(limit_cycle(rig.slip)[0].max())
    return share


def seen_by(
    rig: Rig, plan: Plan, courses: tuple[Course, Course], t_s: Floats, read: dict[str, Floats], limits: dict[str, float]
) -> tuple[str, ...]:
    """Give the channels on which an event moves by more than five times their own unrest within ten seconds.

    The movement is that of the noise-free course against its twin, the unrest that of the readings about their own
    running median in the ten seconds before the first forerunner (1.4826 times the median deviation, or a step).
    """
    trouble = plan.trouble
    if trouble is None:
        return ()
    names = CHANNELS_OF[rig.channel_set]
    if trouble.heat is not None:
        return tuple(name for name in names if name in limits and name in (PIN_TEMPERATURE, BATH_TEMPERATURE))
    inside = slice(*np.searchsorted(courses[0].t_s, [trouble.t_s, trouble.t_s + SEEN_WITHIN_S]))
    before = slice(*np.searchsorted(t_s, [trouble.first_s - _UNREST_S, trouble.first_s]))
    now, else_now = (_quantities(rig, plan, course) for course in courses)
    if rig.tachometer.on_motor:
        now[RING_SPEED], else_now[RING_SPEED] = (rig.ring_speed_rpm * course.motor_share for course in courses)
    seen = []
    for name in names:
        moved = float(np.max(np.abs(now[name][inside] - else_now[name][inside]), initial=0.0))
        values = read[name][before]
        values = values[np.isfinite(values)]
        if len(values) < 5:
            continue
        loose = values - median_filter(values, size=min(len(values), 101), mode="nearest")
        if moved > SEEN * max(1.4826 * float(np.median(np.abs(loose))), _step(rig, name)):
            seen.append(name)
    return tuple(seen)


def _quantities(rig: Rig, plan: Plan, course: Course) -> dict[str, Floats]:
    return {
        NORMAL_LOAD: course.load_n + rig.load_cell.crosstalk_share * course.force_n,
        FRICTION_FORCE: course.force_n,
        MOTOR_CURRENT: course.current_share * rig.drive.full_current_a,
        SOUND_LEVEL: contact_db(course, rig, plan),
        PIN_TEMPERATURE: course.pin_read_degc,
        BATH_TEMPERATURE: course.bath_read_degc,
        RING_SPEED: course.ring_share * rig.ring_speed_rpm,
    }


def _step(rig: Rig, name: str) -> float:
    pulses = rig.tachometer.pulses_per_turn
    return {
        NORMAL_LOAD: rig.load_cell.step_n,
        FRICTION_FORCE: rig.friction_cell.step_n,
        MOTOR_CURRENT: rig.current.step_a,
        SOUND_LEVEL: rig.sound.step_db,
        PIN_TEMPERATURE: rig.pin.step_k,
        BATH_TEMPERATURE: rig.bath.step_k,
        RING_SPEED: 60.0 / (pulses * rig.tachometer.gate_s) if pulses and rig.tachometer.kind.name == "GATE" else 0.0,
    }[name]


def tell(klass: Klass, plan: Plan, found: Found, seen: tuple[str, ...]) -> Truth:
    """Give the truth on the clock of the stamps."""

    def at(t_s: float) -> float:
        return nan if np.isnan(t_s) else float(clock(plan, np.array([t_s]))[0])

    trouble, fault = plan.trouble, plan.fault
    earliest_s = onset_s = jam_s = nan
    if trouble is not None:
        earliest_s = trouble.first_s
        onset_s = trouble.t_s if trouble.damage is not None else nan
        jam_s = trouble.t_s if trouble.jam_share else nan
        if trouble.heat is not None:
            earliest_s = max(trouble.t_s, found.overheat_s - BEFORE_LIMIT_S)
    lost_s = nan if plan.lost is None else plan.lost.begin_s
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=at(lost_s if trouble is None else earliest_s),
        onset_s=at(onset_s),
        severe_s=at(found.severe_s),
        stall_s=at(found.stall_s),
        jam_s=at(jam_s),
        overheat_s=at(found.overheat_s),
        supply_lost_s=at(lost_s),
        fault_s=nan if fault is None else at(fault.t_s),
        fault=None if fault is None else fault.fault,
        fault_channel="" if fault is None else fault.channel,
        precursor=Precursor.NONE if trouble is None else trouble.precursor,
        seen_by=seen,
        nuisances=tuple(plan.nuisances),
    )
