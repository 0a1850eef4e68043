"""Readings that are wrong: spikes and missing samples in passing, a sensor that fails for good.

Reads dice, a plan and readings, changes the readings in place.
"""

import numpy as np
from world_b.values import Fault, Flags, Floats, Kind

from .chance import Dice, between, happens, one_of
from .plan import Broken, Plan


def spoil(
    dice: Dice, plan: Plan, at_s: Floats, readings: dict[str, Floats], ranges: dict[str, tuple[float, float]]
) -> None:
    """Put spikes, missing samples and the fault into readings, in place.

    Args:
        dice: for sizes and channels.
        plan: see `Plan`.
        at_s: (m,) moments of the samples.
        readings: name to (m,).
        ranges: valid values of each channel.
    """
    names = list(readings)
    for spike in plan.of(Kind.SPIKES):
        name, count = one_of(dice, names), int(dice.integers(1, 4))
        low, high = ranges[name]
        first = int(np.searchsorted(at_s, spike.t_s))
        part = readings[name][first : first + count]
        part += between(dice, 0.15, 0.9) * (high - low) * (1.0 if happens(dice, 0.5) else -1.0)
        np.clip(part, low, high, out=part)
    for gap in plan.of(Kind.SHORT_DROPOUTS):
        name = one_of(dice, names)
        readings[name][_rows(at_s, gap.t_s, gap.t_s + gap.duration_s)] = np.nan
    if plan.broken is not None:
        broken = plan.broken
        _break(dice, broken, at_s, readings[broken.channel], ranges[broken.channel])


def _break(dice: Dice, broken: Broken, at_s: Floats, read: Floats, bounds: tuple[float, float]) -> None:
    low, high = bounds
    begin = int(np.searchsorted(at_s, broken.t_s))
    rest, late_s = read[begin:], at_s[begin:] - broken.t_s
    fault, temperature = broken.fault, broken.channel.endswith("degc")
    if not len(rest):
        return
    if fault is Fault.STUCK:
        rest[:] = rest[0]
    elif fault is Fault.SATURATED:
        rest[:] = high
    elif fault is Fault.OPEN_THERMOCOUPLE:
        terminal_degc = between(dice, 20.0, 30.0)
        rest[:] = one_of(dice, (np.nan, high, terminal_degc))
        rest += 0.05 * np.round(dice.standard_normal(len(rest))) * (rest == terminal_degc)
    elif fault is Fault.DROPOUT:
        rest[_loose(dice, late_s) if happens(dice, 0.4) else slice(None)] = np.nan
    elif fault is Fault.DRIFT:
        pace = between(dice, 2.0, 8.0) if temperature else (high - low) * between(dice, 0.02, 0.12)
        sign = 1.0 if happens(dice, 0.5) else -1.0
        np.clip(rest + sign * pace * late_s / 60.0, low, high, out=rest)
    elif fault is Fault.SIGN_FLIP:
        rest *= -1.0
    elif fault is Fault.TACHOMETER_LOST:
        rest[:] = 0.0 if happens(dice, 0.7) else np.nan


def _loose(dice: Dice, late_s: Floats) -> Flags:
    """Give the samples that a loose plug loses: about seven of ten, in spans of a second or so."""
    spans = np.cumsum(dice.exponential(1.2, int(late_s[-1] / 0.4) + 8))
    return np.asarray(np.searchsorted(spans, late_s) % 10 < 7)


def _rows(at_s: Floats, begin_s: float, end_s: float) -> slice:
    first, last = np.searchsorted(at_s, (begin_s, end_s))
    return slice(int(first), max(int(last), int(first) + 1))
