"""Makes a recording: draws rig and plan, integrates slowly, then fast, then reads every sensor. The package's top."""

import math

import numpy as np
from world_b.values import (
    CHANNELS_OF,
    PIN_TEMPERATURE,
    ChannelSet,
    Floats,
    Inside,
    Klass,
    Recording,
)

from world_l.clock import even_s
from world_l.draws import Purpose, pick, stream
from world_l.drive import current_a
from world_l.effects import effects
from world_l.growth import ScuffTraces, scuff_traces
from world_l.limits import Limits, draw_limits, strong_enough
from world_l.loading import load_trace_n
from world_l.plan import Plan
from world_l.readings import Angles
from world_l.recording import Made, record
from world_l.rig import Rig, draw_rig
from world_l.sensors import draw_sensors
from world_l.shaft import ShaftInputs, ShaftTrace, turn
from world_l.slow import STEP_S, SlowTraces, Trouble, run_slow, true_temperatures
from world_l.sound import sound_level_db
from world_l.timeline import draw_plan, first_event_s

FAST_HZ = 100.0
"""The shaft is integrated at least this often."""


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give one recording; equal arguments give equal bits."""
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give one recording and the world behind it.

    Args:
        seed: >= 0.
        klass: what happens.
        rate_hz: rows a second, 10 to 1000.
        channel_set: which channels the rig has; drawn where None.
    Raises:
        ValueError: rate outside its range.
    """
    if not 10.0 <= rate_hz <= 1000.0:
        raise ValueError(f"rate_hz is {rate_hz}, range 10 to 1000")
    rig = draw_rig(stream(seed, klass, Purpose.RIG), klass)
    plan = draw_plan(stream(seed, klass, Purpose.PLAN), klass, rig)
    sensors = draw_sensors(stream(seed, klass, Purpose.SENSORS), rig)
    channel_set = channel_set or _draw_channel_set(stream(seed, klass, Purpose.CHANNELS), klass)
    made = _make(rig, plan, rate_hz, seed, klass)
    return record(seed, klass, rig, plan, sensors, channel_set, made), made.inside


def _draw_channel_set(rng: np.random.Generator, klass: Klass) -> ChannelSet:
    """Draw a set; an overheat on a rig without thermocouple, or a lone sensor that breaks, is nobody's to see."""
    sets = list(ChannelSet)
    if klass is Klass.OVERHEAT:
        sets = [s for s in sets if PIN_TEMPERATURE in CHANNELS_OF[s]]
    elif klass is Klass.SCUFFING_WITH_FAULT:
        sets = [s for s in sets if len(CHANNELS_OF[s]) > 1]
    return pick(rng, sets)


def _make(rig: Rig, plan: Plan, rate_hz: float, seed: int, klass: Klass) -> Made:
    finer = math.ceil(FAST_HZ / rate_hz - 1e-9)
    dt_s = 1.0 / (rate_hz * finer)
    t_s = even_s(int(plan.duration_s * rate_hz) * finer, dt_s)
    slow_s = even_s(int(t_s[-1] / STEP_S) + 2, STEP_S)
    rng = stream(seed, klass, Purpose.UNREST)
    load_seed, effect_seed, sound_seed, limit_seed = (int(k) for k in rng.integers(2**31, size=4))
    on, slow_on = (_switched_on(plan, clock) for clock in (t_s, slow_s))
    load_n, slow_load_n = (
        load_trace_n(rig, plan.loads, clock, np.random.default_rng(load_seed)) for clock in (t_s, slow_s)
    )
    did, slow_did = (effects(rig, plan, clock, np.random.default_rng(effect_seed)) for clock in (t_s, slow_s))
    heated, slow_heated = (_heated_friction(plan, clock) for clock in (t_s, slow_s))
    load_n *= did.load
    slow = run_slow(rig, plan, slow_load_n, slow_did.friction, slow_on, Trouble())
    limits = draw_limits(np.random.default_rng(limit_seed), rig, slow, first_event_s(plan))
    scuff = _still(t_s)
    trouble = Trouble()
    if plan.scuff is not None:
        factor = _reachable_factor(rig, plan, slow, slow_load_n)
        # the film stays that of the healthy run: all that the scuffing does to friction is in its factor
        scuff = scuff_traces(plan.scuff, factor, t_s)
    elif plan.overheat is not None:
        plan_gain = slow_did.friction * slow_heated
        slow, trouble, plan = strong_enough(rig, plan, slow_load_n, plan_gain, slow_on, limits)
    inputs = _shaft_inputs(rig, plan, t_s, slow, load_n, did.friction * heated * scuff.factor, scuff, did.supply, on)
    mid_run = plan.switched[0][0] < 0
    trace = turn(rig, inputs, dt_s, mid_run, 2.0 * math.pi * (load_seed % 1000) / 1000.0)
    return _gather(rig, plan, t_s, finer, inputs, trace, slow, trouble, scuff, limits, sound_seed)


def _switched_on(plan: Plan, t_s: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    on = np.zeros(len(t_s), dtype=bool)
    for begin_s, end_s in plan.switched:
        on |= (t_s >= begin_s) & (t_s < end_s)
    if not math.isnan(plan.supply_lost_s):
        on &= t_s < plan.supply_lost_s
    return on


def _heated_friction(plan: Plan, t_s: Floats) -> Floats:
    """Give the factor by which an overheating contact's friction falls or rises, over a minute."""
    if plan.overheat is None:
        return np.ones_like(t_s)
    gain: Floats = 1.0 + (plan.overheat.friction_gain - 1.0) * np.clip((t_s - plan.overheat.t_s) / 60.0, 0.0, 1.0)
    return gain


def _still(t_s: Floats) -> ScuffTraces:
    return ScuffTraces(np.ones_like(t_s), np.zeros_like(t_s), np.zeros_like(t_s))


HIGHEST_COEFFICIENT = 0.9
"""Galling steel on steel; the factor of a scuffing ends here unless the pin welds on (from memory)."""


LOWEST_COEFFICIENT = 0.16
"""Boundary films lie at 0.09 to 0.14 (Zhang, Ueda, Campen, Spikes 2021): less than this is no scuffing but lost oil."""


def _reachable_factor(rig: Rig, plan: Plan, slow: SlowTraces, slow_load_n: Floats) -> float:
    """Give the factor the rise ends at: as planned below the highest coefficient, or what stops the motor."""
    assert plan.scuff is not None
    i = min(int(plan.scuff.onset_s / STEP_S), len(slow.t_s) - 1)
    share = (1.0 + slow.film[i]) ** -2
    healthy = float(share * slow.boundary[i] + (1.0 - share) * slow.traction[i])
    if plan.scuff.welds:
        stopping_nm = min(rig.drive.peak_torque_nm, rig.drive.belt_limit_nm)
        return 1.0 + 1.4 * stopping_nm / (rig.ring_radius_m * healthy * float(slow_load_n[i]))
    return min(max(plan.scuff.factor, 1.6, LOWEST_COEFFICIENT / healthy), HIGHEST_COEFFICIENT / healthy)


def _shaft_inputs(
    rig: Rig, plan: Plan, t_s: Floats, slow: SlowTraces, load_n: Floats, gain: Floats, scuff: ScuffTraces,
    supply: Floats, on: np.ndarray[tuple[int], np.dtype[np.bool_]],
) -> ShaftInputs:  # fmt: skip
    def fast(values: Floats) -> Floats:
        return np.interp(t_s, slow.t_s, values)

    jam_nm = np.zeros_like(t_s)
    if plan.jam is not None:
        jam_nm = rig.drive.peak_torque_nm * plan.jam.strength * np.clip((t_s - plan.jam.t_s) / plan.jam.grips_s, 0, 1)
    ran_s = np.cumsum(on) * (t_s[1] - t_s[0]) + max(-plan.switched[0][0], 0.0)
    flux = 1.0 + (rig.drive.warm_flux_ratio - 1.0) * -np.expm1(-ran_s / rig.drive.motor_warming_s)
    drag_nm = rig.drag_nm * fast(slow.drag_ratio)
    boundary, traction, film = fast(slow.boundary), fast(slow.traction), fast(slow.film)
    return ShaftInputs(load_n, boundary, traction, film, gain, scuff.patch, drag_nm, jam_nm, on, supply, flux)


def _gather(
    rig: Rig, plan: Plan, t_s: Floats, finer: int, inputs: ShaftInputs, trace: ShaftTrace, slow: SlowTraces,
    trouble: Trouble, scuff: ScuffTraces, limits: Limits, sound_seed: int,
) -> Made:  # fmt: skip
    power_w = trace.friction_n * trace.ring_rad_s * rig.ring_radius_m
    edges = np.searchsorted(t_s, STEP_S * np.arange(int(t_s[-1] / STEP_S) + 1) - 1e-9)
    step_w = np.add.reduceat(power_w, edges) / np.diff(np.append(edges, len(t_s)))
    pin_degc, bath_degc, heat = true_temperatures(
        rig, plan, step_w, (float(slow.pin_degc[0]), float(slow.bath_degc[0])), trouble
    )
    clock_s = STEP_S * np.arange(len(pin_degc))
    taken_a = current_a(rig.drive, trace.torque_nm, trace.motor_rad_s, inputs.supply, inputs.flux)
    taken_a = np.where(trace.on, taken_a, 0.0)
    heard_db = sound_level_db(
        rig, plan, t_s, trace.ring_rad_s, trace.motor_rad_s, trace.friction_n, scuff.progress, trace.on,
        np.random.default_rng(sound_seed),
    )  # fmt: skip
    dt_s = float(t_s[1] - t_s[0])
    row = slice(None, None, finer)
    rows_s = t_s[row]
    inside = Inside(
        t_s=rows_s,
        normal_load_n=inputs.load_n[row],
        friction_force_n=trace.friction_n[row],
        motor_current_a=taken_a[row],
        ring_speed_rad_s=trace.ring_rad_s[row],
        motor_speed_rad_s=trace.motor_rad_s[row],
        shaft_torque_nm=trace.torque_nm[row],
        bath_temperature_degc=np.interp(rows_s, clock_s, bath_degc),
        pin_temperature_degc=np.interp(rows_s, clock_s, pin_degc),
        sound_level_db=heard_db[row],
        on=trace.on[row],
        heat_in_j=heat.put_in_j,
        bath_heat_j=rig.heat.bath_j_per_k * float(bath_degc[-1] - bath_degc[0]),
        drag_torque_nm=rig.drag_nm,
        ring_radius_m=rig.ring_radius_m,
    )
    angles = Angles(trace.ring_rad[row], (np.cumsum(trace.motor_rad_s) * dt_s)[row])
    return Made(inside, angles, limits)
