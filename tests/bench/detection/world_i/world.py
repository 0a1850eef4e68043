"""Make one recording: draw a rig and what happens, run it, read it, and draw again where the class is not met.

Reads seed, class, rate and channel set; gives what a detector may see, the truth, and the inside.
"""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    MOTOR_CURRENT,
    NAN,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    Floats,
    Inside,
    Kind,
    Klass,
    Nuisance,
    Recording,
    RigFacts,
    Truth,
)  # fmt: skip

from .clock import stamp, stamp_rows
from .draws import stream, uniform
from .engine import Trace, run
from .events import Event
from .faults import Failing, disturb, draw_failing, fail
from .fields import Fields, spread
from .inputs import Inputs, lay_out
from .limits import set_limits
from .plan import FASTEST_STICK_SLIP_M_S, Plan, draw_plan
from .rig import Rig, draw_rig
from .sensors import Sensors, draw_sensors, read_all, scale_ends
from .truth import Times, earliest_trip_s, keeps_promise, moved, runs_healthy, work_out

SHADOW_RATE_HZ = 100.0
"""What truth and limits say of readings is worked out at this rate, whatever the recording's."""

ATTEMPTS = 400
PULLING = (*SCUFFINGS, Klass.SEIZURE, Klass.JAM)
"""Classes whose event pulls at the ring."""

FAULTY = (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT)


@dataclass(frozen=True, slots=True)
class Story:
    """One attempt that kept its promise: the rig, what happened, and its readings at the shadow rate."""

    attempt: int
    rig: Rig
    plan: Plan
    inputs: Inputs
    trace: Trace
    sensors: Sensors
    limits: dict[str, float]
    times: Times
    duration_s: float
    rail_s: float
    usual: tuple[float, ...]
    fields: Fields
    read: dict[str, Floats]


def _spread_and_read(
    story_seed: tuple[int, Klass, int], rig: Rig, plan: Plan, inputs: Inputs, trace: Trace, sensors: Sensors,
    duration_s: float, rate_hz: float,
) -> tuple[Fields, dict[str, Floats]]:  # fmt: skip
    fields = spread(stream(*story_seed, "fields"), rig, plan, inputs, trace, duration_s, rate_hz)
    return fields, read_all(stream(*story_seed, "reading"), rig, sensors, fields)


def _attempt(seed: int, klass: Klass, attempt: int) -> Story | None:
    key = (seed, klass, attempt)
    rig = draw_rig(stream(*key, "rig"))
    if klass is Klass.STICK_SLIP and rig.slide_m_s > FASTEST_STICK_SLIP_M_S:
        return None
    plan = draw_plan(stream(*key, "plan"), rig, klass)
    calm_plan = replace(plan, event=Event())
    calm_inputs = lay_out(stream(*key, "inputs"), stream(*key, "event"), calm_plan, rig)
    calm = run(rig, calm_inputs, np.inf)
    if not runs_healthy(rig, plan, calm_inputs, calm):
        return None
    inputs, trace = calm_inputs, calm
    if not np.isnan(plan.event.sign_s):
        inputs = lay_out(stream(*key, "inputs"), stream(*key, "event"), plan, rig)
        trace = run(rig, inputs, float(np.nan_to_num(plan.event.onset_s, nan=np.inf)))
    running_a = calm.current_a[calm_inputs.supply > 0]
    sensors = draw_sensors(
        stream(*key, "sensors"), rig, plan, float(np.quantile(running_a, 0.95)), float(running_a.max())
    )
    ends = scale_ends(sensors)
    fields, read = _spread_and_read(key, rig, calm_plan, calm_inputs, calm, sensors, plan.duration_s, SHADOW_RATE_HZ)
    limits = set_limits(stream(*key, "limits"), calm, read, ends)
    times = work_out(rig, plan, inputs, trace, limits)
    railed = read[MOTOR_CURRENT] >= 0.999 * sensors.current.full
    rail_s = float(np.argmax(railed)) / SHADOW_RATE_HZ if railed.any() else NAN
    duration_s = plan.duration_s
    if klass is Klass.OVERHEAT:
        duration_s = min(duration_s, times.overheat_s + uniform(stream(*key, "tail"), 15.0, 50.0))
    if not np.isnan(plan.event.sign_s) and not np.isnan(duration_s):
        fields, read = _spread_and_read(key, rig, plan, inputs, trace, sensors, duration_s, SHADOW_RATE_HZ)
    seen = moved(fields.sample_t_s, read, plan.event) if klass in PULLING else ()
    if not keeps_promise(klass, plan, trace, times, seen, limits[PIN_TEMPERATURE]):
        return None
    usual = (rig.top_load_n, 0.12 * rig.top_load_n, float(np.median(running_a)), 10.0, 40.0, 40.0, 0.0)
    return Story(attempt, rig, plan, inputs, trace, sensors, limits, times, duration_s, rail_s, usual, fields, read)


def tell(seed: int, klass: Klass) -> Story:
    """Give the first attempt that keeps the promise of its class."""
    for attempt in range(ATTEMPTS):
        story = _attempt(seed, klass, attempt)
        if story is not None:
            return story
    raise RuntimeError(f"no recording of class {klass.value!r} for seed {seed} in {ATTEMPTS} attempts")


def _draw_channel_set(seed: int, klass: Klass) -> ChannelSet:
    rng = stream(seed, klass, 0, "channel set")
    some = [s for s in ChannelSet if klass is not Klass.OVERHEAT or PIN_TEMPERATURE in CHANNELS_OF[s]]
    if klass is Klass.SCUFFING_WITH_FAULT:
        some.remove(ChannelSet.CURRENT_ONLY)
    return ChannelSet.ALL if rng.random() < 0.45 else some[int(rng.integers(len(some)))]


def _facts(seed: int, klass: Klass, story: Story, channel_set: ChannelSet) -> RigFacts:
    rig, tacho, names = story.rig, story.sensors.tacho, CHANNELS_OF[channel_set]
    rng = stream(seed, klass, story.attempt, "notes")
    return RigFacts(
        ring_diameter_mm=2000.0 * rig.ring_radius_m,
        ring_speed_rpm=rig.set_speed_rad_s * 60.0 / (2.0 * np.pi) * uniform(rng, 0.995, 1.005),
        no_load_current_a=rig.no_load_current_a * uniform(rng, 0.96, 1.04),
        ranges={name: ends for name, ends in scale_ends(story.sensors).items() if name in names},
        limits={name: limit for name, limit in story.limits.items() if name in names}, channel_set=channel_set,
        drive=rig.drive, belt=rig.belt, tachometer=tacho.kind, pulses_per_turn=tacho.pulses,
        tachometer_on_motor=tacho.on_motor, loads_n=story.plan.loads_n,
    )  # fmt: skip


def _truth(klass: Klass, story: Story, failing: Failing | None, seen: tuple[str, ...]) -> Truth:
    plan, event, times = story.plan, story.plan.event, story.times
    nuisances = [n for n in plan.nuisances if n.t_s < story.duration_s]
    if not np.isnan(story.rail_s):
        nuisances.append(Nuisance(Kind.CURRENT_RAIL, story.rail_s))
    spans = [(stamp(n.t_s, plan), stamp(n.t_s + n.duration_s, plan)) for n in nuisances]
    lasting = [Nuisance(n.kind, start_s, end_s - start_s) for n, (start_s, end_s) in zip(nuisances, spans, strict=True)]
    return Truth(
        trip_worthy=klass in TRIP_WORTHY, earliest_legitimate_trip_s=earliest_trip_s(event, times.overheat_s, klass),
        onset_s=event.onset_s, severe_s=times.severe_s, stall_s=times.stall_s,
        jam_s=event.sign_s if klass is Klass.JAM else NAN, overheat_s=times.overheat_s,
        supply_lost_s=event.sign_s if event.supply_lost else NAN, fault_s=failing.t_s if failing else NAN,
        fault=failing.fault if failing else None, fault_channel=failing.channel if failing else "",
        precursor=event.precursor, seen_by=seen, nuisances=tuple(sorted(lasting, key=lambda n: n.t_s)),
    )  # fmt: skip


def _seen(
    klass: Klass, story: Story, t_s: Floats, shadow: dict[str, Floats], names: tuple[str, ...]
) -> tuple[str, ...]:
    if klass is Klass.OVERHEAT:
        return tuple(n for n in (PIN_TEMPERATURE, BATH_TEMPERATURE) if n in names)
    if klass in PULLING:
        return moved(t_s, {name: shadow[name] for name in names}, story.plan.event)
    return ()


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Make a recording, and give the noise-free world behind it."""
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate {rate_hz} Hz, must be 5 to 2000 Hz")
    story = tell(seed, klass)
    key, plan = (seed, klass, story.attempt), story.plan
    chosen = channel_set or _draw_channel_set(seed, klass)
    names = CHANNELS_OF[chosen]
    fields, read = story.fields, dict(story.read)
    if rate_hz != SHADOW_RATE_HZ:
        fields, read = _spread_and_read(
            key, story.rig, plan, story.inputs, story.trace, story.sensors, story.duration_s, rate_hz
        )
    t_s, shadow_t_s = fields.sample_t_s, story.fields.sample_t_s
    ends = scale_ends(story.sensors)
    failing = None
    if klass in FAULTY:
        rng = stream(*key, "fault")
        failing = draw_failing(rng, klass, chosen, plan.fault_s, story.usual, story.sensors.tacho)
    shadow = dict(story.read)
    read = {name: values.copy() for name, values in read.items()}
    disturb(stream(*key, "disturb"), plan, t_s, read, ends)
    if failing is not None:
        read[failing.channel] = fail(failing, t_s, read[failing.channel], ends[failing.channel])
        shadow[failing.channel] = fail(failing, shadow_t_s, shadow[failing.channel], ends[failing.channel])
    truth = _truth(klass, story, failing, _seen(klass, story, shadow_t_s, shadow, names))
    stamps, keep = stamp_rows(stream(*key, "clock"), plan, t_s)
    facts = _facts(seed, klass, story, chosen)
    recording = Recording(stamps[keep], {name: read[name][keep] for name in names}, facts, truth)
    return recording, fields.inside_at_samples()


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Make a recording; equal arguments give equal bits."""
    return simulate(seed, klass, rate_hz, channel_set)[0]
