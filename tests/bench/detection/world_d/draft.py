"""A plan while it is being written: an operator loads, switches and handles a rig, minute by minute.

Reads draws and a rig, keeps the list of what happened up to now.
"""

from math import inf

import numpy as np
from world_b.values import Kind, Nuisance

from .chance import Chance
from .plan import Hand
from .rig import Rig


class Draft:
    """What has been decided up to `now_s`.

    Attributes:
        clumsy: 0 to 1, how often hands go wrong.
        way: how loads are changed: "adds" to a turning rig, "lifts" the lever, or "stops" the motor.
    """

    def __init__(self, chance: Chance, rig: Rig) -> None:
        self.chance, self.rig = chance, rig
        self.clumsy = chance.one((0.3, 1.0, 2.2))
        self.way = chance.one(("adds", "lifts", "stops"), (62.0, 22.0, 16.0))
        self.now_s = 0.0
        self.load_n = 0.0
        self.mid_run = False
        self.hands: list[Hand] = []
        self.loads_n: list[float] = []
        self.switches: list[tuple[float, float]] = []
        self.nights_s: list[tuple[float, float]] = []
        self.nuisances: list[Nuisance] = []
        self._bounce_hz, self._ramp_s = chance.ratio(1.5, 9.0), chance.ratio(0.08, 0.6)

    def note(self, kind: Kind, t_s: float, duration_s: float = 0.0) -> None:
        """Write a nuisance down."""
        self.nuisances.append(Nuisance(kind, t_s, duration_s))

    def wait(self, low_s: float, high_s: float) -> None:
        """Let time pass."""
        self.now_s += self.chance.between(low_s, high_s)

    def switch_on(self) -> None:
        """Start the motor."""
        if self.load_n > 0.0:
            self.note(Kind.LOADED_START, self.now_s)
        self.switches.append((self.now_s, inf))

    def switch_off(self) -> None:
        """Stop the motor."""
        self.switches[-1] = (self.switches[-1][0], self.now_s)

    @property
    def turning(self) -> bool:
        """Whether the motor is on."""
        return bool(self.switches) and self.switches[-1][1] == inf

    def set_load(self, load_n: float, hard: bool = False) -> None:
        """Change the load on the contact, now."""
        draw = self.chance
        share = draw.between(0.15, 0.5) if hard else draw.between(0.0, 0.12)
        ramp_s = draw.ratio(0.03, 0.1) if hard else self._ramp_s * draw.ratio(0.6, 1.7)
        bounce_hz = self._bounce_hz * draw.between(0.85, 1.15)
        self.hands.append(Hand(self.now_s, load_n, ramp_s, share, bounce_hz, draw.ratio(0.15, 1.2)))
        self.load_n = load_n
        self.now_s += ramp_s

    def put_on(self, load_n: float) -> None:
        """Set a load as operators do, with what goes wrong with it."""
        begun_s, before_n, draw = self.now_s, self.load_n, self.chance
        hard = draw.yes(0.07 * self.clumsy)
        if hard:
            self.note(Kind.HARD_SET_DOWN, begun_s)
        self.set_load(load_n, hard)
        if draw.yes(0.055 * self.clumsy):
            self.wait(0.3, 1.2)
            self.set_load(before_n)
            self.wait(0.4, 1.5)
            self.set_load(load_n)
            self.note(Kind.SET_DOWN_TWICE, begun_s, self.now_s - begun_s)
        elif before_n > 0.0 and draw.yes(0.03 * self.clumsy):
            self.wait(4.0, 20.0)
            self.set_load(before_n)
            self.wait(5.0, 25.0)
            self.set_load(load_n)
            self.note(Kind.TAKEN_OFF_AGAIN, begun_s, self.now_s - begun_s)

    def next_load(self, load_n: float) -> None:
        """Go to the next load, the way this operator does."""
        self.loads_n.append(load_n)
        begun_s = self.now_s
        if self.way == "lifts" and self.load_n > 0.0:
            self.set_load(0.0)
            self.wait(3.0, 15.0)
            self.put_on(load_n)
            self.note(Kind.LIFTED, begun_s, self.now_s - begun_s)
        elif self.way == "stops" and self.turning and self.load_n > 0.0:
            self.switch_off()
            self.wait(8.0, 25.0)
            self.put_on(load_n)
            self.wait(2.0, 8.0)
            self.note(Kind.PAUSE, begun_s, self.now_s - begun_s)
            self.switch_on()
        else:
            self.put_on(load_n)

    def begin(self, first_n: float) -> None:
        """Begin the recording: in mid run, under load, or with the pin lifted."""
        draw = self.chance
        if draw.yes(0.11):
            self.mid_run = True
            self.note(Kind.MID_RUN, 0.0)
            self.hands.append(Hand(0.0, first_n, 0.0, 0.0, 1.0, 1.0))
            self.loads_n.append(first_n)
            self.load_n = first_n
            self.switches.append((0.0, inf))
            self.wait(10.0, 30.0)
            return
        self.wait(3.0, 15.0)
        if draw.yes(0.25):
            self.next_load(first_n)
            self.wait(2.0, 10.0)
            self.switch_on()
            return
        self.switch_on()
        self.wait(6.0, 20.0)
        self.next_load(first_n)

    def staircase(self, n: int, dwell_s: float) -> None:
        """Begin, then climb `n` loads up to the top load; the last dwell is left to the caller."""
        for step, load_n in enumerate(staircase_n(self.chance, self.rig.top_load_n, n)):
            if step == 0:
                self.begin(load_n)
            else:
                self.wait(0.9 * dwell_s, 1.1 * dwell_s)
                self.next_load(load_n)


def staircase_n(chance: Chance, top_n: float, n: int) -> list[float]:
    """Give `n` loads of even steps over a first one, as whole newtons where that is fine enough."""
    if n == 1:
        return [float(round(top_n, 1))]
    first = chance.between(0.05, 1.0 / n if n > 2 else 0.6)
    loads = np.linspace(first * top_n, top_n, n)
    return [float(x) for x in np.round(loads, 0 if top_n > 100.0 else 1)]
