"""Spoils readings: spikes, samples missing, and the one sensor that fails for good.

Reads a plan, dice and the channels as read, gives them spoiled, and which fault it was.
"""

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
    Kind,
)

from .chance import Dice, even
from .plan import Plan
from .rig import Rig
from .sensing import Gauge

_TEMPERATURES = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_FORCES = (FRICTION_FORCE, NORMAL_LOAD)
FAULTS: dict[Fault, tuple[str, ...]] = {
    Fault.STUCK: (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE),
    Fault.SATURATED: (*_FORCES, MOTOR_CURRENT),
    Fault.OPEN_THERMOCOUPLE: _TEMPERATURES,
    Fault.DROPOUT: (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, RING_SPEED),
    Fault.DRIFT: (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT, PIN_TEMPERATURE),
    Fault.SIGN_FLIP: _FORCES,
    Fault.TACHOMETER_LOST: (RING_SPEED,),
}
_SPIKED = (*_FORCES, MOTOR_CURRENT)


@dataclass(frozen=True, slots=True)
class Failed:
    """Which sensor fails, and how."""

    fault: Fault
    channel: str


def failed_of(plan: Plan, channels: tuple[str, ...]) -> Failed | None:
    """Give the fault of the plan among the channels that the rig has; kinds are as likely as each other."""
    if plan.fault is None:
        return None
    there = {fault: [name for name in names if name in channels] for fault, names in FAULTS.items()}
    kinds = [fault for fault, names in there.items() if names]
    place = plan.fault.order * len(kinds)
    fault = kinds[int(place)]
    names = there[fault]
    return Failed(fault, names[int((place - int(place)) * len(names))])


def spoil(dice: Dice, rig: Rig, plan: Plan, rows: dict[str, Floats], at_s: Floats) -> None:
    """Put spikes and missing samples into the channels, in place."""
    for mishap in plan.of(Kind.SPIKES):
        for _ in range(1 + int(dice.poisson(3.0))):
            name = _SPIKED[int(dice.integers(len(_SPIKED)))]
            gauge = rig.sensing.gauges[name]
            first = int(np.searchsorted(at_s, mishap.t_s + even(dice, 0.0, mishap.duration_s)))
            part = slice(first, first + int(dice.integers(1, 4)))
            height = (gauge.high - gauge.low) * (0.03 + 0.4 * mishap.size) * float(dice.choice((-1.0, 1.0)))
            rows[name][part] = np.clip(rows[name][part] + height, gauge.low, gauge.high)
    for mishap in plan.of(Kind.SHORT_DROPOUTS):
        names = list(rows)
        name = names[int(mishap.size * len(names))]
        first, end = np.searchsorted(at_s, [mishap.t_s, mishap.t_s + mishap.duration_s]).tolist()
        rows[name][first : max(end, first + 1)] = np.nan


def fail(dice: Dice, rig: Rig, plan: Plan, failed: Failed, rows: dict[str, Floats], at_s: Floats) -> None:
    """Make the sensor fail from its moment on, in place."""
    assert plan.fault is not None
    gauge, read = rig.sensing.gauges[failed.channel], rows[failed.channel]
    first = int(np.searchsorted(at_s, plan.fault.t_s))
    rows[failed.channel][first:] = _wrong(dice, gauge, plan.fault.size, failed, read[first - 1 :], at_s[first:])


def _wrong(dice: Dice, gauge: Gauge, size: float, failed: Failed, read: Floats, at_s: Floats) -> Floats:
    """Give what the sensor says from then on; `read` begins one sample earlier."""
    after, count = read[1:], len(read) - 1
    since_s = at_s - at_s[0]
    if failed.fault is Fault.STUCK:
        whole = read[np.isfinite(read)]
        return np.full(count, whole[0] if len(whole) else gauge.low)
    if failed.fault in (Fault.SATURATED, Fault.OPEN_THERMOCOUPLE):
        return np.full(count, gauge.high)
    if failed.fault is Fault.DROPOUT:
        blinks = np.mod(since_s, 4.0) < 3.0 + size
        return np.asarray(np.where(blinks, np.nan, after), np.float64)
    if failed.fault is Fault.DRIFT:
        rate = (gauge.high - gauge.low) * (0.04 + 0.16 * size) / 60.0 * float(dice.choice((-1.0, 1.0)))
        drifted = np.round((after + rate * since_s) / gauge.step) * gauge.step
        return np.asarray(np.clip(drifted, gauge.low, gauge.high), np.float64)
    if failed.fault is Fault.SIGN_FLIP:
        return np.asarray(np.clip(-after, gauge.low, gauge.high), np.float64)
    return np.zeros(count)
