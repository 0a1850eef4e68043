"""What is done on one rig of the first world, and what happens to it, on the recording's own clock.

Reads a rig and random numbers, gives the plan that `course` plays. Hands follow `scuffwatch.sim.scenario.by_hand`.
"""

import math
from dataclasses import dataclass, field
from random import Random

from world_b.values import Fault, Kind, Nuisance, Precursor

from scuffwatch.sim.friction import Damage
from scuffwatch.sim.lever import Hang
from scuffwatch.sim.scenario import by_hand

from .rigs import Rig


@dataclass(frozen=True, slots=True)
class Swell:
    """Friction times `1 + share` for a while.

    Attributes:
        t_s, rise_s, hold_s, fall_s: begin, and how long it rises, stays and falls; `hold_s` may be infinite.
        share: at its height.
    """

    t_s: float
    rise_s: float
    hold_s: float
    fall_s: float
    share: float


@dataclass(frozen=True, slots=True)
class Swing:
    """Stick-slip: friction climbs and drops around an unchanged mean.

    Attributes:
        t_s, length_s: when.
        hz: cycles a second.
        share: half the swing, of the mean.
        louder_db: sound of the slips.
    """

    t_s: float
    length_s: float
    hz: float
    share: float
    louder_db: float


@dataclass(frozen=True, slots=True)
class Noise:
    """A sound: power of this level is added from `t_s` for `length_s`; only while the ring turns if `of_contact`."""

    t_s: float
    length_s: float
    level_db: float
    of_contact: bool = False


@dataclass(frozen=True, slots=True)
class Knock:
    """The lever is bumped: the load swings by `share` and dies out."""

    t_s: float
    share: float
    hz: float
    decay_s: float


@dataclass(slots=True)
class Plan:
    """The plan being made; times in s. Lists are in any order.

    Attributes:
        t_s: now, while it is being made.
        load_n: hung on now.
        on: spells in which the motor is switched on.
        hangs: changes of the weights.
        loads_n: every load in the order it was set.
        jam: begin, s, torque, N m, and time to build it up, s.
        damage: of the contact.
        heater_sticks_s, dry_s, dry_until_s: what overheats it; a dry bath.
        supply_off: spells without supply.
        days: a night passes here.
        skip_s: what is cut off the recording's beginning.
        faults: fault, channel, begin.
    """

    t_s: float = 0.0
    load_n: float = 0.0
    on: list[list[float]] = field(default_factory=list)
    hangs: list[tuple[float, Hang]] = field(default_factory=list)
    loads_n: list[float] = field(default_factory=list)
    swells: list[Swell] = field(default_factory=list)
    swings: list[Swing] = field(default_factory=list)
    noises: list[Noise] = field(default_factory=list)
    knocks: list[Knock] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)
    jam: tuple[float, float, float] | None = None
    damage: Damage | None = None
    precursor: Precursor = Precursor.NONE
    heater_sticks_s: float = math.inf
    dry_s: float = math.inf
    supply_off: list[tuple[float, float]] = field(default_factory=list)
    days: list[float] = field(default_factory=list)
    skip_s: float = 0.0
    fault: tuple[Fault, str, float] | None = None

    @property
    def turning(self) -> bool:
        """Say whether the motor is switched on now."""
        return bool(self.on) and self.on[-1][1] == math.inf

    def start(self) -> None:
        """Switch the motor on now."""
        if not self.turning:
            if self.load_n > 0.0:
                self.note(Kind.LOADED_START)
            self.on.append([self.t_s, math.inf])

    def stop(self) -> None:
        """Switch the motor off now."""
        if self.turning:
            self.on[-1][1] = self.t_s

    def note(self, kind: Kind, duration_s: float = 0.0, t_s: float | None = None) -> None:
        """Write a nuisance down, at now unless said."""
        self.nuisances.append(Nuisance(kind, self.t_s if t_s is None else t_s, duration_s))

    def hang(self, change: Hang) -> None:
        """Begin a change of the weights now and wait for it."""
        self.hangs.append((self.t_s, change))
        self.t_s += change.ramp_s
        self.load_n = change.load_n

    def is_on(self, t_s: float, before_s: float = 0.0, after_s: float = 0.0) -> bool:
        """Say whether the motor is switched on from so long before until so long after."""
        return any(begin + before_s <= t_s <= end - after_s for begin, end in self.on)


class Hands:
    """An operator, careful to clumsy.

    Args:
        chance: of what is done and how.
        rig: on which.

    What survives a call: nothing but the used-up numbers.
    """

    def __init__(self, chance: Random, rig: Rig) -> None:
        self._chance = chance
        self._rig = rig
        self._clumsy = chance.choice((0.0, 0.08, 0.3))
        self._way = chance.choices(("add", "lift", "stop"), (0.7, 0.15, 0.15))[0]

    def set_load(self, plan: Plan, load_n: float) -> None:
        """Bring the load on, one way or another; afterwards it is `load_n`, and the motor is as it was."""
        plan.loads_n.append(load_n)
        chance = self._chance
        was_on = plan.turning
        if plan.load_n > 0.0 and self._way == "lift":
            plan.note(Kind.LIFTED)
            plan.hang(by_hand(0.0, chance))
            plan.t_s += chance.uniform(1.0, 8.0)
        elif plan.load_n > 0.0 and self._way == "stop" and was_on and self._rig.starts_loaded:
            self.pause(plan, load_n)
            return
        self._put(plan, load_n)
        plan.t_s += chance.uniform(0.5, 2.0)

    def pause(self, plan: Plan, load_n: float | None = None) -> None:
        """Stop the motor, perhaps change the load, and start again."""
        chance = self._chance
        plan.note(Kind.PAUSE)
        plan.stop()
        plan.t_s += chance.uniform(2.0, 25.0)
        if load_n is not None:
            self._put(plan, load_n)
            plan.t_s += chance.uniform(0.5, 5.0)
        held_n = plan.load_n
        lift = held_n > 0.0 and not self._rig.starts_loaded
        if lift:
            plan.hang(by_hand(0.0, chance))
            plan.t_s += 1.0
        plan.start()
        if lift:
            plan.t_s += self.spin_up_s()
            plan.hang(by_hand(held_n, chance))

    def spin_up_s(self) -> float:
        """Give how long this operator lets the ring come up."""
        return 2.0 + 1.5 * self._rig.line.ramp_s + self._chance.uniform(0.5, 6.0)

    def _put(self, plan: Plan, load_n: float) -> None:
        chance, before_n = self._chance, plan.load_n
        if chance.random() < self._clumsy:
            what = chance.choice((Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.TAKEN_OFF_AGAIN))
            plan.note(what)
            if what is Kind.HARD_SET_DOWN:
                shares = chance.uniform(0.25, 0.8), chance.uniform(1.5, 9.0), chance.uniform(0.2, 0.9)
                plan.hang(Hang(load_n, chance.uniform(0.08, 0.3), *shares))
                return
            plan.hang(by_hand(load_n, chance))
            plan.t_s += chance.uniform(0.3, 1.5) if what is Kind.SET_DOWN_TWICE else chance.uniform(3.0, 20.0)
            plan.hang(by_hand(before_n, chance))
            plan.t_s += chance.uniform(0.4, 5.0)
        plan.hang(by_hand(load_n, chance))
