"""The world's two doors: `generate` for a recording, `simulate` for the recording and the world behind it."""

from dataclasses import dataclass

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    ChannelSet,
    Floats,
    Inside,
    Kind,
    Klass,
    Recording,
)

from world_k.core import Bench, Trace
from world_k.facts import facts_of, healthy_rows, limits_of, ranges_of
from world_k.losses import (
    break_sensor,
    draw_fault,
    drop_samples,
    repeat_stamps,
    rows_kept,
    spike,
    stamps_s,
    turn_stamps_back,
)
from world_k.nuisances import Placer
from world_k.plan import Plan
from world_k.rig import Rig, draw_rig
from world_k.script import Script, script_of
from world_k.sensors import channels_of
from world_k.sound import Ears, draw_ears, level_db
from world_k.stories import plan_of
from world_k.truth import truth_of

OWN = 0x6B
"""Keeps this world's draws apart from those of a world seeded alike."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """Which nuisances of sensors and file this recording has."""

    hum: bool
    coarse: bool
    spikes: bool
    dropouts: bool
    holes: bool
    repeats: bool
    backward: bool


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give one recording; equal arguments give equal bits."""
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give one recording and the noise-free world behind it.

    The rig and the plan do not depend on the rate or on the channel set asked for.
    """
    source = np.random.SeedSequence([seed, list(Klass).index(klass), OWN])
    rig_rng, plan_rng, script_rng, bench_rng, sensor_rng, loss_rng = map(np.random.default_rng, source.spawn(6))
    rig = draw_rig(rig_rng, klass)
    chosen = channel_set or rig.channel_set
    ears = draw_ears(rig_rng, rig.drive.healthy_nm * rig.set_speed_rad_s)
    plan = plan_of(plan_rng, rig, klass)
    script = script_of(plan, rig, script_rng, rate_hz)
    Placer(plan_rng, rig, plan, script, ears).all_sorts()
    plan.top_ups_s.sort()
    trace = Bench(rig, plan, script, bench_rng).run()
    plan.duration_s = trace.live.size / rate_hz
    before_db = _sound(rig, ears, script, trace)
    recording = _record(sensor_rng, loss_rng, rig, plan, trace, before_db, chosen, rate_hz)
    return recording, _inside(rig, trace, before_db, rate_hz)


def _sound(rig: Rig, ears: Ears, script: Script, trace: Trace) -> Floats:
    count = trace.live.size
    full_w = 0.1 * rig.full_load_n * rig.set_speed_rad_s * rig.radius_m
    rubbing = trace.friction_n * trace.ring_rad_s * rig.radius_m / full_w
    squeal_db = np.where(trace.ring_rad_s > 0.05 * rig.set_speed_rad_s, script.squeal_db[:count], -100.0)
    others_db = [squeal_db, script.room_db[:count]]
    return level_db(ears, trace.motor_rad_s / rig.set_speed_rad_s, rubbing, trace.weld, others_db)


def _draw_wiring(rng: np.random.Generator) -> Wiring:
    chances = (0.2, 0.18, 0.2, 0.2, 0.2, 0.1, 0.08)
    return Wiring(*(bool(rng.random() < chance) for chance in chances))


def _record(
    sensor_rng: np.random.Generator,
    loss_rng: np.random.Generator,
    rig: Rig,
    plan: Plan,
    trace: Trace,
    before_db: Floats,
    chosen: ChannelSet,
    rate_hz: float,
) -> Recording:
    wiring = _draw_wiring(loss_rng)
    count, names = trace.live.size, CHANNELS_OF[chosen]
    made = channels_of(sensor_rng, rig, trace, before_db, rate_hz, hum=wiring.hum, coarse=wiring.coarse)
    healthy = healthy_rows(plan, count, rate_hz)
    limits = limits_of(sensor_rng, rig, trace, made, healthy)
    ranges = ranges_of(sensor_rng, rig, trace, limits, healthy)
    channels = {name: made[name] for name in names}
    _note_wiring(plan, wiring, trace, ranges, names)
    if wiring.spikes:
        spike(loss_rng, channels, ranges)
    for name, values in channels.items():
        np.clip(values, *ranges[name], out=values)
    _fault(loss_rng, plan, channels, ranges, rate_hz)
    if wiring.dropouts:
        drop_samples(loss_rng, channels)
    time_s = stamps_s(loss_rng, plan, count, rate_hz)
    kept = rows_kept(loss_rng, plan, count, rate_hz) if wiring.holes else np.ones(count, dtype=np.bool_)
    if wiring.repeats:
        repeat_stamps(loss_rng, plan, time_s)
    if wiring.backward:
        turn_stamps_back(loss_rng, plan, time_s)
    truth = truth_of(plan, rig, trace, channels, limits, rate_hz)
    facts = facts_of(sensor_rng, rig, plan, chosen, ranges, limits)
    return Recording(time_s[kept], {name: values[kept] for name, values in channels.items()}, facts, truth)


def _fault(
    rng: np.random.Generator,
    plan: Plan,
    channels: dict[str, Floats],
    ranges: dict[str, tuple[float, float]],
    rate_hz: float,
) -> None:
    if plan.klass is Klass.SENSOR_FAULT:
        draw_fault(rng, plan, tuple(channels), 0.25 * plan.duration_s, 0.85 * plan.duration_s)
    elif plan.klass is Klass.SCUFFING_WITH_FAULT:
        draw_fault(rng, plan, tuple(channels), plan.precursor_s - 150.0, plan.precursor_s - 30.0)
    else:
        return
    break_sensor(rng, plan, channels[plan.fault_channel], rate_hz, ranges[plan.fault_channel])


def _note_wiring(
    plan: Plan, wiring: Wiring, trace: Trace, ranges: dict[str, tuple[float, float]], names: tuple[str, ...]
) -> None:
    whole_s = plan.duration_s
    if wiring.hum and FRICTION_FORCE in names:
        plan.note(Kind.MAINS_HUM, 0.0, whole_s)
    if wiring.coarse and (PIN_TEMPERATURE in names or BATH_TEMPERATURE in names):
        plan.note(Kind.COARSE_TEMPERATURE, 0.0, whole_s)
    if wiring.spikes:
        plan.note(Kind.SPIKES, 0.0, whole_s)
    if wiring.dropouts:
        plan.note(Kind.SHORT_DROPOUTS, 0.0, whole_s)
    beyond = trace.current_a > ranges[MOTOR_CURRENT][1]
    rate_hz = trace.live.size / whole_s
    for first in np.flatnonzero(beyond[1:] & ~beyond[:-1]):
        t_s = float(first + 1) / rate_hz
        if t_s < plan.story_s - 0.1:
            plan.note(Kind.CURRENT_RAIL, t_s)


def _inside(rig: Rig, trace: Trace, before_db: Floats, rate_hz: float) -> Inside:
    return Inside(
        t_s=np.arange(trace.live.size) / rate_hz,
        normal_load_n=trace.load_n,
        friction_force_n=trace.friction_n,
        motor_current_a=trace.current_a,
        ring_speed_rad_s=trace.ring_rad_s,
        motor_speed_rad_s=trace.motor_rad_s,
        shaft_torque_nm=trace.torque_nm,
        bath_temperature_degc=trace.bath_degc,
        pin_temperature_degc=trace.pin_degc,
        sound_level_db=before_db,
        on=trace.live,
        heat_in_j=trace.heat_in_j,
        bath_heat_j=trace.bath_heat_j,
        drag_torque_nm=rig.drive.drag_nm,
        ring_radius_m=rig.radius_m,
    )
