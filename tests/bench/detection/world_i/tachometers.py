"""Three ways to read the speed of the ring: time between pulses, pulses over a gate, a generator.

Reads the angle or speed of ring or motor; gives r/min at the sampling rate.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Floats, Tachometer

from .draws import Rng, chance, log_uniform, uniform
from .fields import Fields
from .rig import Rig
from .spectra import lag

PULSES = (1, 2, 4, 6, 8, 12, 20, 36, 60, 100, 200, 500)

BEFORE_S = 2.5
"""How much of the turning before the record is counted: longer than any gate."""


@dataclass(frozen=True, slots=True)
class Tacho:
    """One tachometer: pulses per turn (0: a generator), gate and time-out in s, ripple and noise as shares."""

    kind: Tachometer
    pulses: int
    on_motor: bool
    gate_s: float
    timeout_s: float
    noise: float
    gain: float
    full_rpm: float


def draw_tacho(rng: Rng, rig: Rig) -> Tacho:
    """Draw a tachometer that suits the speed: a period is known within 1.5 s, a gate holds 20 pulses or more."""
    kind = list(Tachometer)[int(rng.integers(3))]
    turns_s = rig.set_speed_rad_s / (2 * np.pi)
    gate_s = log_uniform(rng, 0.1, 2.0)
    least = {Tachometer.PERIOD: 0.7 / turns_s, Tachometer.GATE: 20.0 / (gate_s * turns_s)}.get(kind, 0.0)
    fitting = [p for p in PULSES if p >= least and p * turns_s < 1500.0] or [500]
    pulses = 0 if kind is Tachometer.ANALOGUE else int(fitting[int(rng.integers(len(fitting)))])
    return Tacho(
        kind=kind, pulses=pulses, on_motor=chance(rng, 0.4 if rig.belt else 0.2), gate_s=gate_s,
        timeout_s=max(uniform(rng, 0.5, 2.0), 4.0 / (max(pulses, 1) * turns_s)),
        noise=log_uniform(rng, 0.0005, 0.008), gain=uniform(rng, 0.99, 1.01) if pulses == 0 else 1.0,
        full_rpm=turns_s * 60.0 * uniform(rng, 1.6, 3.0),
    )  # fmt: skip


def pulse_times_s(t_s: Floats, angle_rad: Floats, start_rad_s: float, pulses: int) -> Floats:
    """Give when each pulse came, with those before the record, had the speed at its start held before.

    A shaft at rest sends none.
    """
    before = 3 + int(BEFORE_S * start_rad_s * pulses / (2 * np.pi)) if start_rad_s > 0 else 0
    whole = int(angle_rad[-1] * pulses / (2 * np.pi))
    wanted = np.arange(-before, whole + 1)[1 if before == 0 else 0 :] * (2 * np.pi / pulses)
    rising = np.concatenate(([True], np.diff(angle_rad) > 0))
    found = np.interp(wanted, angle_rad[rising], t_s[rising])
    if before:
        found = np.where(wanted < 0, wanted / start_rad_s, found)
    return np.asarray(found, dtype=float)


def read_period(t_s: Floats, pulse_s: Floats, pulses: int, timeout_s: float) -> Floats:
    """Give r/min from the time between the last two pulses, or since the last if that is longer; 0 after a time-out."""
    if pulse_s.size < 2:
        return np.zeros(t_s.size)
    last = np.searchsorted(pulse_s, t_s, side="right") - 1
    safe = np.maximum(last, 1)
    between_s = pulse_s[safe] - pulse_s[safe - 1]
    since_s = t_s - pulse_s[safe]
    rpm = 60.0 / pulses / np.maximum(np.maximum(between_s, since_s), 1e-9)
    stale = (last < 1) | (since_s > timeout_s) | (between_s > timeout_s)
    return np.where(stale, 0.0, rpm)


def read_gate(t_s: Floats, pulse_s: Floats, pulses: int, gate_s: float) -> Floats:
    """Give r/min from the pulses counted over the last whole gate."""
    ends_s = np.floor(t_s / gate_s) * gate_s
    counted = np.searchsorted(pulse_s, ends_s, side="right") - np.searchsorted(pulse_s, ends_s - gate_s, side="right")
    return counted.astype(float) * (60.0 / (pulses * gate_s))


def read_tacho(rng: Rng, tacho: Tacho, rig: Rig, fields: Fields) -> Floats:
    """Give the channel."""
    inside, t_s = fields.inside, fields.sample_t_s
    speed = inside.motor_speed_rad_s if tacho.on_motor else inside.ring_speed_rad_s
    angle = fields.motor_angle_rad if tacho.on_motor else fields.ring_angle_rad
    if tacho.pulses == 0:
        wobble = 1.0 + tacho.noise * np.cos(angle) + tacho.noise * rng.standard_normal(speed.size)
        rpm = lag(speed * wobble, fields.rate_hz, 0.05)[:: fields.per_sample] * 60.0 / (2 * np.pi) * tacho.gain
        rpm = rpm + 2e-4 * tacho.full_rpm * rng.standard_normal(rpm.size)
        return np.clip(rpm, 0.0, tacho.full_rpm)
    pulse_s = pulse_times_s(inside.t_s, angle, float(speed[0]), tacho.pulses)
    if tacho.kind is Tachometer.GATE:
        rpm = read_gate(t_s, pulse_s, tacho.pulses, tacho.gate_s)
    else:
        pulse_s = np.sort(
            pulse_s + rng.uniform(-0.3, 0.3, pulse_s.size) * tacho.noise * 6.28 / tacho.pulses / rig.set_speed_rad_s
        )
        rpm = read_period(t_s, pulse_s, tacho.pulses, tacho.timeout_s)
    return np.clip(rpm, 0.0, tacho.full_rpm)
