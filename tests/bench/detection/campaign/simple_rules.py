"""The simple rules that a detector must beat, run over the same recordings.

Reads a recording as arrays, gives a verdict with nothing but a trip. Each is what a careful technician would set by
hand (DETECTION: fixed limit, fixed limit with stall, rolling mean, sound), or a bound: never, always.
"""

import numpy as np
from world_b.values import (
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    RING_SPEED,
    SOUND_LEVEL,
    Flags,
    Floats,
    Recording,
)

from scuffwatch.model.finding import FindingKind, Level

from .verdict import Heard, Verdict

RATIO_LIMIT = 0.2
HOLD_S = 0.3
ROLLING_S = 30.0
ROLLING_FACTOR = 2.0
LOUDER_DB = 6.0
SOUND_HOLD_S = 0.5
STALLED_SHARE = 0.5
_ARMED_SHARE = 0.8
_LOADED_SHARE = 0.05


def _period_s(recording: Recording) -> float:
    return float(np.median(np.diff(recording.time_s)))


def _held(true: Flags, hold_s: float, recording: Recording) -> Flags:
    """Say where something has been true for so long."""
    rows = np.arange(len(true))
    since = rows - np.maximum.accumulate(np.where(true, -1, rows))
    return true & (since * _period_s(recording) >= hold_s)


def _filled(values: Floats) -> Floats:
    """Give a channel with its last value where one is missing, and 0 before the first."""
    good = np.isfinite(values)
    at = np.maximum.accumulate(np.where(good, np.arange(len(values)), -1))
    return np.where(at >= 0, values[np.maximum(at, 0)], 0.0)


def _rolling(values: Floats, rows: int) -> Floats:
    """Give the mean of the rows before each one, infinite until there are enough."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    mean = np.full(len(values), np.inf)
    if len(values) > rows:
        mean[rows:] = (sums[rows:-1] - sums[: -rows - 1]) / rows
    return mean


def _ratio(recording: Recording) -> Floats | None:
    """Give friction over load, NaN where hardly any load is on; None without the channels."""
    channels = recording.channels
    if FRICTION_FORCE not in channels or NORMAL_LOAD not in channels:
        return None
    load_n = _filled(channels[NORMAL_LOAD])
    loaded = load_n > max(_LOADED_SHARE * recording.rig.ranges[NORMAL_LOAD][1], 1.0)
    return np.where(loaded, np.abs(_filled(channels[FRICTION_FORCE])) / np.maximum(load_n, 1e-9), np.nan)


def _over_fixed(recording: Recording) -> Flags:
    ratio, limits, channels = _ratio(recording), recording.rig.limits, recording.channels
    if ratio is not None:
        with np.errstate(invalid="ignore"):
            return ratio > RATIO_LIMIT
    over = np.zeros(len(recording.time_s), bool)
    for name in (FRICTION_FORCE, MOTOR_CURRENT):
        if name in limits and name in channels:
            over |= _filled(channels[name]) > limits[name]
    return over


def _stalled(recording: Recording) -> Flags:
    if RING_SPEED not in recording.channels:
        return np.zeros(len(recording.time_s), bool)
    speed = _filled(recording.channels[RING_SPEED])
    armed = np.maximum.accumulate(speed > _ARMED_SHARE * recording.rig.ring_speed_rpm)
    return armed & (speed < STALLED_SHARE * recording.rig.ring_speed_rpm)


def _verdict(recording: Recording, trips: Flags, kind: FindingKind, says: str) -> Verdict:
    at = np.flatnonzero(trips)
    if not len(at):
        return Verdict(())
    return Verdict((Heard(float(recording.time_s[at[0]]), kind, Level.TRIP, (), says),))


class FixedLimit:
    """Friction over load above 0.2 for 0.3 s; without both, the technician's limits of force and current."""

    name = "fixed limit"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict."""
        trips = _held(_over_fixed(recording), HOLD_S, recording)
        return _verdict(recording, trips, FindingKind.FRICTION_LIMIT, "over the fixed limit")


class FixedLimitAndStall:
    """The same, or less than half the set speed for 0.3 s, once four fifths have been reached."""

    name = "fixed limit + stall"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict."""
        trips = _held(_over_fixed(recording), HOLD_S, recording) | _held(_stalled(recording), HOLD_S, recording)
        return _verdict(recording, trips, FindingKind.FRICTION_LIMIT, "over the fixed limit, or slow")


class RollingMean:
    """Friction over load, or what there is instead, above twice its mean of the last 30 s, for 0.3 s."""

    name = "rolling mean x2"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict."""
        channels, ratio = recording.channels, _ratio(recording)
        if ratio is None:
            ratio = _filled(channels.get(FRICTION_FORCE, channels[MOTOR_CURRENT]))
        value = np.nan_to_num(ratio)
        mean = _rolling(value, max(1, round(ROLLING_S / _period_s(recording))))
        trips = _held(value > ROLLING_FACTOR * np.maximum(mean, 1e-6), HOLD_S, recording)
        return _verdict(recording, trips, FindingKind.SCUFFING_ONSET, "twice its rolling mean")


class LouderSound:
    """Sound 6 dB above its mean of the last 30 s, for 0.5 s."""

    name = "sound +6 dB"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict."""
        if SOUND_LEVEL not in recording.channels:
            return Verdict(())
        level = _filled(recording.channels[SOUND_LEVEL])
        mean = _rolling(level, max(1, round(ROLLING_S / _period_s(recording))))
        return _verdict(
            recording, _held(level > mean + LOUDER_DB, SOUND_HOLD_S, recording), FindingKind.SCUFFING_ONSET, "louder"
        )


class Never:
    """Trips never."""

    name = "trip never"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict."""
        return Verdict(())


class Always:
    """Trips at the first row."""

    name = "trip always"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict."""
        return _verdict(recording, np.ones(len(recording.time_s), bool), FindingKind.SCUFFING_ONSET, "always")


SIMPLE = (FixedLimit(), FixedLimitAndStall(), RollingMean(), LouderSound(), Never(), Always())
