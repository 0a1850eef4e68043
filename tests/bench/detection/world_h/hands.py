"""The hands at the lever: how a load comes on, with hesitation, dropped, twice, and how the lever rings after it.

Reads the stages of a `Plan`, fills `load_n` of the acts, each stage's `ready_s` and the plan's nuisances.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.random import Generator
from world_b.values import Floats, Kind, Nuisance

from .acts import Acts
from .chance import chance, log_between, one_of
from .plan import Plan, Stage
from .rig import Rig

_NORMALLY = None
_WAYS = (
    (_NORMALLY, 0.66),
    (Kind.SET_DOWN_TWICE, 0.08),
    (Kind.HARD_SET_DOWN, 0.1),
    (Kind.TAKEN_OFF_AGAIN, 0.05),
    (Kind.LIFTED, 0.11),
)


@dataclass(slots=True)
class Hands:
    """What the hands have done so far: knots of the load, and blows that set the lever ringing."""

    rng: Generator
    times_s: list[float] = field(default_factory=lambda: [0.0])
    loads_n: list[float] = field(default_factory=lambda: [0.0])
    blows: list[tuple[float, float]] = field(default_factory=list)

    def to(self, load_n: float, takes_s: float, blow: float = 0.0) -> None:
        """Move the load within `takes_s`, hesitating now and then; `blow` is the ringing relative to the step."""
        before_n, now_s = self.loads_n[-1], self.times_s[-1]
        for share in sorted(self.rng.uniform(0.1, 0.9, int(self.rng.integers(0, 3)))):
            part = share * self.rng.uniform(0.8, 1.2)
            self._knot(now_s + share * takes_s, before_n + min(part, 1.0) * (load_n - before_n))
        self._knot(now_s + takes_s, load_n)
        self.blows.append((self.times_s[-1], blow * (load_n - before_n)))

    def wait(self, until_s: float) -> None:
        """Leave the load as it is until a moment; one that has passed is let go."""
        self._knot(max(until_s, self.times_s[-1]), self.loads_n[-1])

    def _knot(self, t_s: float, load_n: float) -> None:
        self.times_s.append(max(t_s, self.times_s[-1] + 1e-3))
        self.loads_n.append(load_n)


def load_rig(rng: Generator, rig: Rig, plan: Plan, acts: Acts) -> None:
    """Carry the stages of the plan out on the acts."""
    hands = Hands(rng)
    if plan.mid_run:
        hands.loads_n[0] = plan.stages[0].load_n
        plan.nuisances.append(Nuisance(Kind.MID_RUN, 0.0))
    elif chance(rng, 0.12):
        hands.loads_n[0] = plan.stages[0].load_n
        plan.nuisances.append(Nuisance(Kind.LOADED_START, plan.motor_on_s))
    for number, stage in enumerate(plan.stages):
        hands.wait(stage.begin_s)
        if number > 0 or hands.loads_n[-1] == 0.0:
            _change(hands, plan, stage)
        stage.ready_s = hands.times_s[-1] + min(10.0, 5.0 / (rig.lever.own_hz * rig.lever.damping * 6.3))
    acts.load_n[:] = np.interp(acts.t_s, hands.times_s, hands.loads_n)
    for t_s, blow_n in hands.blows:
        ring(rig, acts, t_s, blow_n)


def _change(hands: Hands, plan: Plan, stage: Stage) -> None:
    rng, before_n, begin_s = hands.rng, hands.loads_n[-1], hands.times_s[-1]
    up = stage.load_n > before_n
    way = one_of(rng, _WAYS) if up else _NORMALLY
    softly = rng.uniform(0.02, 0.3)
    if way is Kind.LIFTED:
        hands.to(0.0, log_between(rng, 0.3, 1.5))
        hands.wait(hands.times_s[-1] + rng.uniform(2.0, 8.0))
        hands.to(stage.load_n, log_between(rng, 0.3, 2.0), softly)
    elif way is Kind.HARD_SET_DOWN:
        hands.to(stage.load_n, rng.uniform(0.01, 0.06), rng.uniform(0.6, 1.1))
    elif way is Kind.SET_DOWN_TWICE:
        hands.to(stage.load_n, log_between(rng, 0.2, 1.0), softly)
        hands.wait(hands.times_s[-1] + rng.uniform(0.3, 2.0))
        hands.to(before_n, log_between(rng, 0.2, 0.8))
        hands.wait(hands.times_s[-1] + rng.uniform(0.3, 2.0))
        hands.to(stage.load_n, log_between(rng, 0.2, 1.5), softly)
    elif way is Kind.TAKEN_OFF_AGAIN:
        hands.to(stage.load_n, log_between(rng, 0.2, 1.0), softly)
        hands.wait(hands.times_s[-1] + rng.uniform(2.0, 6.0))
        hands.to(before_n, log_between(rng, 0.3, 1.0))
        hands.wait(hands.times_s[-1] + rng.uniform(2.0, 6.0))
        hands.to(stage.load_n, log_between(rng, 0.3, 1.5), softly)
    else:
        hands.to(stage.load_n, log_between(rng, 0.15, 3.0), softly)
    if way is not _NORMALLY:
        plan.nuisances.append(Nuisance(way, begin_s, hands.times_s[-1] - begin_s))


def ring(rig: Rig, acts: Acts, t_s: float, blow_n: float) -> None:
    """Let the lever ring from a blow, at its own frequency, slower under more weight; a bounce is no pull."""
    begin = int(np.searchsorted(acts.t_s, t_s))
    if begin >= len(acts.load_n) or blow_n == 0.0:
        return
    share = acts.load_n[begin] / rig.lever.top_load_n
    own_hz = rig.lever.own_hz / np.sqrt(0.25 + 0.75 * min(1.0, max(share, 0.02)))
    pulse: Floats = 2.0 * np.pi * own_hz * (acts.t_s[begin:] - t_s)
    pulse = pulse[: int(np.searchsorted(pulse, 7.0 / rig.lever.damping))]
    swing = blow_n * np.sin(pulse) * np.exp(-rig.lever.damping * pulse)
    part = slice(begin, begin + len(pulse))
    acts.load_n[part] = np.maximum(0.0, acts.load_n[part] + swing * (acts.load_n[part] > 0.0))


def lift(acts: Acts, begin_s: float, end_s: float, takes_s: float = 0.6) -> None:
    """Take the pin off the ring for a while."""
    knots = [begin_s - 1e-3, begin_s + takes_s, max(begin_s + takes_s, end_s - takes_s), end_s]
    acts.load_n *= np.interp(acts.t_s, knots, [1.0, 0.0, 0.0, 1.0])
