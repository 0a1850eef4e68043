"""Brings a world to paper: channels chosen, truth told, facts written, rows noted.  Gives `Recording` and `Inside`."""

import math
from dataclasses import replace

import numpy as np
from numpy.random import Generator
from world_b.values import (
    CHANNELS_OF,
    MOTOR_CURRENT,
    NAN,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    TRIP_WORTHY,
    ChannelSet,
    Fault,
    Floats,
    Inside,
    Klass,
    Recording,
    RigFacts,
    Tachometer,
    Truth,
)

from world_o import truth as find
from world_o.damage import TIPS
from world_o.drives import idle_current_a
from world_o.parts import CORE_DT_S, stream
from world_o.rows import Broken, rows
from world_o.sensors import Sensor, draw_sensors
from world_o.world import World, build

TEMPERATURES = ("pin_temperature_degc", "bath_temperature_degc")
FITS = {
    Fault.OPEN_THERMOCOUPLE: TEMPERATURES,
    Fault.TACHOMETER_LOST: (RING_SPEED,),
    Fault.SIGN_FLIP: ("friction_force_n", "normal_load_n"),
}
LEFT_AFTER_S = 19.0
"""A recording goes on at least this long after the limit is passed."""

LIMITED_OFTEN = {"pin_temperature_degc": 0.9, "bath_temperature_degc": 0.6}


def _inside(world: World, rate_hz: float) -> Inside:
    """Give the inner world at a rate, by straight lines between the core's steps."""
    core = world.tracks.t_s
    t_s = np.arange(0.0, math.floor(core[-1] * rate_hz + 1e-6) + 1.0) / rate_hz
    same = t_s.size == core.size and abs(rate_hz * CORE_DT_S - 1.0) < 1e-9

    def at(values: Floats) -> Floats:
        """Give a track at the rate asked for."""
        return values.copy() if same else np.interp(t_s, core, values)

    m, w = world.motion, world.warmth
    return Inside(
        t_s=t_s,
        normal_load_n=at(world.tracks.load_n),
        friction_force_n=at(m.friction_n),
        motor_current_a=at(m.current_a),
        ring_speed_rad_s=at(m.ring_rad_s),
        motor_speed_rad_s=at(m.motor_rad_s),
        shaft_torque_nm=at(m.torque_nm),
        bath_temperature_degc=at(w.bath_degc),
        pin_temperature_degc=at(w.pin_degc),
        sound_level_db=at(world.sound_db),
        on=at(world.tracks.on_ratio * (world.tracks.supply_ratio > 0.02)) > 0.5,
        heat_in_j=w.heat_in_j,
        bath_heat_j=w.bath_j,
        drag_torque_nm=world.rig.drive.drag_nm,
        ring_radius_m=world.rig.radius_m,
    )


def _core_tracks(world: World) -> dict[str, Floats]:
    """Give the true tracks by channel."""
    m, w = world.motion, world.warmth
    speed = m.motor_rad_s if world.rig.tachometer_on_motor else m.ring_rad_s
    return {
        "normal_load_n": world.tracks.load_n,
        "friction_force_n": m.friction_n,
        MOTOR_CURRENT: m.current_a,
        SOUND_LEVEL: world.sound_db,
        PIN_TEMPERATURE: w.pin_degc,
        "bath_temperature_degc": w.bath_degc,
        RING_SPEED: speed * 30.0 / np.pi,
    }


def _seen(world: World, sensors: dict[str, Sensor]) -> tuple[str, ...]:
    """Give every channel on which scuffing, seizure or jam shows; none of them moves the load in this world."""
    plan = world.plan
    if plan.klass not in TIPS and plan.klass is not Klass.JAM:
        return ()
    at_s = world.onset_s if plan.klass in TIPS else plan.event_s
    tracks = {n: v for n, v in _core_tracks(world).items() if n != NORMAL_LOAD}
    rig, tach = world.rig, sensors[RING_SPEED]
    if rig.tachometer is Tachometer.GATE:
        sensors = sensors | {RING_SPEED: replace(tach, step=60.0 / (rig.pulses_per_turn * tach.rate_hz))}
    set_s = max((t for t, _ in plan.steps if t < at_s), default=0.0)
    lead_s = min(10.0, at_s - set_s - find.SETTLED_S)
    return tuple(n for n, v in tracks.items() if find.moves(sensors[n], v, at_s, plan.event_s, lead_s, n))


def _channel_set(rng: Generator, klass: Klass, seen: tuple[str, ...], asked: ChannelSet | None) -> ChannelSet:
    """Give the channels asked for, or a set on which the class can be seen: all seven in most recordings."""
    narrow = [c for c in ChannelSet if c is not ChannelSet.ALL]
    drawn = ChannelSet.ALL if rng.random() < 0.7 else narrow[int(rng.integers(4))]
    if asked is not None:
        return asked
    names = CHANNELS_OF[drawn]
    if klass is Klass.OVERHEAT and PIN_TEMPERATURE not in names:
        return ChannelSet.ALL
    need = {Klass.STICK_SLIP: "friction_force_n", Klass.SQUEAL: SOUND_LEVEL}.get(klass)
    if need is not None and need not in names:
        return ChannelSet.ALL
    visible = [n for n in names if n in seen]
    least = 2 if klass is Klass.SCUFFING_WITH_FAULT else 1
    if klass in (*TIPS, Klass.JAM) and len(visible) < least:
        return ChannelSet.ALL
    return drawn


def _broken(rng: Generator, world: World, names: tuple[str, ...], seen: tuple[str, ...]) -> Broken | None:
    """Give the fault and its channel: never the only one that shows the event, nor the only one there is beside it."""
    fault, size = world.plan.fault, float(rng.random())
    draws = rng.random(2)
    if fault is None:
        return None
    fits = [n for n in names if n in FITS.get(fault, names)]
    if not fits or (fault is Fault.SATURATED and len(names) == 1):  # a lone current at its rail might be a jam
        fault, fits = Fault.STUCK if draws[1] < 0.5 else Fault.DROPOUT, list(names)
    if world.plan.klass is Klass.SCUFFING_WITH_FAULT:
        fits = [n for n in fits if set(seen) & set(names) - {n}]
        if not fits:
            return None
    return Broken(fault, fits[int(draws[0] * len(fits))], world.plan.fault_s, size)


def _truth(
    world: World, seen: tuple[str, ...], broken: Broken | None, limits: dict[str, float], overheat_s: float
) -> Truth:  # fmt: skip
    """Give what happened, on the clock of the stamps."""
    plan, klass = world.plan, world.plan.klass
    seen = tuple(limits) if klass is Klass.OVERHEAT else seen
    if broken is not None:
        seen = tuple(n for n in seen if n != broken.channel)
    ends_s, at = float(world.tracks.t_s[-1]), plan.stamped_s
    earliest_s = max(plan.event_s, overheat_s - 180.0) if klass is Klass.OVERHEAT else plan.event_s
    listed = sorted((n for n in plan.listed if n.t_s < ends_s), key=lambda n: n.t_s)
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=at(earliest_s),
        onset_s=at(world.onset_s),
        severe_s=at(world.severe_s),
        stall_s=at(world.stall_s),
        jam_s=at(plan.event_s) if klass is Klass.JAM else NAN,
        overheat_s=at(overheat_s),
        supply_lost_s=at(plan.event_s) if klass is Klass.SUPPLY_LOST else NAN,
        fault_s=at(broken.at_s) if broken is not None else NAN,
        fault=broken.fault if broken is not None else None,
        fault_channel=broken.channel if broken is not None else "",
        precursor=find.label(plan),
        seen_by=seen,
        nuisances=tuple(replace(n, t_s=at(n.t_s)) for n in listed),
    )


def _facts(
    rng: Generator, world: World, channels: ChannelSet, sensors: dict[str, Sensor], limits: dict[str, float]
) -> RigFacts:  # fmt: skip
    """Give what the technician wrote down, a few per cent wrong."""
    rig, d = world.rig, world.rig.drive
    return RigFacts(
        ring_diameter_mm=round(2000.0 * rig.radius_m * (1.0 + rng.normal(0.0, 0.01)), 1),
        ring_speed_rpm=float(np.round(rig.speed_rpm * (1.0 + rng.normal(0.0, 0.015)))),
        no_load_current_a=float(idle_current_a(d) * (1.0 + rng.normal(0.0, 0.03))),
        ranges={n: (sensors[n].low, sensors[n].high) for n in CHANNELS_OF[channels]},
        limits=limits,
        channel_set=channels,
        drive=d.kind,
        belt=d.belt,
        tachometer=rig.tachometer,
        pulses_per_turn=rig.pulses_per_turn,
        tachometer_on_motor=rig.tachometer_on_motor,
        loads_n=tuple(load_n for at_s, load_n in world.plan.steps if at_s < world.tracks.t_s[-1]),
    )


def record(seed: int, klass: Klass, rate_hz: float, asked: ChannelSet | None) -> tuple[Recording, Inside]:
    """Give a recording and the world behind it; arguments as of `world_o.simulate`."""
    if not 10.0 <= rate_hz <= 1000.0:
        raise ValueError(f"rate_hz {rate_hz}: 10 to 1000 rows a second can be made")
    if seed < 0:
        raise ValueError(f"seed {seed}: must not be negative")
    world = build(seed, klass)
    rng = stream(seed, klass, "report")
    running_a = float(np.median(world.motion.current_a[world.motion.ring_rad_s > 0.5 * world.rig.drive.speed_rad_s]))
    sensors = draw_sensors(rng, world.plan, world.rig, running_a)
    seen = _seen(world, sensors)
    chosen = _channel_set(rng, klass, seen, asked)
    names = CHANNELS_OF[chosen]
    broken = _broken(rng, world, names, seen)
    limits, overheat_s = _limits(rng, world, names)
    world_truth = _truth(world, tuple(n for n in seen if n in names), broken, limits, overheat_s)
    facts = _facts(rng, world, chosen, sensors, limits)
    thin = max(1, math.ceil(100.0 / rate_hz))
    inner = _inside(world, rate_hz * thin)
    lean_n = np.interp(inner.t_s, world.tracks.t_s, world.tracks.lean_n)
    noise = stream(seed, klass, "noise")
    time_s, channels = rows(noise, world.plan, world.rig, inner, sensors, names, lean_n, broken, thin)
    return Recording(time_s, channels, facts, world_truth), inner if thin == 1 else _inside(world, rate_hz)


def _limits(rng: Generator, world: World, names: tuple[str, ...]) -> tuple[dict[str, float], float]:
    """Give the limits written down, and when the first of them is passed in an overheat.

    What an overheat passes is always limited if it is measured; on a rig without a bath thermocouple the pin's limit is
    set so low that the bath's heat passes it as well.
    """
    draws = {n: rng.random() for n in TEMPERATURES}
    limits = {n: world.limit_degc[n] for n in TEMPERATURES if n in names and draws[n] < LIMITED_OFTEN[n]}
    if world.plan.klass is not Klass.OVERHEAT:
        return limits, NAN
    tracks, end = _core_tracks(world), round(world.overheat_s / CORE_DT_S) + 1
    in_time = slice(0, -round(LEFT_AFTER_S / CORE_DT_S))
    for n in TEMPERATURES:
        if n in names and tracks[n][in_time].max() > world.limit_degc[n]:
            limits[n] = world.limit_degc[n]
    if PIN_TEMPERATURE in names and not any(tracks[n][in_time].max() > limit for n, limit in limits.items()):
        pin_degc = tracks[PIN_TEMPERATURE]
        healthy_degc = float(pin_degc[: round(world.plan.event_s / CORE_DT_S)].max())
        limits[PIN_TEMPERATURE] = max(math.floor(float(pin_degc[:end].max()) * 2.0 - 0.01) / 2.0, healthy_degc + 0.5)
    over = [int(np.argmax(tracks[n] > limit)) for n, limit in limits.items() if tracks[n].max() > limit]
    return limits, min(over) * CORE_DT_S if over else world.overheat_s
