"""What really happened in a recording of the first world, read from its own noise-free course.

Reads plan and traces, gives the truth; and which channels an event moves, beside a twin that nothing befell.
"""

import math

import numpy as np
from world_b.values import NAN, PIN_TEMPERATURE, TRIP_WORTHY, Floats, Klass, RigFacts, Truth

from .course import Course, Given, Traces
from .plan import Plan
from .rigs import Rig
from .sense import Channels, lagged

_SEVERE = 3.0
_FORESEEN_S = 180.0
_SEEN = 5.0


def effect_of(
    channels: Channels, traces: Traces, twin: Course, given: Given, begin: int, steps: int
) -> dict[str, float]:
    """Give how far each channel moves, for 0.1 s at least, beside a twin that nothing befell."""
    beside = Traces()
    twin.play(given, begin, begin + steps, beside)
    part = Traces(*(getattr(traces, name)[begin : begin + steps] for name in Traces.__slots__))
    with_it, without = channels.true(part, begin), channels.true(beside, begin, hurt=False)
    found = {}
    for name, value in with_it.items():
        apart = lagged(value - without[name], 0.1, channels.row_s)
        found[name] = float(np.max(np.abs(apart), initial=0.0))
    return found


def _unrest(read: Floats, at: int, row_s: float) -> float:
    """Give the usual scatter of a channel within a second, over the 20 s before row `at`."""
    second = max(3, round(1.0 / row_s))
    before = read[max(0, at - 20 * second) : at]
    pieces = [before[i : i + second] for i in range(0, len(before) - second + 1, second)]
    scatter = [float(np.std(piece[np.isfinite(piece)])) for piece in pieces if np.isfinite(piece).any()]
    return float(np.median(scatter)) if scatter else math.inf


def seen_by(
    effect: dict[str, float], read: dict[str, Floats], event_row: int, row_s: float, bad: str
) -> tuple[str, ...]:
    return tuple(
        name for name in effect if name != bad and effect[name] > _SEEN * _unrest(read[name], event_row, row_s)
    )


def truth_of(plan: Plan, rig: Rig, facts: RigFacts, klass: Klass, traces: Traces, dt_s: float) -> Truth | None:
    """Give the truth but for what was seen; None where the class is not borne out."""
    over_s, stall_s = overheat_s(facts, traces, dt_s), _stall_s(plan, traces, rig, dt_s)
    began_s = min(plan.heater_sticks_s, plan.dry_s)
    if (klass is Klass.OVERHEAT) == math.isnan(over_s) or over_s < began_s:
        return None
    if math.isnan(stall_s) if klass in (Klass.SEIZURE, Klass.JAM) else klass not in TRIP_WORTHY and stall_s >= 0.0:
        return None  # nothing held the ring, or it was a start under a load that the motor could not turn
    onset_s = plan.damage.onset_t_s if plan.damage is not None else NAN
    jam_s = plan.jam[0] if plan.jam is not None else NAN
    lost_s = plan.supply_off[0][0] if klass is Klass.SUPPLY_LOST else NAN
    precursor_s = plan.damage.bursts[0].t_s if plan.damage is not None and plan.damage.bursts else onset_s
    foreseen_s = max(began_s, over_s - _FORESEEN_S) if klass is Klass.OVERHEAT else NAN
    earliest_s = next((t_s for t_s in (precursor_s, jam_s, foreseen_s, lost_s) if not math.isnan(t_s)), NAN)
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=earliest_s,
        onset_s=onset_s,
        severe_s=_severe_s(plan, traces, dt_s),
        stall_s=stall_s,
        jam_s=jam_s,
        overheat_s=over_s,
        supply_lost_s=lost_s,
        fault_s=plan.fault[2] if plan.fault else NAN,
        fault=plan.fault[0] if plan.fault else None,
        fault_channel=plan.fault[1] if plan.fault else "",
        precursor=plan.precursor,
        seen_by=tuple(name for name in facts.limits if name.endswith("_degc")) if klass is Klass.OVERHEAT else (),
    )


def overheat_s(facts: RigFacts, traces: Traces, dt_s: float, begin: int = 0) -> float:
    """Give when a true temperature passes its limit, looked for from step `begin` on."""
    found = []
    for name, limit in facts.limits.items():
        if name.endswith("_degc"):
            degc = np.array((traces.pin_degc if name == PIN_TEMPERATURE else traces.bath_degc)[begin:])
            over = np.flatnonzero(degc > limit)
            found += [(begin + float(over[0])) * dt_s] if len(over) else []
    return min(found, default=NAN)


def _severe_s(plan: Plan, traces: Traces, dt_s: float) -> float:
    """Give when the force, over a lag of 50 ms, is three times its median over the 5 s before anything showed."""
    if plan.damage is None:
        return NAN
    first_s = plan.damage.bursts[0].t_s if plan.damage.bursts else plan.damage.onset_t_s
    onset, end = int(plan.damage.onset_t_s / dt_s), int(first_s / dt_s)
    before_n = float(np.median(traces.force_n[max(0, end - int(5.0 / dt_s)) : end]))
    after = lagged(np.array(traces.force_n[onset:]), 0.05, dt_s)
    over = np.flatnonzero(after > _SEVERE * before_n)
    return (onset + int(over[0])) * dt_s if len(over) else NAN


def _stall_s(plan: Plan, traces: Traces, rig: Rig, dt_s: float) -> float:
    """Give when the ring falls below 2 % of its set speed while the motor pulls."""
    speed, powered = np.array(traces.speed_rad_s), np.array(traces.powered)
    slow = speed < 0.02 * rig.set_rpm * math.tau / 60.0
    # Right after a start the ring is slow as well: it counts where it has been faster while under power.
    fell = slow[1:] & ~slow[:-1] & powered[1:] & powered[:-1]
    at = np.flatnonzero(fell)
    return float(at[0] + 1) * dt_s if len(at) else NAN
