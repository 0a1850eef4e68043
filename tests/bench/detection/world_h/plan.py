"""What the technician means to do: stages of load, dwells, when the motor runs.

Reads a rig, its class and how long nobody may touch it at the end; gives a `Plan` that `hands` carries out.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.random import Generator
from world_b.values import Klass, Nuisance

from .chance import chance, log_between, one_of
from .rig import Rig

_WHOLE_S = {
    Klass.ENDURANCE: (3500.0, 3700.0),
    Klass.STAIRCASE: (380.0, 900.0),
    Klass.STARTS_AND_STOPS: (300.0, 700.0),
}
_BEFORE_S = (120.0, 760.0)
"""From the beginning to the first sign, or of a class not named above, to what makes it that class."""
_MOST_STAGES = 14


@dataclass(slots=True)
class Stage:
    """One load held.

    Attributes:
        load_n: at the contact.
        begin_s, end_s: the weights are being changed at the beginning.
        ready_s: the load is on and rings no more; set by `hands`.
    """

    load_n: float
    begin_s: float
    end_s: float
    ready_s: float = 0.0


@dataclass(slots=True)
class Plan:
    """What is meant and, as it is filled, what was done.

    Attributes:
        end_s: of the recording.
        first_sign_s: nobody touches anything from three seconds before; infinite without an event.
        stages: in order.
        mid_run: the recording begins with the motor running under the first load.
        motor_on_s: the first switching on; negative if before the recording.
        motor_off_s: the last switching off; infinite if it runs on.
        off: times with the motor off between, (begin, end) in s.
        lifted: times with the lever lifted, (begin, end) in s.
        nights: (time, length) in s of nights that pass inside a pause.
        nuisances: every healthy thing.
    """

    end_s: float
    first_sign_s: float
    stages: list[Stage]
    mid_run: bool
    motor_on_s: float
    motor_off_s: float = math.inf
    off: list[tuple[float, float]] = field(default_factory=list)
    lifted: list[tuple[float, float]] = field(default_factory=list)
    nights: list[tuple[float, float]] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)


def draw_plan(rng: Generator, rig: Rig, klass: Klass, quiet_s: float) -> Plan:
    """Draw what is meant.

    Args:
        rng: of the plan.
        rig: see there.
        klass: of the recording.
        quiet_s: from the first sign to the end; 0 without an event.
    """
    mid_run = chance(rng, 0.25) and klass is not Klass.STARTS_AND_STOPS
    motor_on_s = -1.0 if mid_run else rng.uniform(4.0, 25.0)
    first_s = 0.0 if mid_run else motor_on_s + rng.uniform(3.0, 25.0)
    whole_s = rng.uniform(*_WHOLE_S.get(klass, _BEFORE_S))
    if klass in (Klass.STICK_SLIP, Klass.SQUEAL, Klass.SENSOR_FAULT, Klass.SUPPLY_LOST):
        whole_s = max(whole_s, 240.0)
    stages = _stages(rng, rig, klass, first_s, whole_s)
    end_s = stages[-1].end_s
    plan = Plan(end_s + quiet_s, math.inf, stages, mid_run, motor_on_s)
    if quiet_s > 0.0:
        plan.first_sign_s = end_s
        stages[-1].end_s = plan.end_s
    elif klass is not Klass.STARTS_AND_STOPS:
        _finish(rng, plan)
    return plan


def _stages(rng: Generator, rig: Rig, klass: Klass, first_s: float, whole_s: float) -> list[Stage]:
    if klass is Klass.ENDURANCE:
        loads = _loads(rng, rig, int(rng.integers(1, 4)))
        shares = [rng.uniform(0.01, 0.05) for _ in loads[1:]]
        dwells = [share * whole_s for share in shares]
        dwells.append(whole_s - sum(dwells))
    else:
        dwell_s = log_between(rng, 20.0, 600.0)
        loads = _loads(rng, rig, int(min(max(1, round(whole_s / dwell_s)), _MOST_STAGES)))
        kept = rng.uniform(0.0, 0.2)
        dwells = [max(20.0, whole_s / len(loads) * (1.0 + rng.uniform(-kept, kept))) for _ in loads]
        dwells[-1] = max(dwells[-1], 32.0)
    edges = first_s + np.concatenate([[0.0], np.cumsum(dwells)])
    return [Stage(load, float(a), float(b)) for load, a, b in zip(loads, edges, edges[1:], strict=False)]


def _loads(rng: Generator, rig: Rig, count: int) -> list[float]:
    """Give a rising staircase of weights of very unequal size; the arm alone may be the first."""
    steps = rng.lognormal(0.0, one_of(rng, ((0.05, 0.5), (0.9, 0.5))), count)
    rising = np.cumsum(steps)
    least = max(1.0, rng.uniform(0.02, 0.15) * rig.lever.top_load_n)
    top_n = rig.lever.top_load_n * rng.uniform(0.75, 1.0)
    if count == 1:
        return [top_n]
    return [float(least + (top_n - least) * (now - rising[0]) / (rising[-1] - rising[0])) for now in rising]


def _finish(rng: Generator, plan: Plan) -> None:
    """Let some runs end with weights taken off in steps, the lever lifted, the motor off."""
    if chance(rng, 0.3):
        top = plan.stages[-1]
        for share in sorted(rng.uniform(0.15, 0.85, int(rng.integers(1, 4))), reverse=True):
            begin_s = plan.stages[-1].end_s
            plan.stages.append(Stage(float(top.load_n * share), begin_s, begin_s + rng.uniform(20.0, 60.0)))
        plan.end_s = plan.stages[-1].end_s
    if chance(rng, 0.3):
        plan.lifted.append((plan.end_s, plan.end_s + 1000.0))
        plan.motor_off_s = plan.end_s + rng.uniform(3.0, 20.0)
        plan.end_s = plan.motor_off_s + rng.uniform(5.0, 25.0)
