"""A sensor that goes wrong for good, and the spikes and gaps that are only a nuisance.

Reads the channels as read; gives them as recorded. Missing is NaN.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    RING_SPEED,
    SOUND_LEVEL,
    ChannelSet,
    Fault,
    Floats,
    Kind,
    Klass,
    Tachometer,
)  # fmt: skip

from .draws import Rng, uniform
from .plan import Plan
from .tachometers import Tacho

Ranges = dict[str, tuple[float, float]]

FORCE_FAULTS = (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP)
SOUND_FAULTS = (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT)
HEAT_FAULTS = (Fault.OPEN_THERMOCOUPLE, Fault.DROPOUT, Fault.DRIFT)
SPEED_FAULTS = (Fault.STUCK, Fault.DROPOUT, Fault.TACHOMETER_LOST)
BY_CHANNEL = (FORCE_FAULTS, FORCE_FAULTS, FORCE_FAULTS, SOUND_FAULTS, HEAT_FAULTS, HEAT_FAULTS, SPEED_FAULTS)
FAULTS_OF = dict(zip(CHANNELS_OF[ChannelSet.ALL], BY_CHANNEL, strict=True))


@dataclass(frozen=True, slots=True)
class Failing:
    """One sensor's fault; `size` in the channel's unit is what a drift reaches, `ramp_s` how long it takes."""

    fault: Fault
    channel: str
    t_s: float
    size: float
    ramp_s: float
    stuck_low: bool


def draw_failing(
    rng: Rng, klass: Klass, channel_set: ChannelSet, t_s: float, usual: tuple[float, ...], tacho: Tacho
) -> Failing:
    """Draw which sensor fails and how; a lone channel that has to show scuffing only drifts."""
    channels = CHANNELS_OF[channel_set]
    channel = channels[int(rng.integers(len(channels)))]
    faults = FAULTS_OF[channel]
    if klass is Klass.SCUFFING_WITH_FAULT and channel == MOTOR_CURRENT and len(channels) <= 2:
        faults = (Fault.DRIFT,)
    if channel == RING_SPEED and tacho.kind is not Tachometer.ANALOGUE:
        faults = (Fault.DROPOUT, Fault.TACHOMETER_LOST)
    fault = faults[int(rng.integers(len(faults)))]
    size = float(rng.choice([-1.0, 1.0])) * uniform(rng, 0.15, 0.8) * usual[CHANNELS_OF[ChannelSet.ALL].index(channel)]
    return Failing(fault, channel, t_s, size, uniform(rng, 90.0, 420.0), bool(rng.random() < 0.3))


def fail(failing: Failing, t_s: Floats, values: Floats, ends: tuple[float, float]) -> Floats:
    """Give the channel with its fault; t_s on the world's clock."""
    wrong = values.copy()
    first = int(np.searchsorted(t_s, failing.t_s))
    if first >= t_s.size:
        return wrong
    since_s = t_s[first:] - failing.t_s
    match failing.fault:
        case Fault.STUCK:
            wrong[first:] = values[first]
        case Fault.SATURATED:
            low = failing.stuck_low and failing.channel != SOUND_LEVEL
            wrong[first:] = ends[0] if low else ends[1]
        case Fault.OPEN_THERMOCOUPLE:
            wrong[first:] = ends[0] if failing.stuck_low else ends[1]
        case Fault.DROPOUT:
            wrong[first:] = np.nan
        case Fault.DRIFT:
            drift = failing.size * np.minimum(since_s / failing.ramp_s, 1.5)
            wrong[first:] = np.clip(values[first:] + drift, *ends)
        case Fault.SIGN_FLIP:
            wrong[first:] = -values[first:]
        case Fault.TACHOMETER_LOST:
            wrong[first:] = 0.0
    return wrong


def disturb(rng: Rng, plan: Plan, t_s: Floats, channels: dict[str, Floats], ends: Ranges) -> None:
    """Put in the spikes and short gaps, in place; how many hangs on the length, where on the stream."""
    kinds = {h.kind: h.size for h in plan.happenings}
    minutes, rate_hz = plan.duration_s / 60.0, 1.0 / (t_s[1] - t_s[0])
    if Kind.SPIKES in kinds:
        for name in (FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD):
            for _ in range(int(rng.poisson(1.5 * minutes * kinds[Kind.SPIKES]))):
                first = int(rng.random() * t_s.size)
                last = first + int(rng.integers(1, 4))
                height = uniform(rng, -1.0, 1.0) * ends[name][1]
                channels[name][first:last] = np.clip(channels[name][first:last] + height, *ends[name])
    if Kind.SHORT_DROPOUTS in kinds:
        for name in channels:
            for _ in range(int(rng.poisson(0.8 * minutes * kinds[Kind.SHORT_DROPOUTS]))):
                first = int(rng.random() * t_s.size)
                channels[name][first : first + 1 + int(uniform(rng, 0.0, 0.3) * rate_hz)] = np.nan
