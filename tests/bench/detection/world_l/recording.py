"""Makes the recording of a noise-free world: sensors, fault, truth, rig file, stamps. Reads `readings`, `truth`."""

import math
from dataclasses import dataclass, replace

import numpy as np
from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    ChannelSet,
    Inside,
    Kind,
    Klass,
    Nuisance,
    Recording,
    RigFacts,
)

from world_l.draws import Purpose, stream
from world_l.drive import current_a
from world_l.faults import draw_fault, go_wrong
from world_l.limits import Limits
from world_l.plan import Plan
from world_l.readings import Angles, readings
from world_l.rig import Rig
from world_l.sensors import Sensors
from world_l.stamps import stamped
from world_l.timeline import first_event_s
from world_l.truth import read_truth


@dataclass(frozen=True, slots=True)
class Made:
    """Everything noise-free, with what only the sensors and the truth still need."""

    inside: Inside
    angles: Angles
    limits: Limits


def record(
    seed: int, klass: Klass, rig: Rig, plan: Plan, sensors: Sensors, channel_set: ChannelSet, made: Made
) -> Recording:
    inside, names = made.inside, CHANNELS_OF[channel_set]
    shown = readings(inside, made.angles, sensors, stream(seed, klass, Purpose.NOISE))
    channels = {name: shown[name] for name in names}
    fault = None
    if plan.fault is not None:
        fault = draw_fault(plan.fault, names)
        channels[fault.channel] = go_wrong(
            channels[fault.channel], inside.t_s, plan.fault.t_s, fault, sensors.ranges[fault.channel], plan.fault.seed
        )
    limits = made.limits.of_channels(names, inside, first_event_s(plan))
    truth_limits = limits if PIN_TEMPERATURE in names else made.limits.temperatures
    nuisances = plan.nuisances + _of_the_sensors(plan, inside, sensors, names)
    truth = read_truth(klass, plan, inside, channels, truth_limits, fault, rig.set_speed_rad_s, nuisances)
    truth = replace(truth, seen_by=tuple(name for name in truth.seen_by if name in names))
    stamp_s, rows = stamped(plan, inside.t_s, channels, dict(sensors.ranges), stream(seed, klass, Purpose.STAMPS))
    return Recording(stamp_s, rows, _facts(seed, klass, rig, plan, sensors, channel_set, limits), truth)


def _of_the_sensors(plan: Plan, inside: Inside, sensors: Sensors, names: tuple[str, ...]) -> tuple[Nuisance, ...]:
    """Give the nuisances that lie in the sensors and the logger; most last the whole recording."""
    whole_s = plan.duration_s
    kinds = list(plan.kinds_of_stamps)
    if sensors.hum_ratio > 0.0 and FRICTION_FORCE in names:
        kinds.append(Kind.MAINS_HUM)
    if sensors.temperature_step_k == 0.5 and PIN_TEMPERATURE in names:
        kinds.append(Kind.COARSE_TEMPERATURE)
    beyond = inside.motor_current_a[inside.t_s < first_event_s(plan)] > sensors.ranges[MOTOR_CURRENT][1]
    found = [Nuisance(kind, 0.0, whole_s) for kind in kinds]
    if bool(np.any(beyond)):
        found.append(Nuisance(Kind.CURRENT_RAIL, float(inside.t_s[int(np.argmax(beyond))])))
    return tuple(found)


def _facts(
    seed: int, klass: Klass, rig: Rig, plan: Plan, sensors: Sensors, channel_set: ChannelSet, limits: dict[str, float]
) -> RigFacts:
    rng = np.random.default_rng([seed, 17])
    idle_nm = np.array([rig.drag_nm])
    one = np.ones(1)
    idle_a = float(current_a(rig.drive, idle_nm, np.array([rig.set_speed_rad_s]), one, one)[0])
    loads_n = tuple(move.load_n for move in plan.loads[1:] if move.load_n > 0.0)
    names = CHANNELS_OF[channel_set]
    return RigFacts(
        ring_diameter_mm=2000.0 * rig.ring_radius_m,
        ring_speed_rpm=rig.speed_rpm,
        no_load_current_a=idle_a * float(rng.normal(1.0, 0.03)),
        ranges={name: sensors.ranges[name] for name in names},
        limits=limits,
        channel_set=channel_set,
        drive=rig.drive.kind,
        belt=not math.isinf(rig.drive.belt_limit_nm),
        tachometer=sensors.tachometer,
        pulses_per_turn=sensors.pulses_per_turn,
        tachometer_on_motor=sensors.tachometer_on_motor,
        loads_n=loads_n,
    )
