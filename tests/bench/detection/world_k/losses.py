"""What goes wrong between sensor and file: faults for good, spikes, missing samples, rows and stamps."""

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Fault,
    Flags,
    Floats,
    Kind,
)

from world_k.plan import Plan
from world_k.rig import between

OPEN_READINGS_DEGC = (1372.0, -270.0, float("nan"))
"""Ends of the type K scale, or no number: what converters say of an open thermocouple (from memory)."""
FAULTS_OF: dict[str, tuple[Fault, ...]] = {
    NORMAL_LOAD: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    FRICTION_FORCE: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    MOTOR_CURRENT: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    SOUND_LEVEL: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT),
    PIN_TEMPERATURE: (Fault.STUCK, Fault.OPEN_THERMOCOUPLE, Fault.OPEN_THERMOCOUPLE, Fault.DROPOUT, Fault.DRIFT),
    BATH_TEMPERATURE: (Fault.STUCK, Fault.OPEN_THERMOCOUPLE, Fault.OPEN_THERMOCOUPLE, Fault.DROPOUT, Fault.DRIFT),
    RING_SPEED: (Fault.STUCK, Fault.DROPOUT, Fault.TACHOMETER_LOST, Fault.TACHOMETER_LOST),
}


def draw_fault(rng: np.random.Generator, plan: Plan, names: tuple[str, ...], from_s: float, to_s: float) -> None:
    """Choose a channel of the rig, what happens to it and when."""
    plan.fault_channel = str(rng.choice(names))
    choices = FAULTS_OF[plan.fault_channel]
    plan.fault = choices[rng.integers(len(choices))]
    plan.fault_s = rng.uniform(from_s, to_s)


def break_sensor(
    rng: np.random.Generator, plan: Plan, values: Floats, rate_hz: float, span: tuple[float, float]
) -> None:
    """Break the channel for good, in place; `span` is its valid range."""
    first = round(plan.fault_s * rate_hz)
    after = values[first:]
    if plan.fault is Fault.STUCK:
        after[:] = values[max(first - 1, 0)]
    elif plan.fault is Fault.SATURATED:
        after[:] = span[1]
    elif plan.fault is Fault.OPEN_THERMOCOUPLE:
        after[:] = OPEN_READINGS_DEGC[rng.integers(3)]
    elif plan.fault is Fault.DROPOUT:
        after[:] = np.nan
    elif plan.fault is Fault.SIGN_FLIP:
        after *= -1.0
    elif plan.fault is Fault.TACHOMETER_LOST:
        after[:] = 0.0
    elif plan.fault is Fault.DRIFT:
        usual = max(float(np.median(np.abs(values[:first]))), 0.05 * (span[1] - span[0]))
        far = usual * rng.uniform(0.5, 1.2) * float(rng.choice([-1.0, 1.0]))
        over_s = between(rng, 30.0, 240.0)
        after += far * np.minimum(np.arange(after.size) / rate_hz / over_s, 2.0)


def spike(rng: np.random.Generator, channels: dict[str, Floats], ranges: dict[str, tuple[float, float]]) -> None:
    """Let the wiring catch one to three wild samples, some dozens of times, in one or two channels."""
    wired = [name for name in (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, PIN_TEMPERATURE) if name in channels]
    for name in rng.choice(wired, size=min(2, len(wired)), replace=False):
        values, (low, high) = channels[str(name)], ranges[str(name)]
        for first in rng.integers(0, values.size - 3, size=int(rng.integers(5, 60))):
            height = (high - low) * between(rng, 0.02, 1.0) * float(rng.choice([-1.0, 1.0]))
            values[first : first + int(rng.integers(1, 4))] += height


def drop_samples(rng: np.random.Generator, channels: dict[str, Floats]) -> None:
    """Lose short stretches of single channels."""
    for name in channels:
        if rng.random() < 0.6:
            for first in rng.integers(0, channels[name].size, size=int(rng.integers(1, 15))):
                channels[name][first : first + int(between(rng, 1.0, 60.0))] = np.nan


def stamps_s(rng: np.random.Generator, plan: Plan, count: int, rate_hz: float) -> Floats:
    """Give the stamps of all rows: the clean clock, the nights jumped over, a little jitter."""
    clean_s = np.arange(count) / rate_hz
    jitter_s = rng.choice([0.0, 0.05, 0.3]) / rate_hz * rng.uniform(-1.0, 1.0, count)
    jumped_s = np.zeros(count)
    for night_s, length_s in plan.nights:
        jumped_s[clean_s >= night_s] += length_s
    return np.asarray(np.round(np.maximum(clean_s + jitter_s, 0.0) + jumped_s, 6))


def stamped_s(plan: Plan, t_s: float) -> float:
    """Give the time on the recording's clock for one on the clean clock; NaN stays NaN."""
    return t_s + sum(length_s for night_s, length_s in plan.nights if t_s >= night_s)


def repeat_stamps(rng: np.random.Generator, plan: Plan, time_s: Floats) -> None:
    """Let some rows carry the stamp of the row before."""
    for first in rng.integers(1, time_s.size - 12, size=int(rng.integers(2, 30))):
        time_s[first : first + int(rng.integers(1, 10))] = time_s[first - 1]
    plan.note(Kind.DUPLICATE_STAMPS, 0.0, plan.duration_s)


def turn_stamps_back(rng: np.random.Generator, plan: Plan, time_s: Floats) -> None:
    """Let the clock be set back by a fraction of a second, and forward again a little later."""
    for first in rng.integers(1, time_s.size - 200, size=int(rng.integers(1, 5))):
        time_s[first : first + int(rng.integers(5, 150))] -= between(rng, 0.02, 1.0)
    plan.note(Kind.BACKWARD_STAMPS, 0.0, plan.duration_s)


def rows_kept(rng: np.random.Generator, plan: Plan, count: int, rate_hz: float) -> Flags:
    """Give which rows reach the file; none is lost once a story has begun."""
    kept = np.ones(count, dtype=np.bool_)
    latest = min(count, int(max(min(plan.story_s - 10.0, plan.duration_s), 1.0) * rate_hz))
    for first in rng.integers(0, latest, size=int(rng.integers(1, 8))):
        length_s = between(rng, 0.03, 6.0)
        kept[first + 1 : min(first + 1 + int(length_s * rate_hz), latest)] = False
        plan.note(Kind.HOLES, float(first) / rate_hz, length_s)
    return kept
