"""Draws what the operator does and when the event comes.  Reads a random stream, gives a `Plan`."""

import numpy as np
from numpy.random import Generator
from world_b.values import SCUFFINGS, Fault, Klass, Precursor

from world_o.parts import Cause, Plan

LONG_PRECURSORS = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)
SHORT_PRECURSORS = (Precursor.BURSTS, Precursor.CREEP, Precursor.MICRO_SCUFF)


def _length_s(rng: Generator, klass: Klass) -> float:
    """Give how long the recording is meant to be."""
    if klass is Klass.ENDURANCE:
        return float(rng.uniform(480.0, 1200.0))
    return float(rng.uniform(330.0, 680.0))


def _steps(rng: Generator, klass: Klass, top_n: float, start_s: float, until_s: float) -> list[tuple[float, float]]:
    """Give time and load of every weight; rising mostly, some rigs go down and up again."""
    if klass is Klass.ENDURANCE:
        count = int(rng.integers(1, 3))
        return [(start_s + 5.0 + 40.0 * k, top_n * (k + 1) / count) for k in range(count)]
    dwell_s = rng.uniform(20.0, 120.0)
    times: list[float] = []
    at_s = start_s + rng.uniform(3.0, 15.0)
    while at_s < until_s - 18.0 and len(times) < 12:
        times.append(at_s)
        at_s += max(20.0, dwell_s * rng.uniform(0.8, 1.25))
    count = len(times)
    low_n = max(5.0, top_n / min(rng.uniform(4.0, 10.0), 1.0 + 1.4 * (count - 1)))
    loads = np.linspace(low_n, top_n, count) if rng.random() < 0.6 else np.geomspace(low_n, top_n, count)
    rises_only = klass not in (Klass.STAIRCASE, Klass.STARTS_AND_STOPS, Klass.STICK_SLIP, Klass.SQUEAL)
    if not rises_only and count > 3 and rng.random() < 0.35:
        half = count // 2 + 1
        loads = np.concatenate([loads[::2], loads[::-2]])[:count] if half > 1 else loads
    grain_n = 0.5 if top_n < 60.0 else 1.0
    return [(float(t), float(max(5.0, np.round(n / grain_n) * grain_n))) for t, n in zip(times, loads, strict=True)]


def _precursor(rng: Generator, klass: Klass, speed_rpm: float) -> tuple[Precursor, float]:
    """Give the precursor of a class and how long it is to take, s."""
    if klass is Klass.SCUFFING_SHORT or (klass is Klass.SCUFFING_WITH_FAULT and rng.random() < 0.4):
        return SHORT_PRECURSORS[int(rng.integers(3))], float(rng.uniform(3.0, 13.0))
    if klass in (Klass.SCUFFING_LONG, Klass.SCUFFING_WITH_FAULT):
        kind = LONG_PRECURSORS[int(rng.integers(4))]
        if kind is Precursor.ONCE_PER_TURN and speed_rpm > 400.0:
            kind = Precursor.BURSTS
        return kind, float(rng.uniform(50.0, 240.0))
    if klass is Klass.SEIZURE and rng.random() < 0.5:
        return SHORT_PRECURSORS[int(rng.integers(2))], float(rng.uniform(3.0, 40.0))
    return Precursor.NONE, 0.0


def _event_s(rng: Generator, klass: Klass, start_s: float, length_s: float, ramp_s: float) -> float:
    """Give when the event begins; NaN for classes without one."""
    if klass is Klass.OVERHEAT:
        return float(rng.uniform(max(100.0, start_s + 40.0), max(150.0, length_s * 0.6)))
    if klass in (*SCUFFINGS, Klass.SEIZURE, Klass.JAM, Klass.SUPPLY_LOST):
        latest_s = max(90.0, length_s - 40.0 - ramp_s)
        return float(rng.uniform(min(max(75.0 + start_s, 0.4 * length_s), latest_s - 10.0), latest_s))
    return float("nan")


def _pauses(rng: Generator, plan: Plan) -> None:
    """Add the motor's pauses of the class of starts and stops."""
    at_s = plan.start_s + rng.uniform(15.0, 60.0)
    while at_s < plan.length_s - 30.0 and len(plan.off) < 9:
        stop_s = rng.uniform(0.4, 2.0) if rng.random() < 0.2 else rng.uniform(4.0, 45.0)
        plan.off.append((at_s, at_s + stop_s))
        at_s += stop_s + rng.uniform(8.0, 90.0)


def draw_plan(rng: Generator, klass: Klass, top_n: float, speed_rpm: float) -> Plan:
    """Give the plan of one recording, still without nuisances."""
    length_s = _length_s(rng, klass)
    start_s = 0.0 if rng.random() < 0.2 else float(rng.uniform(2.0, 15.0))
    precursor, ramp_s = _precursor(rng, klass, speed_rpm)
    event_s = _event_s(rng, klass, start_s, length_s, ramp_s)
    until_s = length_s if np.isnan(event_s) else event_s + (5.0 if klass is Klass.SUPPLY_LOST else 0.0)
    steps = _steps(rng, klass, top_n, start_s, until_s)
    if not np.isnan(event_s):
        steps = [s for s in steps if s[0] < event_s - 3.0]
        steps[-1] = (steps[-1][0], max(steps[-1][1], 0.6 * float(np.round(top_n)), 5.0))
    tail_s = float(rng.uniform(28.0, 90.0))
    plan = Plan(
        klass=klass,
        length_s=length_s,
        steps=steps,
        start_s=start_s,
        event_s=event_s,
        ramp_s=ramp_s,
        tail_s=tail_s,
        precursor=precursor,
        free_until_s=length_s - 5.0 if np.isnan(event_s) else event_s - 1.0,
    )
    if klass is Klass.STARTS_AND_STOPS:
        _pauses(rng, plan)
    if klass is Klass.OVERHEAT:
        plan.cause = list(Cause)[int(rng.integers(3))]
        plan.length_s = event_s + 420.0
    elif not np.isnan(event_s):
        plan.length_s = event_s + 1.5 * ramp_s + tail_s + 45.0
    if klass is Klass.SENSOR_FAULT:
        plan.fault, plan.fault_s = _fault(rng), float(rng.uniform(0.25, 0.8) * plan.length_s)
    if klass is Klass.SCUFFING_WITH_FAULT:
        plan.fault, plan.fault_s = _fault(rng), float(max(start_s + 20.0, event_s - rng.uniform(5.0, 150.0)))
    return plan


def _fault(rng: Generator) -> Fault:
    """Give a fault; the channel it falls on is drawn once the channels are known."""
    return list(Fault)[int(rng.choice(7, p=[0.2, 0.12, 0.16, 0.18, 0.14, 0.08, 0.12]))]
