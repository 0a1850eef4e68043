"""What the technician writes down: ranges of the channels and limits. Reads rig and trace, gives `RigFacts`."""

import math

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    ChannelSet,
    DriveKind,
    Flags,
    Floats,
    RigFacts,
)

from world_k.core import Trace
from world_k.drives import free_current_a
from world_k.plan import Plan
from world_k.rig import Rig

ROUND_NUMBERS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
STEADY_DRIVES = (DriveKind.BRUSHED_LIMITED, DriveKind.INDUCTION_INVERTER)


def round_up(value: float) -> float:
    """Give the next round number, as sensors are sold and limits are set."""
    decade = 10.0 ** math.floor(math.log10(value))
    return float(f"{next(step for step in ROUND_NUMBERS if step * decade >= value * 0.9999) * decade:.6g}")


def healthy_rows(plan: Plan, count: int, rate_hz: float) -> Flags:
    """Give the rows before anything goes wrong with contact or shaft; coasting after a lost supply is healthy."""
    ends_s = [plan.precursor_s, plan.onset_s, plan.jam_s, plan.heat_from_s]
    end_s = min([time_s for time_s in ends_s if not math.isnan(time_s)], default=math.inf)
    return np.asarray(np.arange(count) / rate_hz < end_s)


def _peak(values: Floats, healthy: Flags) -> float:
    return float(values[healthy].max())


def limits_of(
    rng: np.random.Generator, rig: Rig, trace: Trace, channels: dict[str, Floats], healthy: Flags
) -> dict[str, float]:
    """Give a limit for friction, both temperatures and, where starts are gentle, the current."""
    friction_n = max(
        rng.uniform(1.25, 1.7) * _peak(trace.friction_n, healthy),
        rng.uniform(0.18, 0.35) * rig.full_load_n,
        1.1 * float(np.nanmax(channels[FRICTION_FORCE][healthy])),
    )
    bath_degc, pin_degc = trace.limits_degc
    if math.isnan(bath_degc):
        bath_degc = 5.0 * math.ceil((_peak(trace.bath_degc, healthy) + rng.uniform(14.0, 45.0)) / 5.0)
        pin_degc = 5.0 * math.ceil((_peak(trace.pin_degc, healthy) + rng.uniform(14.0, 50.0)) / 5.0)
    limits = {FRICTION_FORCE: round_up(friction_n), BATH_TEMPERATURE: bath_degc, PIN_TEMPERATURE: pin_degc}
    wants_current = rng.random() < 0.6
    if wants_current and rig.drive.kind in STEADY_DRIVES:
        limits[MOTOR_CURRENT] = round_up(1.15 * _peak(trace.current_a, healthy))
    return limits


def ranges_of(
    rng: np.random.Generator, rig: Rig, trace: Trace, limits: dict[str, float], healthy: Flags
) -> dict[str, tuple[float, float]]:
    """Give the valid range of every channel."""
    load_n = round_up(1.15 * max(_peak(trace.load_n, healthy), rig.full_load_n))
    friction_n = round_up(max(1.3 * limits[FRICTION_FORCE], 0.5 * rig.full_load_n))
    surge_a = max(_peak(trace.current_a, healthy), rig.drive.healthy_a)
    running_a = float(np.quantile(trace.current_a[healthy & trace.live], 0.97)) if (healthy & trace.live).any() else 0.0
    enough_a = 1.6 * max(running_a, rig.drive.healthy_a)
    current_a = round_up(1.15 * surge_a if rng.random() < 0.5 else min(1.15 * surge_a, enough_a))
    current_a = max(current_a, limits.get(MOTOR_CURRENT, 0.0))
    both_ways = rng.random() < 0.5
    return {
        NORMAL_LOAD: (-0.1 * load_n, load_n),
        FRICTION_FORCE: (-friction_n if both_ways else -0.2 * friction_n, friction_n),
        MOTOR_CURRENT: (-current_a if rng.random() < 0.3 else -0.1 * current_a, current_a),
        SOUND_LEVEL: (20.0, 130.0),
        PIN_TEMPERATURE: (-20.0, float(rng.choice([400.0, 600.0]))),
        BATH_TEMPERATURE: (-20.0, float(rng.choice([250.0, 300.0, 400.0]))),
        RING_SPEED: (-0.05 * rig.set_speed_rpm, round_up(1.5 * rig.set_speed_rpm)),
    }


def facts_of(
    rng: np.random.Generator,
    rig: Rig,
    plan: Plan,
    channel_set: ChannelSet,
    ranges: dict[str, tuple[float, float]],
    limits: dict[str, float],
) -> RigFacts:
    """Give the facts, with only what concerns the channels that this rig has."""
    names = CHANNELS_OF[channel_set]
    return RigFacts(
        ring_diameter_mm=rig.ring_diameter_mm,
        ring_speed_rpm=rig.set_speed_rpm,
        no_load_current_a=free_current_a(rig.drive) * (1.0 + rng.uniform(-0.05, 0.05)),
        ranges={name: ranges[name] for name in names},
        limits={name: limit for name, limit in limits.items() if name in names},
        channel_set=channel_set,
        drive=rig.drive.kind,
        belt=rig.line.belt_nm < math.inf,
        tachometer=rig.tachometer,
        pulses_per_turn=rig.pulses_per_turn,
        tachometer_on_motor=rig.tachometer_on_motor,
        loads_n=tuple(plan.loads_n),
    )
