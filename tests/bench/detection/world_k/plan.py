"""The operators' day: when the motor is switched, which load goes on when and how. Gives a `Plan` without samples."""

from dataclasses import dataclass, field

import numpy as np
from world_b.values import NAN, Fault, Kind, Klass, Nuisance, Precursor

from world_k.rig import JACK, WEIGHTS, Rig, between

GENTLE, DROPPED, TWICE, PUMPED, WOUND, LIFT = "gentle", "dropped", "set down twice", "pumped", "wound in", "lifted"
FOREVER_S = 1e9
BEFORE_S = -60.0
"""When things happened that were over before the recording began."""


@dataclass(frozen=True, slots=True)
class Change:
    """A load goes on (or off) at `t_s`, in this way."""

    t_s: float
    load_n: float
    way: str


@dataclass(slots=True)
class Plan:
    """Everything decided before the first sample; times in s from the start, without the nights between.

    Attributes:
        runs: spans in which the motor is switched on.
        nights: moment and length of what the clock jumps over.
        dry_from_s: the bath is taken away.
        busy: spans in which no healthy nuisance of contact, lever or supply is placed.
        story_s: from here on the story of the class owns the contact.
        precursor_s .. jam_s: see `Truth`; `heat_from_s` is where the abnormal heating begins.
        depleted, starved: whether the additive, the oil runs out from `precursor_s` on.
    """

    klass: Klass
    duration_s: float = 0.0
    runs: list[tuple[float, float]] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    loads_n: list[float] = field(default_factory=list)
    mid_run: bool = False
    nights: list[tuple[float, float]] = field(default_factory=list)
    top_ups_s: list[float] = field(default_factory=list)
    dry_from_s: float = FOREVER_S
    busy: list[tuple[float, float]] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)
    story_s: float = FOREVER_S
    precursor: Precursor = Precursor.NONE
    precursor_s: float = NAN
    onset_s: float = NAN
    jam_s: float = NAN
    heat_from_s: float = NAN
    supply_lost_s: float = NAN
    depleted: bool = False
    starved: bool = False
    fault: Fault | None = None
    fault_channel: str = ""
    fault_s: float = NAN

    def note(self, kind: Kind, t_s: float, duration_s: float = 0.0) -> None:
        """Write a nuisance down."""
        self.nuisances.append(Nuisance(kind, t_s, duration_s))

    def put(self, t_s: float, load_n: float, way: str) -> None:
        """Set a load."""
        self.changes.append(Change(t_s, load_n, way))
        self.loads_n.append(load_n)
        self.busy.append((t_s - 2.0, t_s + (22.0 if way in (PUMPED, WOUND) else 9.0)))
        if way == DROPPED:
            self.note(Kind.HARD_SET_DOWN, t_s)
        elif way == TWICE:
            self.note(Kind.SET_DOWN_TWICE, t_s, 3.0)

    def lift(self, t_s: float) -> None:
        """Lift the lever off."""
        self.changes.append(Change(t_s, 0.0, LIFT))
        self.busy.append((t_s - 2.0, t_s + 3.0))

    def load_at_n(self, t_s: float) -> float:
        """Give the load set last before a time."""
        before = [change.load_n for change in self.changes if change.t_s <= t_s]
        return before[-1] if before else 0.0


def way_of(rng: np.random.Generator, rig: Rig) -> str:
    """Draw how this operator puts the next load on."""
    if rig.loading != WEIGHTS:
        return PUMPED if rig.loading == JACK else WOUND
    chances = [0.35, 0.5, 0.15] if rig.dropper else [0.85, 0.05, 0.1]
    return str(rng.choice([GENTLE, DROPPED, TWICE], p=chances))


def stage_loads_n(rng: np.random.Generator, full_load_n: float, count: int) -> list[float]:
    """Give `count` rising loads up to the full one, evenly spaced or by a ratio, to two digits."""
    lowest = max(2.0 / full_load_n, 1.0 / count if rng.random() < 0.6 else between(rng, 0.05, 0.3))
    parts = np.linspace(lowest, 1.0, count) if rng.random() < 0.6 else np.geomspace(lowest, 1.0, count)
    parts[-1] = 1.0
    return [float(f"{part * full_load_n:.2g}") for part in parts]


def _run_up_s(rig: Rig) -> float:
    return 3.0 + 1.5 * rig.drive.ramp_s


def begin(plan: Plan, rng: np.random.Generator, rig: Rig, first_n: float) -> float:
    """Start the motor (or find it running) and set the first load; give the time at which the first dwell begins."""
    if rng.random() < 0.15:
        plan.mid_run = True
        plan.note(Kind.MID_RUN, 0.0)
        plan.runs.append((BEFORE_S, FOREVER_S))
        plan.changes.append(Change(BEFORE_S, first_n, GENTLE))
        plan.loads_n.append(first_n)
        plan.busy.append((0.0, 5.0))
        return 0.0
    start_s = rng.uniform(3.0, 15.0)
    plan.runs.append((start_s, FOREVER_S))
    plan.busy.append((0.0, start_s + _run_up_s(rig) + 4.0))
    if rng.random() < 0.22:
        plan.put(BEFORE_S, first_n, GENTLE)
        plan.note(Kind.LOADED_START, start_s)
        return start_s
    first_s = start_s + _run_up_s(rig) + rng.uniform(2.0, 12.0)
    plan.put(first_s, first_n, way_of(rng, rig))
    return first_s


def stop(plan: Plan, t_s: float) -> None:
    """Switch the motor off."""
    plan.runs[-1] = (plan.runs[-1][0], t_s)


def start(plan: Plan, rig: Rig, stopped_s: float, t_s: float) -> float:
    """Switch it on again under whatever load there is; give when it is up to speed."""
    plan.runs.append((t_s, FOREVER_S))
    up_s = t_s + _run_up_s(rig)
    plan.busy.append((stopped_s - 2.0, up_s + 4.0))
    if plan.load_at_n(t_s) > 0.0:
        plan.note(Kind.LOADED_START, t_s)
    return up_s


def _pause(plan: Plan, rng: np.random.Generator, rig: Rig, t_s: float, kind: Kind) -> float:
    """Stop, do what `kind` says, run again; give when it is up to speed."""
    stop(plan, t_s)
    if kind is Kind.RESTART_BEFORE_REST:
        again_s = t_s + rng.uniform(0.2, 0.9)
    elif kind is Kind.DAY_BETWEEN:
        plan.lift(t_s + 4.0)
        night_s = t_s + rng.uniform(12.0, 30.0)
        plan.nights.append((night_s, rng.uniform(14.0, 70.0) * 3600.0))
        plan.note(kind, night_s)
        again_s = night_s + rng.uniform(5.0, 20.0)
        return start(plan, rig, t_s, again_s)
    else:
        again_s = t_s + rng.uniform(6.0, 50.0)
    if kind is Kind.INCHING:
        again_s = inch(plan, rng, t_s + 4.0)
    plan.note(kind, t_s, again_s - t_s)
    return start(plan, rig, t_s, again_s)


def inch(plan: Plan, rng: np.random.Generator, t_s: float) -> float:
    """Tap the switch a few times; give when that is over."""
    for _ in range(int(rng.integers(2, 6))):
        on_s = rng.uniform(0.15, 0.8)
        plan.runs.append((t_s, t_s + on_s))
        t_s += on_s + rng.uniform(0.6, 3.0)
    return t_s + rng.uniform(2.0, 5.0)


BETWEEN_STAGES = (
    Kind.LIFTED,
    Kind.LIFTED,
    Kind.PAUSE,
    Kind.TAKEN_OFF_AGAIN,
    Kind.TAKEN_OFF_AGAIN,
    Kind.RESTART_BEFORE_REST,
    Kind.INCHING,
    Kind.DAY_BETWEEN,
)


def next_stage(plan: Plan, rng: np.random.Generator, rig: Rig, t_s: float, load_n: float, chance: float) -> float:
    """Change to the next load, at times with something between; give when its dwell begins."""
    kind = BETWEEN_STAGES[rng.integers(len(BETWEEN_STAGES))] if rng.random() < chance else None
    if kind is None:
        plan.put(t_s, load_n, way_of(rng, rig))
        return t_s
    if kind is Kind.LIFTED:
        plan.lift(t_s)
        plan.note(kind, t_s, 4.0)
        t_s += rng.uniform(2.5, 9.0)
    elif kind is Kind.TAKEN_OFF_AGAIN:
        before_n = plan.load_at_n(t_s)
        plan.put(t_s, load_n, way_of(rng, rig))
        off_s = t_s + rng.uniform(6.0, 15.0) + (15.0 if rig.loading != WEIGHTS else 0.0)
        plan.put(off_s, before_n, GENTLE)
        plan.note(kind, off_s)
        t_s = off_s + rng.uniform(15.0, 40.0)
    else:
        t_s = _pause(plan, rng, rig, t_s, kind) + rng.uniform(2.0, 8.0)
    plan.put(t_s, load_n, way_of(rng, rig))
    return t_s


def staircase(rng: np.random.Generator, rig: Rig, klass: Klass, total_s: float, stages: int) -> tuple[Plan, float]:
    """Plan a staircase of `stages` loads over about `total_s`; give it and when the last dwell begins."""
    plan = Plan(klass)
    loads_n = stage_loads_n(rng, rig.full_load_n, int(stages))
    chance = rng.choice([0.05, 0.2, 0.35])
    dwell_s = total_s / stages
    t_s = begin(plan, rng, rig, loads_n[0])
    for load_n in loads_n[1:]:
        t_s = next_stage(plan, rng, rig, t_s + dwell_s * rng.uniform(0.92, 1.08), load_n, chance)
    plan.duration_s = t_s + dwell_s
    return plan, t_s


def end_well(plan: Plan, rng: np.random.Generator) -> None:
    """End a healthy recording: cut off in mid run, or motor off, or first the lever up and then the motor off."""
    how = rng.random()
    if how < 0.35:
        return
    stop_s = plan.duration_s + rng.uniform(1.0, 5.0)
    if how > 0.7:
        plan.lift(stop_s)
        stop_s += rng.uniform(1.5, 8.0)
    stop(plan, stop_s)
    plan.busy.append((stop_s - 3.0, FOREVER_S))
    plan.duration_s = stop_s + rng.uniform(3.0, 25.0)
