"""Scenarios: what happens on the simulated rig, drawn from the seed, and the truth about it.

Reads a name and a seed, gives a script of acts on the run's clock. The demonstration: an invented small workshop that
rebuilds hydraulic pumps and screens biodegradable oils, 16 stages of 60 N more each, 60 s dwell.
"""

from dataclasses import dataclass
from enum import Enum
from random import Random

from scuffwatch.model.run import Outcome
from scuffwatch.sim.friction import Burst, Damage
from scuffwatch.sim.lever import Hang
from scuffwatch.sim.physics import Bump

PIN_LIMIT_DEGC = 120.0
"""Where the demonstration's plan ends a run for heat; the truth of `overheat` is counted from here."""
DEMO_LOADS_N = tuple(60.0 * stage for stage in range(1, 17))
DEMO_DWELL_S = 60.0
SPIN_UP_S = 3.0
"""The operator lets the ring come up to speed before the first weight."""
_ROOM_EVERY_S = 180.0
_Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Scuff:
    """Scuffing somewhere in these stages.

    Attributes:
        stages: first and last stage it may begin in, from 1.
        precursor_s: how long bursts come before the onset; (0, 0) for none.
        growth_s: time constant of the rise.
    """

    stages: tuple[int, int]
    precursor_s: _Range
    growth_s: _Range


@dataclass(frozen=True, slots=True)
class Jam:
    """The drive blocked from outside the contact, in one of these stages, with this torque."""

    stages: tuple[int, int]
    torque_nm: _Range


@dataclass(frozen=True, slots=True)
class HeaterSticks:
    """The bath heater stays on, from a moment in one of these stages."""

    stages: tuple[int, int]


@dataclass(frozen=True, slots=True)
class CablePulled:
    """Somebody pulls the rig box's cable, in one of these stages."""

    stages: tuple[int, int]


HappensHere = Scuff | Jam | HeaterSticks | CablePulled


@dataclass(frozen=True, slots=True)
class Scenario:
    """What is run and what goes wrong.

    Attributes:
        name: as `--scenario` takes it.
        says: one line.
        expected: outcome the core must record; a dead host leaves none, which reads as ended by power loss.
        happens: what goes wrong, or None.
        loads_n, dwell_s: the plan.
    """

    name: str
    says: str
    expected: Outcome
    happens: HappensHere | None = None
    loads_n: tuple[float, ...] = DEMO_LOADS_N
    dwell_s: float = DEMO_DWELL_S


_ALL = (
    Scenario("healthy", "16 stages, all held", Outcome.HELD),
    Scenario(
        "scuffing",
        "scuffing after 60-100 s of friction bursts",
        Outcome.SCUFFED,
        Scuff((4, 7), (60.0, 100.0), (2.0, 5.0)),
    ),
    Scenario(
        "scuffing-short", "scuffing after 2-10 s of bursts", Outcome.SCUFFED, Scuff((3, 7), (2.0, 10.0), (1.0, 3.0))
    ),
    Scenario(
        "scuffing-sudden", "scuffing without a sign before", Outcome.SCUFFED, Scuff((3, 7), (0.0, 0.0), (0.2, 0.9))
    ),
    Scenario("jam", "motor blocked from outside the contact", Outcome.JAMMED, Jam((2, 6), (6.0, 60.0))),
    Scenario("overheat", "bath heater sticks on", Outcome.OVERHEATED, HeaterSticks((3, 5))),
    Scenario("cable", "cable of the rig box pulled in mid run", Outcome.STOPPED, CablePulled((2, 4))),
    Scenario("dead-host", "nothing on the rig; the tester kills the host", Outcome.POWER_LOSS),
)
SCENARIOS = {scenario.name: scenario for scenario in _ALL}


class ActKind(Enum):
    """Closed set of things that happen on the run's clock."""

    HANG = "hang"
    MARK = "mark"
    STOP = "stop"
    JAM = "jam"
    HEATER = "heater"
    CABLE = "cable"


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that happens.

    Attributes:
        t_s: on the run's clock, s.
        kind: see `ActKind`.
        hang: for HANG, the change of the weights.
        torque_nm: for JAM.
        stage: for HANG and MARK, the stage that begins, 0 for unloading.
    """

    t_s: float
    kind: ActKind
    hang: Hang | None = None
    torque_nm: float = 0.0
    stage: int = 0


@dataclass(frozen=True, slots=True)
class Script:
    """A scenario with every number drawn.

    Attributes:
        acts: in order of time.
        damage: how the contact scuffs, or None.
        bumps: noises of the room.
        stage_t_s: when each stage's weight begins to come down, s.
        precursor_t_s: first burst before scuffing; None for none.
    """

    acts: tuple[Act, ...]
    damage: Damage | None
    bumps: tuple[Bump, ...]
    stage_t_s: tuple[float, ...]
    precursor_t_s: float | None


@dataclass(frozen=True, slots=True)
class Truth:
    """What really happened, from the twin run: s since the motor's start, None where it did not happen.

    Attributes:
        scenario, seed, rate_hz: what was run.
        expected_outcome: value of the `Outcome` the core must record.
        stage_t_s: when each stage that was reached began.
        precursor_t_s: first friction burst before scuffing.
        onset_t_s: from here friction does not recover.
        severe_t_s: friction force three times that of the undamaged contact under the same load.
        jam_t_s: the drive is blocked.
        stall_t_s: first sample with the ring stopped under current.
        overheat_t_s: pin first at `PIN_LIMIT_DEGC`.
        cable_t_s: the cable is pulled.
        end_t_s: the operator stops the motor by plan.
    """

    scenario: str
    seed: int
    rate_hz: float
    expected_outcome: str
    stage_t_s: tuple[float, ...] = ()
    precursor_t_s: float | None = None
    onset_t_s: float | None = None
    severe_t_s: float | None = None
    jam_t_s: float | None = None
    stall_t_s: float | None = None
    overheat_t_s: float | None = None
    cable_t_s: float | None = None
    end_t_s: float | None = None


def draw(scenario: Scenario, seed: int) -> Script:
    """Give the script of a scenario: the same numbers for the same name, plan and seed.

    Args:
        scenario: one of `SCENARIOS`, or any other.
        seed: >= 0.
    """
    hands = Random(f"{scenario.name}/{seed}/hands")
    acts, stage_t_s = _operator(scenario, hands)
    fate = Random(f"{scenario.name}/{seed}/fate")
    damage = None
    what = scenario.happens
    if isinstance(what, Scuff):
        damage = _damage(what, _moment(what.stages, stage_t_s, scenario.dwell_s, fate), fate)
    elif isinstance(what, Jam):
        t_s = _moment(what.stages, stage_t_s, scenario.dwell_s, fate)
        acts.append(Act(t_s, ActKind.JAM, torque_nm=fate.uniform(*what.torque_nm)))
    elif what is not None:
        kind = ActKind.CABLE if isinstance(what, CablePulled) else ActKind.HEATER
        acts.append(Act(_moment(what.stages, stage_t_s, scenario.dwell_s, fate), kind))
    ordered = tuple(sorted(acts, key=lambda act: act.t_s))
    bumps = _room(ordered[-1].t_s, Random(f"{scenario.name}/{seed}/room"))
    precursor_t_s = damage.bursts[0].t_s if damage is not None and damage.bursts else None
    return Script(ordered, damage, bumps, stage_t_s, precursor_t_s)


def _operator(scenario: Scenario, hands: Random) -> tuple[list[Act], tuple[float, ...]]:
    acts: list[Act] = []
    stage_t_s: list[float] = []
    t_s = SPIN_UP_S + hands.uniform(0.0, 1.5)
    for stage, load_n in enumerate(scenario.loads_n, start=1):
        hang = by_hand(load_n, hands)
        stage_t_s.append(t_s)
        acts.append(Act(t_s, ActKind.HANG, hang, stage=stage))
        t_s += hang.ramp_s + hands.uniform(0.4, 1.6)
        acts.append(Act(t_s, ActKind.MARK, stage=stage))
        t_s += scenario.dwell_s + hands.uniform(0.2, 1.0)
    acts.append(Act(t_s, ActKind.HANG, by_hand(0.0, hands)))
    acts.append(Act(t_s + 3.0, ActKind.STOP))
    return acts, tuple(stage_t_s)


def by_hand(load_n: float, hands: Random) -> Hang:
    """Give one change of the weights as a hand does it; bounce 2-9 Hz (common practice, no source)."""
    ramp_s = hands.uniform(0.6, 1.4)
    return Hang(load_n, ramp_s, hands.uniform(0.04, 0.15), hands.uniform(2.0, 9.0), hands.uniform(0.2, 0.7))


def _moment(stages: tuple[int, int], stage_t_s: tuple[float, ...], dwell_s: float, fate: Random) -> float:
    last = min(stages[1], len(stage_t_s))
    stage = fate.randint(min(stages[0], last), last)
    return stage_t_s[stage - 1] + 3.0 + fate.uniform(0.0, 0.92) * max(dwell_s - 3.0, 0.0)


def _damage(what: Scuff, onset_t_s: float, fate: Random) -> Damage:
    return Damage(
        onset_t_s,
        fate.uniform(*what.growth_s),
        fate.uniform(0.35, 0.6),
        fate.uniform(0.05, 0.15),
        _bursts(onset_t_s, fate.uniform(*what.precursor_s), fate),
    )


def _bursts(onset_t_s: float, precursor_s: float, fate: Random) -> tuple[Burst, ...]:
    """Give bursts of +10-60 % over 50-800 ms, closer and larger towards the onset."""
    bursts: list[Burst] = []
    t_s = max(onset_t_s - precursor_s, 0.0)
    while precursor_s > 0.0 and t_s < onset_t_s - 0.1:
        near = 1.0 - (onset_t_s - t_s) / precursor_s
        length_s = min(fate.uniform(0.05, 0.8), onset_t_s - t_s)
        bursts.append(Burst(t_s, length_s, 0.1 + fate.uniform(0.1, 0.5) * (0.4 + 0.6 * near)))
        t_s += length_s + fate.expovariate(1.0) * min(6.0, precursor_s / 4.0) * (1.0 - 0.8 * near)
    return tuple(bursts)


def _room(until_t_s: float, chance: Random) -> tuple[Bump, ...]:
    bumps: list[Bump] = []
    t_s = chance.expovariate(1.0 / _ROOM_EVERY_S)
    while t_s < until_t_s:
        length_s = chance.uniform(0.1, 0.6)
        bumps.append(Bump(t_s, length_s, chance.uniform(68.0, 82.0)))
        t_s += length_s + chance.expovariate(1.0 / _ROOM_EVERY_S)
    return tuple(bumps)
