"""From the inner world to the logger's rows: instruments, faults, electrical nuisances, stamps."""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
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
    Inside,
    Kind,
)

from world_o.nuisances import window
from world_o.parts import Plan, Rig
from world_o.sensors import Sensor, convert, level_passed, low_passed, tachometer


@dataclass(frozen=True, slots=True)
class Broken:
    """A fault on its channel, with numbers drawn beforehand."""

    fault: Fault
    channel: str
    at_s: float
    size: float


def _fault_rows(broken: Broken, sensor: Sensor, t_s: Floats, values: Floats) -> Floats:
    """Give a channel's rows with its fault."""
    bad = t_s >= broken.at_s
    if not bad.any():
        return values
    first = int(np.argmax(bad))
    out = values.copy()
    if broken.fault is Fault.STUCK:
        out[bad] = values[max(0, first - 1)]
    elif broken.fault is Fault.SATURATED:
        out[bad] = sensor.high
    elif broken.fault is Fault.OPEN_THERMOCOUPLE:
        out[bad] = np.nan if broken.size < 0.25 else (sensor.high * 2.0 + 100.0 if broken.size < 0.8 else -200.0)
    elif broken.fault is Fault.DROPOUT:
        out[bad] = np.nan
    elif broken.fault is Fault.DRIFT:
        share = (sensor.high - max(sensor.low, 0.0)) * (0.3 + 0.7 * broken.size) / 1000.0
        down = (PIN_TEMPERATURE, BATH_TEMPERATURE, MOTOR_CURRENT)
        sign = -1.0 if broken.channel in down or broken.size < 0.5 else 1.0
        drifted = values + sign * share * (t_s - broken.at_s)
        out[bad] = np.clip(np.round(drifted / sensor.step) * sensor.step, sensor.low, sensor.high)[bad]
    elif broken.fault is Fault.SIGN_FLIP:
        out[bad] = -values[bad]
    elif broken.fault is Fault.TACHOMETER_LOST:
        out[bad] = 0.0
    return out


def _inner(name: str, inside: Inside, rig: Rig) -> Floats:
    """Give the true track a channel follows."""
    if name == RING_SPEED:
        return inside.motor_speed_rad_s if rig.tachometer_on_motor else inside.ring_speed_rad_s
    out: Floats = getattr(inside, name)
    return out


def measure(
    rng: Generator, name: str, sensor: Sensor, inside: Inside, plan: Plan, rig: Rig, lean_n: Floats, rate_hz: float
) -> Floats:  # fmt: skip
    """Give one channel's rows before faults, at the inner rate."""
    truth, t_s = _inner(name, inside, rig), inside.t_s
    if name in (FRICTION_FORCE, NORMAL_LOAD):
        smooth = low_passed(truth + lean_n * (1.0 if name == FRICTION_FORCE else 3.0), sensor.cut_hz, rate_hz)
        if sensor.hum:
            smooth = smooth + sensor.hum * np.sin(2 * np.pi * 49.98 * t_s)
        for odd, at_s, lasts_s, size in plan.oddities:
            if odd == "forklift":
                shake = np.sin(2 * np.pi * 4.3 * t_s) + np.sin(2 * np.pi * 6.7 * t_s)
                smooth = smooth + 0.03 * size * sensor.high * 0.2 * shake * window(t_s, at_s, lasts_s, 1.5)
    elif name == SOUND_LEVEL:
        smooth = level_passed(truth, sensor.cut_hz, rate_hz)
        for odd, at_s, lasts_s, size in plan.oddities:
            if odd == "reader":
                smooth = smooth + 4.0 * (size - 0.6) * np.clip((t_s - at_s) / max(lasts_s, 1.0), 0.0, 1.0)
    elif name == RING_SPEED:
        return convert(rng, _own_rate(sensor), tachometer(rig, sensor, truth, rate_hz), rate_hz)
    else:
        for odd, at_s, _, size in plan.oddities:
            if odd == "splash" and name == PIN_TEMPERATURE:
                truth = truth - 6.0 * size * np.where(t_s > at_s, np.exp(-np.maximum(t_s - at_s, 0.0) / 2.5), 0.0)
        smooth = low_passed(truth, sensor.cut_hz, rate_hz)
    out = convert(rng, sensor, smooth, rate_hz)
    for odd, at_s, lasts_s, size in plan.oddities:
        if odd == "phone" and name in (FRICTION_FORCE, NORMAL_LOAD, SOUND_LEVEL):
            buzz = (np.mod(t_s, 0.6) < 0.2) * window(t_s, at_s, min(lasts_s, 6.0), 0.05)
            out = out + buzz * rng.normal(size=t_s.size) * size * (0.01 * sensor.high)
    return np.clip(out, sensor.low, sensor.high)


def _own_rate(sensor: Sensor) -> Sensor:
    """Give a tachometer's converter, which notes every row whatever its gate."""
    return Sensor(sensor.low, sensor.high, sensor.cut_hz, 0.0, sensor.gain, sensor.noise, sensor.step, 0.0)


def electrical(
    rng: Generator, plan: Plan, t_s: Floats, channels: dict[str, Floats], sensors: dict[str, Sensor]
) -> None:
    """Put spikes, crackles and missing samples into rows, in place."""
    names = list(channels)
    for n in plan.listed:
        if n.kind not in (Kind.SPIKES, Kind.SHORT_DROPOUTS):
            continue
        for _ in range(int(rng.integers(1, 7))):
            name = names[int(rng.integers(len(names)))]
            first = int(np.searchsorted(t_s, n.t_s + rng.uniform(0.0, 20.0)))
            if n.kind is Kind.SPIKES:
                span, full = int(rng.integers(1, 4)), sensors[name].high
                part = channels[name][first : first + span]
                spiked = part + rng.choice([-1.0, 1.0]) * rng.uniform(0.1, 0.8) * full
                channels[name][first : first + span] = np.clip(spiked, sensors[name].low, full)
            else:
                gap_s = rng.uniform(0.02, 0.5)
                channels[name][first : first + max(1, round(gap_s / float(t_s[1] - t_s[0])))] = np.nan
    for odd, at_s, lasts_s, size in plan.oddities:
        if odd == "crackle":
            name = names[int(rng.integers(len(names)))]
            hit = (rng.random(t_s.size) < 0.02) & (t_s >= at_s) & (t_s < at_s + lasts_s)
            jumps = rng.normal(size=t_s.size) * 0.05 * size * sensors[name].high
            channels[name] = np.clip(
                np.where(hit, channels[name] + jumps, channels[name]), sensors[name].low, sensors[name].high
            )


def stamp(rng: Generator, plan: Plan, t_s: Floats, channels: dict[str, Floats]) -> tuple[Floats, dict[str, Floats]]:
    """Give rows with the logger's stamps: mostly clean, now and then with holes, repeats or steps back."""
    step_s = float(t_s[1] - t_s[0])
    stamps, keep = t_s.copy(), np.ones(t_s.size, dtype=bool)
    if rng.random() < 0.25:
        stamps = np.round(t_s + rng.uniform(-0.03, 0.03, t_s.size) * step_s, 4)
    for n in plan.listed:
        if n.kind not in (Kind.HOLES, Kind.DUPLICATE_STAMPS, Kind.BACKWARD_STAMPS):
            continue
        for _ in range(int(rng.integers(1, 5))):
            first = int(np.searchsorted(t_s, n.t_s + rng.uniform(0.0, 15.0)))
            if n.kind is Kind.HOLES:
                keep[first : first + max(1, round(rng.uniform(0.05, 2.5) / step_s))] = False
            elif n.kind is Kind.DUPLICATE_STAMPS:
                last = min(first + int(rng.integers(1, 6)), t_s.size - 1)
                stamps[first + 1 : last + 1] = stamps[min(first, t_s.size - 1)]
            else:
                stamps[first : first + int(rng.integers(1, 6))] -= rng.uniform(0.01, 1.0)
    stamps[t_s >= plan.night_s] += plan.night_lasts_s
    return stamps[keep], {name: values[keep] for name, values in channels.items()}


def rows(
    rng: Generator, plan: Plan, rig: Rig, inside: Inside, sensors: dict[str, Sensor], names: tuple[str, ...],
    lean_n: Floats, broken: Broken | None, thin: int,
) -> tuple[Floats, dict[str, Floats]]:  # fmt: skip
    """Give stamps and channels of a recording; `thin` inner rows make one of the logger's."""
    rate_hz = 1.0 / (inside.t_s[1] - inside.t_s[0])
    channels = {name: measure(rng, name, sensors[name], inside, plan, rig, lean_n, rate_hz)[::thin] for name in names}
    t_s = inside.t_s[::thin]
    electrical(rng, plan, t_s, channels, sensors)
    if broken is not None and broken.channel in channels:
        channels[broken.channel] = _fault_rows(broken, sensors[broken.channel], t_s, channels[broken.channel])
    return stamp(rng, plan, t_s, channels)
