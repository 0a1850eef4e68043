"""Recordings of the first world, made from the project's own simulated physics.

Reads seed, class and rate, gives a `Recording` as the second world does. Fixed by its arguments, bit for bit.
"""

import math
from dataclasses import replace
from random import Random
from zlib import crc32

from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    RING_SPEED,
    ChannelSet,
    Fault,
    Klass,
    Recording,
    RigFacts,
)

from .course import Course, Given, Traces, given_of
from .plan import Plan
from .rigs import Rig, draw_rig
from .sense import Channels, Fitting, draw_fittings
from .stamps import finish
from .stories import tell
from .truth import effect_of, overheat_s, seen_by, truth_of

LOWEST_STEP_HZ = 200.0
_TRIES = 60


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give one recording.

    Args:
        seed: >= 0.
        klass: what kind.
        rate_hz: rows a second, 5 to 1000; the physics takes at least 200 steps a second, so that rig and story do not
            depend on it while it divides 200.
        channel_set: to be fitted; None draws one.
    Raises:
        ValueError: the rate is out of range.
    """
    if not 5.0 <= rate_hz <= 1000.0:
        raise ValueError(f"rate_hz {rate_hz}, it must be 5 to 1000")
    every = math.ceil(LOWEST_STEP_HZ / rate_hz - 1e-9)
    for attempt in range(_TRIES):
        made = _attempt(f"world a/{klass.name}/{seed}/{attempt}", klass, rate_hz, every, channel_set, seed)
        if made is not None:
            return made
    raise RuntimeError(f"no recording of {klass.value} with seed {seed} in {_TRIES} tries")


def _attempt(
    name: str, klass: Klass, rate_hz: float, every: int, wanted: ChannelSet | None, number: int
) -> Recording | None:
    """Give a recording, or None where what was planned did not come true."""
    seed, dt_s = crc32(name.encode()), 1.0 / (rate_hz * every)
    rig = draw_rig(Random(f"{name}/rig"), klass, wanted)
    fault = _fault(Random(f"{name}/fault"), rig, klass, number)
    if fault is None and klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    plan, end_s = tell(klass, rig, Random(f"{name}/story"), fault)
    fittings = draw_fittings(Random(f"{name}/sensors"), rig)
    facts = _facts(rig, plan, fittings, Random(f"{name}/facts"), klass)
    traces, twin, begin, given = _played(rig, plan, facts, seed, int(end_s / dt_s) // every * every, dt_s)
    steps = len(traces.load_n) // every * every
    truth = truth_of(plan, rig, facts, klass, traces, dt_s)
    if truth is None:
        return None
    weighting_s = Random(f"{name}/meter").choice((0.035, 0.125, 0.125, 1.0))
    channels = Channels(rig, fittings, plan, dt_s, every, seed, weighting_s)
    read = channels.record(channels.true(traces), rig.top_force_n)
    if twin is not None:
        effect = effect_of(channels, traces, twin, given, begin, min(steps - begin, int(10 / dt_s)))
        truth = replace(truth, seen_by=seen_by(effect, read, begin // every, channels.row_s, truth.fault_channel))
    truth = replace(truth, nuisances=tuple(plan.nuisances))
    return finish(plan, read, facts, truth, fittings, Random(f"{name}/stamps"), 1.0 / rate_hz)


def _played(
    rig: Rig, plan: Plan, facts: RigFacts, seed: int, steps: int, dt_s: float
) -> tuple[Traces, Course | None, int, Given]:
    """Play the plan and give the traces, a twin from before the event, the event's step, and what acted.

    An overheating rig is played until a little after it has passed a limit.
    """
    given = given_of(plan, rig, steps, dt_s, seed)
    course, traces = Course(rig, dt_s, plan.damage), Traces()
    event_s = plan.damage.onset_t_s if plan.damage is not None else plan.jam[0] if plan.jam is not None else math.inf
    begin = steps if math.isinf(event_s) else min(int(event_s / dt_s), steps)
    overheats_s = min(plan.heater_sticks_s, plan.dry_s)
    if math.isinf(overheats_s):
        course.play(given, 0, begin, traces)
        twin = course.twin() if begin < steps else None
        course.play(given, begin, steps, traces)
        return traces, twin, begin, given
    piece, left = int(20.0 / dt_s), 2
    for at in range(0, steps, piece):
        course.play(given, at, min(at + piece, steps), traces)
        if not math.isnan(overheat_s(facts, traces, dt_s, at)):
            left -= 1
            if not left or at * dt_s < overheats_s - 20.0:
                break
    return traces, None, steps, given


def _fault(chance: Random, rig: Rig, klass: Klass, number: int) -> tuple[Fault, str] | None:
    """Give the fault of this recording and its channel, or None where the rig has no such channel."""
    if klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    fault, names = list(Fault)[number % len(Fault)], CHANNELS_OF[rig.channel_set]
    if fault is Fault.OPEN_THERMOCOUPLE:
        names = tuple(name for name in names if name.endswith("_degc"))
    elif fault is Fault.TACHOMETER_LOST:
        names = tuple(name for name in names if name == RING_SPEED)
    elif fault is Fault.SIGN_FLIP:
        names = tuple(name for name in names if name == FRICTION_FORCE)
    if klass is Klass.SCUFFING_WITH_FAULT and rig.channel_set is ChannelSet.CURRENT_ONLY:
        return None
    return (fault, chance.choice(names)) if names else None


def _facts(rig: Rig, plan: Plan, fittings: dict[str, Fitting], chance: Random, klass: Klass) -> RigFacts:
    limits: dict[str, float] = {}
    margin_degc = 0.25 * (rig.pin_most_degc - rig.bath_most_degc)
    for name, most in (
        ("pin_temperature_degc", rig.pin_most_degc + margin_degc),
        ("bath_temperature_degc", rig.bath_most_degc),
    ):
        asked = klass is Klass.OVERHEAT and name not in limits
        if name in fittings and (asked or chance.random() < 0.85):
            limits[name] = 5.0 * math.ceil((most + chance.uniform(12.0, 35.0)) / 5.0)
    if chance.random() < 0.4:
        limit_a = rig.running_current_a * chance.uniform(2.2, 4.0)
        limits[MOTOR_CURRENT] = float(f"{limit_a:.2g}")
    if FRICTION_FORCE in fittings and chance.random() < 0.3:
        limits[FRICTION_FORCE] = float(f"{rig.top_force_n * chance.uniform(3.2, 5.0):.2g}")
    return RigFacts(
        ring_diameter_mm=float(f"{rig.params.ring_diameter_mm:.4g}"),
        ring_speed_rpm=float(f"{rig.set_rpm:.3g}"),
        no_load_current_a=float(f"{rig.no_load_current_a * chance.uniform(0.96, 1.04):.3g}"),
        ranges={name: (fitting.low, fitting.high) for name, fitting in fittings.items()},
        limits=limits,
        channel_set=rig.channel_set,
        drive=rig.drive,
        belt=False,
        tachometer=rig.tachometer,
        pulses_per_turn=rig.pulses_per_turn,
        tachometer_on_motor=False,
        loads_n=tuple(float(f"{load_n:.4g}") for load_n in plan.loads_n),
    )
