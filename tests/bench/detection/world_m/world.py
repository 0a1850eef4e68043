"""Make a recording: rig, plan, physics, sensors, rows, truth.

Reads every module of the package; gives `Recording` and, for tests of the world itself, `Inside`.
"""

from dataclasses import replace
from functools import partial
from math import isnan, pi

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
    Nuisance,
    Recording,
    RigFacts,
)

from world_m.design import Design, draw_design
from world_m.faults import break_sensor, draw_broken
from world_m.gauges import Gauges, draw_gauges
from world_m.idle import Idle, idle
from world_m.noise import sound_level_db
from world_m.plan import Plan
from world_m.readings import readings
from world_m.rows import kept, spoil, stamps_s
from world_m.run import Traces, run
from world_m.schedule import draw_plan
from world_m.streams import between, happens, stream
from world_m.truth import read_truth

LEAST_RATE_HZ, MOST_RATE_HZ = 10.0, 1000.0
ALL_SHARE = 0.64
"""Share of rigs with all channels, where the set is drawn."""


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording; equal arguments give equal bits.

    Args:
        seed: >= 0.
        klass: what is recorded.
        rate_hz: of the rows, 10..1000.
        channel_set: drawn where None.

    Raises:
        ValueError: rate outside its range.
    """
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and the noise-free world behind it; see `generate`."""
    if not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
        raise ValueError(f"rate {rate_hz} Hz is outside {LEAST_RATE_HZ}..{MOST_RATE_HZ} Hz")
    chosen = channel_set or _draw_set(seed, klass)
    design = draw_design(seed, klass)
    plan, traces = run(seed, design, draw_plan(seed, klass, design))
    sound = sound_level_db(stream(seed, klass, "sound"), plan, design, traces)
    bare = idle(design)
    hum, coarse = bool(plan.of(Kind.MAINS_HUM)), bool(plan.of(Kind.COARSE_TEMPERATURE))
    gauges = draw_gauges(stream(seed, klass, "gauges"), design, hum, coarse, bare.stall_current_a)
    rig = _rig(seed, klass, design, plan, bare, gauges, chosen)
    recording = _record(seed, plan, design, traces, sound, gauges, rig, rate_hz, bare)
    return recording, _inside(design, traces, sound)


def _draw_set(seed: int, klass: Klass) -> ChannelSet:
    """Draw the channels: all in most; never none that could show an overheat, or a scuffing beside a broken sensor."""
    rng = stream(seed, klass, "channel set")
    if happens(rng, ALL_SHARE):
        return ChannelSet.ALL
    others = [ChannelSet.FRICTION_CELL, ChannelSet.LOAD_CELL]
    if klass is not Klass.OVERHEAT:
        others.append(ChannelSet.CURRENT_AND_SPEED)
    if klass not in (Klass.OVERHEAT, Klass.SCUFFING_WITH_FAULT):
        others.append(ChannelSet.CURRENT_ONLY)
    return others[int(rng.integers(len(others)))]


def _rig(
    seed: int, klass: Klass, design: Design, plan: Plan, bare: Idle, gauges: Gauges, chosen: ChannelSet
) -> RigFacts:
    names = CHANNELS_OF[chosen]
    limits = {PIN_TEMPERATURE: design.thermal.pin_limit_degc, BATH_TEMPERATURE: design.thermal.bath_limit_degc}
    return RigFacts(
        ring_diameter_mm=2000.0 * design.radius_m,
        ring_speed_rpm=bare.speed_rad_s * 30.0 / pi,
        no_load_current_a=bare.current_a * between(stream(seed, klass, "by hand"), 0.96, 1.04),
        ranges={name: (gauges.of[name].low, gauges.of[name].high) for name in names},
        limits={name: limit for name, limit in limits.items() if name in names},
        channel_set=chosen,
        drive=design.drive.kind,
        belt=design.belt_nm > 0.0,
        tachometer=gauges.speed.kind,
        pulses_per_turn=gauges.speed.pulses_per_turn,
        tachometer_on_motor=gauges.speed.on_motor,
        loads_n=plan.loads_n,
    )


def _record(
    seed: int,
    plan: Plan,
    design: Design,
    traces: Traces,
    sound: Floats,
    gauges: Gauges,
    rig: RigFacts,
    rate_hz: float,
    bare: Idle,
) -> Recording:
    names = CHANNELS_OF[rig.channel_set]
    own = partial(stream, seed, plan.klass)
    row_s = np.arange(int(plan.duration_s * rate_hz)) / rate_hz
    shown = readings(own, names, row_s, gauges, traces, sound)
    broken = None
    if not isnan(plan.fault_s):
        broken = draw_broken(own("fault"), plan.klass, names, plan.fault_s)
        room = rig.limits.get(broken.channel, np.inf) - shown[broken.channel]
        break_sensor(own("fault course"), broken, row_s, shown, gauges, room)
    nuisances = _nuisances(plan, traces, gauges, names)
    truth = read_truth(plan, design, bare.speed_rad_s, traces, broken, row_s, shown, nuisances)
    spoil(own("rows"), plan, row_s, shown, gauges)
    keep = kept(plan, row_s)
    stamps = stamps_s(plan, row_s)
    return Recording(stamps[keep], {name: value[keep] for name, value in shown.items()}, rig, truth)


def _nuisances(plan: Plan, traces: Traces, gauges: Gauges, names: tuple[str, ...]) -> tuple[Nuisance, ...]:
    """Give every healthy thing that fell within the recording, on the clock of the stamps."""
    found = [n for n in plan.nuisances if n.t_s < plan.duration_s]
    needs = {Kind.MAINS_HUM: (FRICTION_FORCE,), Kind.COARSE_TEMPERATURE: (PIN_TEMPERATURE, BATH_TEMPERATURE)}
    found = [n for n in found if n.kind not in needs or any(name in names for name in needs[n.kind])]
    railed = np.flatnonzero(traces.current_a > gauges.of[MOTOR_CURRENT].high)
    if railed.size and not traces.t_s[railed[0]] >= plan.event_s:
        found.append(Nuisance(Kind.CURRENT_RAIL, float(traces.t_s[railed[0]])))
    mapped = []
    for nuisance in sorted(found, key=lambda n: n.t_s):
        begin_s = plan.stamp_s(nuisance.t_s)
        end_s = plan.stamp_s(min(nuisance.t_s + nuisance.duration_s, plan.duration_s))
        mapped.append(replace(nuisance, t_s=begin_s, duration_s=end_s - begin_s))
    return tuple(mapped)


def _inside(design: Design, traces: Traces, sound: Floats) -> Inside:
    return Inside(
        t_s=traces.t_s,
        normal_load_n=traces.load_n,
        friction_force_n=traces.friction_n,
        motor_current_a=traces.current_a,
        ring_speed_rad_s=traces.ring_rad_s,
        motor_speed_rad_s=traces.motor_rad_s,
        shaft_torque_nm=traces.torque_nm,
        bath_temperature_degc=traces.bath_degc,
        pin_temperature_degc=traces.pin_degc,
        sound_level_db=sound,
        on=traces.supply > 0.0,
        heat_in_j=traces.friction_j + traces.heater_j,
        bath_heat_j=traces.bath_j,
        drag_torque_nm=design.drag_nm,
        ring_radius_m=design.radius_m,
    )
