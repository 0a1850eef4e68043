"""What sensors, wires and stamps do wrong: lasting faults, spikes, samples missing, rows missing, broken stamps.

Reads clean channels and the plan, gives the recording's arrays and what to put on record.
"""

import numpy as np
from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    RING_SPEED,
    Fault,
    Floats,
    Kind,
    Nuisance,
)

from .dice import Dice
from .plan import FaultPlan, Plan
from .rig import Rig
from .sensors import RAIL_SHARE, ranges_of

_DRIFT_PER_S = 0.02


def break_sensor(dice: Dice, rig: Rig, fault: FaultPlan, t_s: Floats, channels: dict[str, Floats]) -> None:
    """Let one channel go wrong from `fault.t_s` on."""
    values = channels[fault.channel]
    begin = int(np.searchsorted(t_s, fault.t_s))
    after, (low, high) = values[begin:], ranges_of(rig)[fault.channel]
    margin = (RAIL_SHARE - 1.0) * (high - low)
    if fault.fault is Fault.STUCK:
        after[:] = values[max(begin - 1, 0)]
    elif fault.fault is Fault.SATURATED:
        after[:] = high + margin
    elif fault.fault is Fault.OPEN_THERMOCOUPLE:
        after[:] = np.nan if fault.way == 3 else (high + margin if fault.way else low - margin)
    elif fault.fault is Fault.DROPOUT:
        lost = dice.generator.random(len(after)) < 0.9 if fault.way == 3 else np.ones(len(after), dtype=np.bool_)
        after[lost] = np.nan
    elif fault.fault is Fault.DRIFT:
        sign = 1.0 if fault.way % 2 else -1.0
        slope_per_s = sign * _DRIFT_PER_S * fault.pace * _usual(rig, fault.channel)
        after[:] = np.clip(after + slope_per_s * (t_s[begin:] - fault.t_s), low - margin, high + margin)
    elif fault.fault is Fault.SIGN_FLIP:
        after[:] = -after
    else:
        after[:] = 0.0 if fault.way < 3 else after * dice.generator.uniform(0.0, 0.05, len(after))


def disturb(dice: Dice, rig: Rig, plan: Plan, t_s: Floats, channels: dict[str, Floats]) -> list[Nuisance]:
    """Put spikes and gaps into channels and say where."""
    end_s, names, noted = plan.length_s, CHANNELS_OF[rig.channel_set], []
    for at_s in dice.times_s(0.0, end_s, plan.spikes_per_hour):
        begin = int(np.searchsorted(t_s, at_s))
        together = names if dice.chance(0.2) else (dice.one_of(names),)
        length, height = dice.whole(1, 2), dice.flat(-0.8, 0.8)
        for name in together:
            low, high = ranges_of(rig)[name]
            spiked = channels[name][begin : begin + length] + height * (high - low)
            channels[name][begin : begin + length] = np.clip(spiked, low, high)
        noted.append(Nuisance(Kind.SPIKES, at_s))
    for at_s in dice.times_s(0.0, end_s, plan.missing_per_hour):
        length_s = dice.even_log(0.01, 1.0)
        begin, end = np.searchsorted(t_s, [at_s, at_s + length_s])
        channels[dice.one_of(names)][begin : end + 1] = np.nan
        noted.append(Nuisance(Kind.SHORT_DROPOUTS, at_s, length_s))
    return noted


def stamp(
    dice: Dice, jitter: Dice, plan: Plan, t_s: Floats, channels: dict[str, Floats]
) -> tuple[Floats, list[Nuisance]]:
    """Stamp the rows, lose some, and say where; `channels` loses the same rows."""
    noted = []
    stamps_s = clock(plan, t_s) + jitter.one_of((0.0, 0.0, 2e-4)) * jitter.generator.uniform(0.0, 1.0, len(t_s))
    kept = np.ones(len(t_s), dtype=np.bool_)
    for at_s in dice.times_s(0.0, plan.length_s, plan.repeats_per_hour):
        begin = int(np.searchsorted(t_s, at_s))
        stamps_s[begin : begin + dice.whole(1, 3)] = stamps_s[max(begin - 1, 0)]
        noted.append(Nuisance(Kind.DUPLICATE_STAMPS, at_s))
    for at_s in dice.times_s(0.0, plan.length_s, plan.backward_per_hour):
        begin = int(np.searchsorted(t_s, at_s))
        stamps_s[begin : begin + dice.whole(1, 5)] -= dice.even_log(0.02, 2.0)
        noted.append(Nuisance(Kind.BACKWARD_STAMPS, at_s))
    for at_s in dice.times_s(0.0, plan.length_s, plan.holes_per_hour):
        length_s = dice.even_log(0.02, 3.0)
        kept[slice(*np.searchsorted(t_s, [at_s, at_s + length_s]))] = False
        noted.append(Nuisance(Kind.HOLES, at_s, length_s))
    for name in channels:
        channels[name] = channels[name][kept]
    return stamps_s[kept], noted


def clock(plan: Plan, t_s: Floats) -> Floats:
    """Give the stamps' clock for times on the unbroken one; it runs on while nobody records."""
    out_s = t_s + plan.start_stamp_s
    for at_s, away_s in plan.nights:
        out_s = out_s + away_s * (t_s >= at_s)
    return np.asarray(out_s)


def _usual(rig: Rig, channel: str) -> float:
    """Give a usual reading of a channel, by which drifts are sized."""
    force_n = rig.contact.top_friction * rig.top_load_n
    usual = {
        NORMAL_LOAD: rig.top_load_n,
        FRICTION_FORCE: force_n,
        MOTOR_CURRENT: rig.drive.full_current_a,
        RING_SPEED: rig.ring_speed_rpm,
    }
    return usual.get(channel, 30.0)
