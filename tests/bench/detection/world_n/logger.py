"""The logger: noise, hum, resolution, held columns, spikes, missing samples.

Reads what the sensors show and each channel's range, gives what is written down, on a clock without breaks.
"""

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    Floats,
    Kind,
    Tachometer,
)

from world_n.curves import wander, window
from world_n.draws import Rng, stream
from world_n.faults import break_sensor, drift
from world_n.names import LoadReading, Oddity
from world_n.scene import Reading, Scene

COARSE_K = 0.5
TEMPERATURES = (PIN_TEMPERATURE, BATH_TEMPERATURE)
WANDER_TO_ONE = 1.22
"""Brings `curves.wander` to a variance of 1."""


def _noisy(t_s: Floats, values: Floats, reading: Reading, rng: Rng, seed: int, length_s: float) -> Floats:
    sigma = np.hypot(reading.relative * values, reading.absolute)
    fast = np.sqrt(1.0 - reading.smooth_share) * rng.standard_normal(len(t_s))
    slow = np.sqrt(reading.smooth_share) * WANDER_TO_ONE * wander(t_s, seed, reading.spacing_s, length_s)
    return np.asarray(values + sigma * (fast + slow))


def _hum(t_s: Floats, scene: Scene, channel: str) -> Floats:
    hum, contact = np.zeros(len(t_s)), scene.rig.contact
    usual_n = contact.coefficient * contact.largest_load_n
    mains_hz = 49.97 if scene.seed % 3 else 59.98
    for mark in scene.of(Kind.MAINS_HUM):
        if channel == FRICTION_FORCE:
            hum += (0.02 + 0.1 * mark.size) * usual_n * np.sin(2.0 * np.pi * mains_hz * t_s)
    for mark in scene.of(Oddity.LIGHT):
        if channel in TEMPERATURES:
            envelope = window(t_s - mark.t_s, mark.duration_s, 0.5)
            hum += 0.5 * mark.size * envelope * np.sin(4.0 * np.pi * mains_hz * t_s)
    for mark in scene.of(Oddity.PHONE):
        size = {FRICTION_FORCE: 0.15 * usual_n, PIN_TEMPERATURE: 1.5}.get(channel, 0.0) * mark.size
        beats = np.mod(t_s - mark.t_s, 1.3) < 0.45
        hum += size * beats * window(t_s - mark.t_s, mark.duration_s, 0.2) * np.sin(2.0 * np.pi * 8.3 * t_s)
    return hum


def _held(t_s: Floats, values: Floats, hold_s: float) -> Floats:
    if hold_s <= 0.0:
        return values
    first = np.searchsorted(t_s, np.floor(t_s / hold_s) * hold_s)
    return np.asarray(values[np.minimum(first, np.arange(len(t_s)))])


def _spiked(t_s: Floats, values: Floats, scene: Scene, channel: str, span: tuple[float, float]) -> Floats:
    out = values.copy()
    for mark in scene.of(Kind.SPIKES):
        rng = np.random.default_rng([mark.seed, len(channel), ord(channel[0])])
        for _ in range(int(rng.integers(0, 6))):
            at_s, count = mark.t_s + rng.uniform(0.0, mark.duration_s), int(rng.integers(1, 4))
            jump = rng.choice([-1.0, 1.0]) * rng.uniform(0.1, 0.6) * (span[1] - span[0])
            first = int(np.searchsorted(t_s, at_s))
            out[first : first + count] += jump if at_s >= t_s[0] else 0.0
    return np.clip(out, *span)


def _missing(t_s: Floats, values: Floats, scene: Scene, channel: str) -> Floats:
    out = values.copy()
    for mark in scene.of(Kind.SHORT_DROPOUTS):
        rng = np.random.default_rng([mark.seed, len(channel), ord(channel[0]), 1])
        for _ in range(int(rng.integers(0, 4))):
            at_s = mark.t_s + rng.uniform(0.0, mark.duration_s)
            first, end_s = int(np.searchsorted(t_s, at_s)), at_s + rng.uniform(0.01, 1.0)
            last = max(first + (at_s >= t_s[0]), int(np.searchsorted(t_s, end_s)))
            out[first:last] = np.nan
    return out


def _step(scene: Scene, channel: str) -> float:
    step = scene.rig.readings[channel].step
    return max(step, COARSE_K) if channel in TEMPERATURES and scene.of(Kind.COARSE_TEMPERATURE) else step


def _is_typed(scene: Scene, channel: str) -> bool:
    return channel == NORMAL_LOAD and scene.rig.load_reading is LoadReading.TYPED


def _is_counted(scene: Scene, channel: str) -> bool:
    """Say whether a column has no noise of its own: typed in by hand, or counted pulses."""
    counted = channel == RING_SPEED and scene.rig.drive.tachometer is Tachometer.GATE
    return counted or _is_typed(scene, channel)


def write_down(
    t_s: Floats, shown: dict[str, Floats], scene: Scene, ranges: dict[str, tuple[float, float]], rate_hz: float
) -> dict[str, Floats]:
    """Give the columns of the logger.

    Args:
        t_s: (n,) s.
        shown: channel to (n,) without noise.
        scene: the plan.
        ranges: of each channel; readings are cut off there.
        rate_hz: sets the noise of single samples apart from that at another rate.
    """
    columns = {}
    for i, (name, clean) in enumerate(shown.items()):
        reading = scene.rig.readings[name]
        rng = stream(scene.seed, scene.klass, f"noise {name} {rate_hz:g}")
        values = drift(t_s, clean, scene, name)
        if not _is_counted(scene, name):
            values = _noisy(t_s, values, reading, rng, scene.rig.contact.seed + i, scene.duration_s)
        values = values + _hum(t_s, scene, name)
        values = _held(t_s, values, reading.hold_s)
        if not _is_counted(scene, name):
            values = np.round(values / _step(scene, name)) * _step(scene, name)
        values = np.clip(values, *ranges[name])
        if not _is_typed(scene, name):
            values = _spiked(t_s, values, scene, name, ranges[name])
        columns[name] = _missing(t_s, break_sensor(t_s, values, scene, name, ranges[name]), scene, name)
    return columns
