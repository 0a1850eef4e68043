"""One sensor goes wrong for good. Reads `plan`; changes one channel from a time on."""

from dataclasses import dataclass

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
    Floats,
)

from world_l.plan import FaultPlan

CAN_GO_WRONG = {
    NORMAL_LOAD: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    FRICTION_FORCE: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    MOTOR_CURRENT: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT),
    SOUND_LEVEL: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT),
    PIN_TEMPERATURE: (Fault.OPEN_THERMOCOUPLE, Fault.STUCK, Fault.DRIFT, Fault.DROPOUT),
    BATH_TEMPERATURE: (Fault.OPEN_THERMOCOUPLE, Fault.STUCK, Fault.DRIFT, Fault.DROPOUT),
    RING_SPEED: (Fault.TACHOMETER_LOST, Fault.DROPOUT, Fault.STUCK),
}


@dataclass(frozen=True, slots=True)
class FaultMade:
    """Which channel goes wrong, and how."""

    channel: str
    fault: Fault


def draw_fault(plan: FaultPlan, names: tuple[str, ...]) -> FaultMade:
    """Choose among the channels a recording has."""
    channel = names[min(int(plan.draw * len(names)), len(names) - 1)]
    kinds = CAN_GO_WRONG[channel]
    return FaultMade(channel, kinds[plan.seed % len(kinds)])


def go_wrong(
    values: Floats, t_s: Floats, at_s: float, made: FaultMade, limits: tuple[float, float], seed: int
) -> Floats:
    """Give the channel with its fault, (n,); NaN is missing."""
    rng = np.random.default_rng(seed)
    low, high = limits
    begin = int(np.searchsorted(t_s, at_s))
    wrong = values.copy()
    since_s = t_s[begin:] - at_s
    if begin >= len(values):
        return wrong
    if made.fault is Fault.STUCK:
        wrong[begin:] = values[begin]
    elif made.fault is Fault.SATURATED:
        wrong[begin:] = high if rng.random() < 0.7 or low > 0.0 else low
    elif made.fault is Fault.OPEN_THERMOCOUPLE:
        upscale = rng.random() < 0.75  # burn-out current drives the amplifier to its top; without one it floats
        tau_s = rng.uniform(0.05, 3.0)
        end = high if upscale else rng.uniform(-20.0, 25.0)
        float_k = 0.0 if upscale else 4.0
        wrong[begin:] = end + (values[begin] - end) * np.exp(-since_s / tau_s)
        wrong[begin:] += float_k * rng.normal(size=len(since_s))
    elif made.fault is Fault.DROPOUT:
        wrong[begin:] = np.nan
    elif made.fault is Fault.DRIFT:
        way = 1.0 if rng.random() < 0.5 else -1.0
        warm = made.channel in (PIN_TEMPERATURE, BATH_TEMPERATURE)
        per_min = rng.uniform(3.0, 30.0) if warm else (high - max(low, 0.0)) * rng.uniform(0.05, 0.4)
        wrong[begin:] += way * per_min * since_s / 60.0
    elif made.fault is Fault.SIGN_FLIP:
        wrong[begin:] = -values[begin:]
    elif made.fault is Fault.TACHOMETER_LOST:
        wrong[begin:] = 0.0
    kept: Floats = np.clip(wrong, low, high)
    return kept
