"""What goes wrong between sensor and file: sensors that fail for good, spikes, missing samples, rows and stamps.

Reads channels as they read, gives them and their stamps as they were written; the hands leave the clock alone
from three seconds before the first sign.
"""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NAN,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    Fault,
    Floats,
    Kind,
    Klass,
    Nuisance,
)

from .chance import chance, log_between, one_of
from .instruments import Instruments, fitted
from .plan import Plan

_THERMOCOUPLES = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_BLIND = (Fault.STUCK, Fault.SATURATED, Fault.OPEN_THERMOCOUPLE, Fault.DROPOUT, Fault.TACHOMETER_LOST)


@dataclass(frozen=True, slots=True)
class Failure:
    """One sensor that fails for good.

    Attributes:
        fault, channel, t_s: see `Truth`.
        speed: drawn, between 0 and 1, for whatever the fault needs.
        upward: whether it fails to the upper end.
    """

    fault: Fault
    channel: str
    t_s: float
    speed: float
    upward: bool

    @property
    def blinds(self) -> bool:
        """Give whether the channel shows nothing of the world any more."""
        return self.fault in _BLIND


def draw_failure(rng: Generator, klass: Klass, plan: Plan, instruments: Instruments) -> Failure | None:
    """Draw which sensor of the fitted ones fails, how, and when; nothing in the other classes."""
    if klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    if klass is Klass.SCUFFING_WITH_FAULT:
        t_s = max(20.0, plan.first_sign_s - log_between(rng, 8.0, 200.0))
    else:
        t_s = rng.uniform(0.2, 0.85) * plan.end_s
    names = fitted(instruments)
    channel = names[int(rng.random() * len(names))]
    choices = [(Fault.STUCK, 1.0), (Fault.SATURATED, 1.0), (Fault.DROPOUT, 1.0), (Fault.DRIFT, 1.0)]
    if channel in (FRICTION_FORCE, NORMAL_LOAD):
        choices.append((Fault.SIGN_FLIP, 1.0))
    if channel in _THERMOCOUPLES:
        choices.append((Fault.OPEN_THERMOCOUPLE, 3.0))
    if channel == RING_SPEED:
        choices.append((Fault.TACHOMETER_LOST, 4.0))
    return Failure(one_of(rng, choices), channel, t_s, float(rng.random()), chance(rng, 0.7))


def fail(rng: Generator, failure: Failure, instruments: Instruments, t_s: Floats, values: Floats) -> Floats:
    """Give a channel whose sensor fails."""
    sensor, later = instruments.sensors[failure.channel], t_s >= failure.t_s
    found, after_s = values.copy(), np.clip(t_s - failure.t_s, 0.0, None)
    span = sensor.high - sensor.low
    if not later.any():
        return found
    if failure.fault is Fault.STUCK:
        found[later] = values[np.argmax(later)]
    elif failure.fault is Fault.SATURATED:
        found[later] = sensor.high if failure.upward or sensor.low == 0.0 else sensor.low
    elif failure.fault is Fault.OPEN_THERMOCOUPLE:
        found[later] = sensor.high if failure.upward else 22.0 + 0.1 * np.round(rng.normal(0.0, 1.0, int(later.sum())))
    elif failure.fault is Fault.DROPOUT:
        found[later & (rng.random(len(t_s)) < 0.55 + 0.45 * min(1.0, 1.6 * failure.speed))] = NAN
    elif failure.fault is Fault.DRIFT:
        drift_per_s = (0.0003 * 20.0**failure.speed) * span * (1.0 if failure.upward else -1.0)
        found = np.clip(values + drift_per_s * after_s, sensor.low, sensor.high)
    elif failure.fault is Fault.SIGN_FLIP:
        found[later] = np.clip(-values[later], sensor.low, sensor.high)
    else:
        found[later] = 0.0
    return found


def spike(
    rng: Generator, plan: Plan, whole_s: float, instruments: Instruments, t_s: Floats, channels: dict[str, Floats]
) -> None:
    """Put electrical spikes of one to three samples on cells, thermocouples and current, and lose samples.

    Args:
        rng: of the spoils.
        plan: its nuisances are added to.
        whole_s: length of the recording.
        instruments, t_s: see there; times of the rows.
        channels: are changed.
    """
    if chance(rng, 0.25):
        for at_s in np.sort(rng.uniform(0.0, whole_s, 1 + rng.poisson(whole_s / 120.0))).tolist():
            hit = (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT, *_THERMOCOUPLES)
            for name in (name for name in hit if name in channels and chance(rng, 0.5)):
                sensor, row = instruments.sensors[name], int(np.searchsorted(t_s, at_s))
                part = slice(row, row + int(rng.integers(1, 4)))
                blow = rng.uniform(0.1, 1.2) * (sensor.high - sensor.low) * rng.choice([-1.0, 1.0])
                channels[name][part] = np.clip(channels[name][part] + blow, sensor.low, sensor.high)
            plan.nuisances.append(Nuisance(Kind.SPIKES, at_s))
    if chance(rng, 0.25):
        for at_s in np.sort(rng.uniform(0.0, whole_s, 1 + rng.poisson(whole_s / 100.0))).tolist():
            name = list(channels)[int(rng.integers(len(channels)))]
            length_s = log_between(rng, 0.01, 0.25)
            channels[name][(t_s >= at_s) & (t_s < at_s + length_s)] = NAN
            plan.nuisances.append(Nuisance(Kind.SHORT_DROPOUTS, at_s, length_s))
