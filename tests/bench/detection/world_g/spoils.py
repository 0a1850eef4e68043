"""What spoils readings: a sensor that fails for good, spikes, missing samples. Reads and changes channels."""

import numpy as np
from world_b.values import BATH_TEMPERATURE, PIN_TEMPERATURE, SOUND_LEVEL, Fault, Floats, Kind

from .chance import Dice, between, chance, spread
from .plan import FaultPlan, Plan
from .readings import TEMPERATURES, cells_of, converted
from .rig import Rig

_SLOW = (PIN_TEMPERATURE, BATH_TEMPERATURE, SOUND_LEVEL)


def spoil(dice: Dice, rig: Rig, plan: Plan, channels: dict[str, Floats], t_s: Floats) -> dict[str, Floats]:
    """Give the channels as recorded, with everything that is wrong with them."""
    out = {name: read.copy() for name, read in channels.items()}
    if plan.fault is not None:
        fault = plan.fault
        out[fault.channel] = _failed(dice, rig, fault, out[fault.channel], t_s)
    for thing in plan.nuisances:
        if thing.kind is Kind.SPIKES:
            _spikes(dice, rig, out, plan.duration_s, t_s)
        elif thing.kind is Kind.SHORT_DROPOUTS:
            names = list(out) if chance(dice, 0.4) else [list(out)[int(dice.integers(len(out)))]]
            begin = int(np.searchsorted(t_s, thing.t_s))
            end = max(int(np.searchsorted(t_s, thing.t_s + thing.duration_s)), begin + 1)
            for name in names:
                out[name][begin:end] = np.nan
    return out


def _failed(dice: Dice, rig: Rig, plan: FaultPlan, read: Floats, t_s: Floats) -> Floats:
    """Give a channel that is wrong from a moment on."""
    cell, since = cells_of(rig.sensing)[plan.channel], t_s >= plan.t_s
    begin = min(int(np.searchsorted(t_s, plan.t_s)), len(t_s) - 1)
    up, zero = chance(dice, 0.7), chance(dice, 0.35)
    slope = spread(dice, 0.01, 0.08) * (60.0 if plan.channel in TEMPERATURES else cell.high - cell.low) / 30.0
    if plan.fault is Fault.DRIFT:
        drift = slope * np.clip(t_s - plan.t_s, 0.0, None) * (1.0 if up else -1.0)
        return converted(rig.sensing, plan.channel, read + drift)
    wrong = {
        Fault.STUCK: read[max(begin - 1, 0)],
        Fault.SATURATED: cell.high,
        Fault.OPEN_THERMOCOUPLE: cell.high if up else cell.low,
        Fault.DROPOUT: 0.0 if zero and plan.channel not in _SLOW else np.nan,
        Fault.TACHOMETER_LOST: 0.0,
    }
    if plan.fault is Fault.SIGN_FLIP:
        return np.where(since, np.maximum(-read, cell.low), read)
    return np.where(since, wrong[plan.fault], read)


def _spikes(dice: Dice, rig: Rig, out: dict[str, Floats], duration_s: float, t_s: Floats) -> None:
    """Put spikes of one to three samples on channels, a few in ten minutes."""
    names = [name for name in out if name != SOUND_LEVEL]
    for _ in range(int(dice.poisson(spread(dice, 2.0, 20.0) * duration_s / 600.0)) + 1):
        name = names[int(dice.integers(len(names)))]
        at = int(np.searchsorted(t_s, between(dice, 0.0, duration_s)))
        cell = cells_of(rig.sensing)[name]
        height = spread(dice, 0.03, 0.8) * (cell.high - cell.low) * (1.0 if chance(dice, 0.6) else -1.0)
        part = slice(at, at + int(dice.integers(1, 4)))
        out[name][part] = converted(rig.sensing, name, out[name][part] + height)
