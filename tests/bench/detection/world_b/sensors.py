"""From what is to what is read: lag, noise, hum, drift, zero, converter, rails.

Reads the true course of every quantity, gives the channels of the rig, and what its technician would write down.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from .draws import Draw, lag, ringing, slow_unrest, unrest
from .drives import motor_of
from .events import Story
from .rigs import Rig
from .sound import hold, meter
from .tachometer import shown_rpm
from .turning import Turning
from .values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
    RigFacts,
    Tachometer,
)


@dataclass(frozen=True, slots=True)
class Course:
    """The true course of a recording on its grid, (n,) each; sound as power before the meter."""

    t_s: Floats
    load_n: Floats
    turning: Turning
    sound_power: Floats
    bath_degc: Floats
    pin_degc: Floats


def read_channels(draw: Draw, story: Story, course: Course, rate_hz: float) -> dict[str, Floats]:
    """Give what the rig's sensors read, healthy, before rails and losses.

    Args:
        draw: the stream of noise.
        story: rig and days.
        course: what is true.
        rate_hz: samples a second.
    Returns:
        Name to (n,) float64 in the channel's unit, in the order of the rig's channels.
    """
    readers: Mapping[str, Callable[[Draw, Story, Course, float], Floats]] = {
        NORMAL_LOAD: _load,
        FRICTION_FORCE: _friction,
        MOTOR_CURRENT: _current,
        SOUND_LEVEL: lambda d, s, c, r: meter(d, s.rig, c.sound_power, r),
        PIN_TEMPERATURE: lambda d, s, c, r: _couple(d, s, c.pin_degc, r),
        BATH_TEMPERATURE: lambda d, s, c, r: _couple(d, s, c.bath_degc, r),
        RING_SPEED: _speed,
    }
    return {name: readers[name](draw, story, course, rate_hz) for name in CHANNELS_OF[story.rig.channel_set]}


def _loudness(rate_hz: float) -> float:
    """Give how much one sample is noisier than at 100 Hz: a converter that samples faster averages less."""
    return float(np.clip((rate_hz / 100.0) ** 0.35, 0.3, 3.0))


def _load(draw: Draw, story: Story, course: Course, rate_hz: float) -> Floats:
    sensing = story.rig.sensing
    noise = sensing.load_noise_n * _loudness(rate_hz) * draw.rng.standard_normal(len(course.t_s))
    zero = sensing.load_range_n * 0.003 * draw.normal()
    return _converted(
        lag(course.load_n, sensing.load_lag_s, rate_hz) + noise + zero, sensing.load_range_n, sensing.bits
    )


def _friction(draw: Draw, story: Story, course: Course, rate_hz: float) -> Floats:
    sensing, t_s, n = story.rig.sensing, course.t_s, len(course.t_s)
    force = lag(course.turning.friction_n, sensing.cell_lag_s, rate_hz)
    arm = sensing.arm_share * force * ringing(draw, n, sensing.arm_hz, draw.within(4.0, 20.0), rate_hz)
    turning = np.minimum(course.turning.ring_rad_s / story.rig.drive.set_rad_s, 1.0)
    noise = sensing.cell_noise_n * _loudness(rate_hz)
    read = (
        force + arm * turning + 0.6 * noise * draw.rng.standard_normal(n) + 0.8 * noise * unrest(draw, n, 0.03, rate_hz)
    )
    if sensing.hum_n > 0.0:
        read += sensing.hum_n * np.sin(2.0 * np.pi * (50.0 + 0.03 * draw.normal()) * t_s + draw.within(0.0, 6.28))
    read += sensing.cell_drift_n_h * t_s / 3600.0 + _zero(draw, story, t_s)
    read += 0.0005 * sensing.cell_range_n * (slow_unrest(draw, t_s, 300.0) + 0.02 * (course.bath_degc - 25.0))
    return _converted(read, sensing.cell_range_n, sensing.bits)


def _zero(draw: Draw, story: Story, t_s: Floats) -> Floats:
    steps = draw.rng.standard_normal(len(story.script.breaks) + 1) * 0.004 * story.rig.sensing.cell_range_n
    which = np.searchsorted(np.array([t for t, _ in story.script.breaks]), t_s, side="right")
    return np.asarray(steps[which])


def _current(draw: Draw, story: Story, course: Course, rate_hz: float) -> Floats:
    sensing, n = story.rig.sensing, len(course.t_s)
    true_a = lag(course.turning.current_a, sensing.current_lag_s, rate_hz)
    ripple = sensing.current_ripple_share * true_a * unrest(draw, n, 0.008, rate_hz)
    noise = sensing.current_noise_a * _loudness(rate_hz) * draw.rng.standard_normal(n)
    if sensing.current_lag_s > 0.0:  # a true-RMS converter cannot read below zero
        return _converted(np.abs(true_a + ripple + 0.3 * noise), sensing.current_range_a, sensing.bits)
    offset = 0.002 * sensing.current_range_a * draw.normal()
    return _converted(true_a + ripple + noise + offset, sensing.current_range_a, sensing.bits)


def _couple(draw: Draw, story: Story, true_degc: Floats, rate_hz: float) -> Floats:
    sensing, n = story.rig.sensing, len(true_degc)
    t_s = np.arange(n) / rate_hz
    read = lag(true_degc, sensing.couple_lag_s, rate_hz) + 0.8 * draw.normal()
    read += sensing.couple_wander_k * 0.5 * slow_unrest(draw, t_s, 90.0)
    read += sensing.couple_noise_k * draw.rng.standard_normal(n)
    read = hold(np.round(read / sensing.couple_step_k) * sensing.couple_step_k, sensing.couple_refresh_s, rate_hz)
    every = round(sensing.couple_refresh_s * rate_hz)
    if sensing.couple_gaps and 1 < every <= 0.11 * rate_hz:
        read[np.arange(n) % every != 0] = np.nan
    return read


def _speed(draw: Draw, story: Story, course: Course, rate_hz: float) -> Floats:
    turning, sensing = course.turning, story.rig.sensing
    true = turning.motor_rad_s if sensing.tachometer_on_motor else turning.ring_rad_s
    return shown_rpm(draw, sensing, course.t_s, true, rate_hz)


def _converted(read: Floats, range_high: float, bits: int) -> Floats:
    step = 2.2 * range_high / 2.0**bits
    return np.round(read / step) * step


def ranges_of(rig: Rig) -> dict[str, tuple[float, float]]:
    """Give the valid values of each channel of a rig, in its unit."""
    sensing, top_rpm = rig.sensing, rig.ring_speed_rpm
    below = 1.0 if sensing.cell_two_sided else 0.1
    sound = (round(rig.room.offset_db) + 25.0, round(rig.room.offset_db) + 130.0)
    analogue = sensing.tachometer is Tachometer.ANALOGUE
    every = {
        NORMAL_LOAD: (-0.05 * sensing.load_range_n, sensing.load_range_n),
        FRICTION_FORCE: (-below * sensing.cell_range_n, sensing.cell_range_n),
        MOTOR_CURRENT: (-0.1 * sensing.current_range_a, sensing.current_range_a),
        SOUND_LEVEL: sound,
        PIN_TEMPERATURE: (-20.0, 300.0),
        BATH_TEMPERATURE: (-20.0, 250.0),
        RING_SPEED: (-0.05 * top_rpm if analogue else 0.0, 1.6 * top_rpm),
    }
    return {name: (float(f"{low:.4g}"), float(f"{high:.4g}")) for name, (low, high) in _kept(rig, every).items()}


def _kept(rig: Rig, every: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    return {name: every[name] for name in CHANNELS_OF[rig.channel_set]}


def railed(read: Floats, span: tuple[float, float]) -> Floats:
    """Give values held at the rails of the converter, 2 % of the span beyond the valid range."""
    beyond = 0.02 * (span[1] - span[0])
    return np.clip(read, span[0] - beyond, span[1] + beyond)


def facts_of(draw: Draw, rig: Rig, loads_n: tuple[float, ...]) -> RigFacts:
    """Give what the technician would write down of a rig: sizes, ranges and limits."""
    _, no_load = motor_of(rig.drive).steady(np.array([rig.drive.drag_nm]))
    sensing, ranges = rig.sensing, ranges_of(rig)
    limits: dict[str, float] = {}
    if PIN_TEMPERATURE in ranges:
        limits[PIN_TEMPERATURE] = rig.heat.limit_pin_degc
    if BATH_TEMPERATURE in ranges:
        limits[BATH_TEMPERATURE] = rig.heat.limit_bath_degc
    if draw.chance(0.5):
        full_a = float(np.hypot(rig.drive.full_current_a, rig.drive.magnetising_a))
        limits[MOTOR_CURRENT] = float(f"{min(draw.within(1.9, 3.0) * full_a, 0.95 * sensing.current_range_a):.2g}")
    if FRICTION_FORCE in ranges and draw.chance(0.4):
        most_n = min(draw.within(2.6, 4.0) * rig.top_mu * rig.top_load_n, 0.95 * sensing.cell_range_n)
        limits[FRICTION_FORCE] = float(f"{most_n:.2g}")
    return RigFacts(
        ring_diameter_mm=rig.ring_diameter_mm,
        ring_speed_rpm=rig.ring_speed_rpm,
        no_load_current_a=float(f"{float(no_load[0]) * (1.0 + sensing.no_load_error):.3g}"),
        ranges=ranges,
        limits=limits,
        channel_set=rig.channel_set,
        drive=rig.drive.kind,
        belt=rig.drive.belt,
        tachometer=sensing.tachometer,
        pulses_per_turn=sensing.pulses_per_turn,
        tachometer_on_motor=sensing.tachometer_on_motor,
        loads_n=loads_n,
    )
