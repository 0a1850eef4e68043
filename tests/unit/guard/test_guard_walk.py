"""No walk through the state machine finds a way round the local reset. An onlooker judges by history alone."""

import math
import random
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from guard_rig import IN_ORDER, Onlooker, finding
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from scuffwatch.guard.states import GuardInput, GuardSettings, PermitState, initial, step
from scuffwatch.model.finding import FindingKind
from scuffwatch.wire.protocol import NodeCause, NodePermit

TIMES = GuardSettings()
CYCLE_STEPS = 70
BUTTON = st.sampled_from([True, False, None])
CAUSES = st.sampled_from([finding(kind, 1.0) for kind in FindingKind])


class Walk(RuleBasedStateMachine):
    """Single steps of every kind, and the longer moves a person or a fault makes."""

    @initialize()
    def begin(self) -> None:
        self.state, self.onlooker, self.t_s = initial(), Onlooker(TIMES), 0.0

    def give(self, dt_s: float = 0.05, **changes: Any) -> None:
        self.t_s += dt_s
        given = replace(IN_ORDER, **{"t_rig_s": self.t_s, "node_permit": self._node(), **changes})
        before = self.state
        self.state, decision = step(before, given)
        self.onlooker.look(before, given, self.state, decision)

    def _node(self) -> NodePermit:
        permitted = self.state.permit is PermitState.PERMITTED
        return NodePermit.PERMITTED if permitted else NodePermit.LATCHED

    @rule(dt_s=st.floats(0.0, 0.25), steps=st.integers(1, 30), turning=BUTTON)
    def wait(self, dt_s: float, steps: int, turning: bool | None) -> None:
        for _ in range(steps):
            self.give(dt_s, ring_turning=turning)

    @rule(button=BUTTON, link_up=st.booleans(), fresh=st.booleans())
    def one_step(self, button: bool | None, link_up: bool, fresh: bool) -> None:
        self.give(reset_pressed=button, link_up=link_up, fresh=fresh)

    @rule(cause=CAUSES, button=BUTTON, acknowledge=st.sampled_from(["", "Ada"]))
    def trip(self, cause: Any, button: bool | None, acknowledge: str) -> None:
        self.give(new_trips=(cause,), reset_pressed=button, acknowledge=acknowledge)

    @rule(button=BUTTON)
    def standing(self, button: bool | None) -> None:
        self.give(standing=(finding(),), reset_pressed=button)

    @rule(who=st.sampled_from(["wall", "Ada"]))
    def stop(self, who: str) -> None:
        self.give(stop_request=who)

    @rule()
    def acknowledge(self) -> None:
        self.give(acknowledge="Ada")

    @rule(held_steps=st.integers(1, 80), run_open=st.booleans(), prestart_ok=st.booleans())
    def press(self, held_steps: int, run_open: bool, prestart_ok: bool) -> None:
        for _ in range(held_steps):
            self.give(reset_pressed=True, run_open=run_open, prestart_ok=prestart_ok)
        self.give(run_open=run_open, prestart_ok=prestart_ok)

    @rule(t_rig_s=st.sampled_from([math.nan, math.inf, -math.inf, 0.0, -1.0]), button=BUTTON)
    def wrong_time(self, t_rig_s: float, button: bool | None) -> None:
        self.give(0.0, t_rig_s=t_rig_s, reset_pressed=button)

    @rule(hole_s=st.floats(0.3, 10.0), button=BUTTON)
    def hole(self, hole_s: float, button: bool | None) -> None:
        self.give(hole_s, reset_pressed=button)

    @rule(node=st.sampled_from(NodePermit), closed=BUTTON, steps=st.integers(1, 15))
    def disagree(self, node: NodePermit, closed: bool | None, steps: int) -> None:
        for _ in range(steps):
            self.give(node_permit=node, contactor_closed=closed)

    @rule()
    def proper_reset(self) -> None:
        # What is pending (a rig box that came back by itself) trips in the first step; only then is there an
        # acknowledgement that lasts.
        self.give(reset_pressed=False, contactor_closed=False)
        self.give(acknowledge="Ada")
        for _ in range(45):
            self.give()
        for _ in range(8):
            self.give(reset_pressed=True)
        self.give()
        assert self.state.permit is PermitState.PERMITTED

    @invariant()
    def time_never_falls(self) -> None:
        assert not self.state.t_rig_s > self.t_s


@pytest.mark.slow
class TestWalk(Walk.TestCase):
    """100 walks of 100 rules: 10**4 rules, each of one step or more."""

    settings = settings(max_examples=100, stateful_step_count=100)


# --- the long way: plain random, on the pure step() -----------------------------------------------------------


def cycle(rng: random.Random) -> list[dict[str, Any]]:
    """Give one attempt at a reset with some things going wrong in it, as changes to an input in order."""
    plan: list[dict[str, Any]] = [{} for _ in range(CYCLE_STEPS)]
    rest, press = rng.randint(0, 14), rng.randint(20, 45)
    for change in plan[:rest]:
        change["ring_turning"] = True
    for change in plan[press : press + (rng.randint(3, 20) if rng.random() < 0.9 else rng.randint(1, 45))]:
        change["reset_pressed"] = True
    if rng.random() < 0.9:
        plan[rng.randrange(rest, press) if rng.random() < 0.8 else rng.randrange(CYCLE_STEPS)]["acknowledge"] = "Ada"
    for _ in range(rng.choice((0, 0, 1, 1, 2, 3))):
        _go_wrong(plan, rng)
    return plan


def _go_wrong(plan: list[dict[str, Any]], rng: random.Random) -> None:
    at = rng.randrange(CYCLE_STEPS)
    until = at + rng.choice((1, 1, 3, CYCLE_STEPS))
    wrong = rng.choice(
        (
            {"link_up": False},
            {"reset_pressed": None},
            {"reset_pressed": True},
            {"ring_turning": None},
            {"ring_turning": True},
            {"run_open": False},
            {"prestart_ok": False},
            {"fresh": False},
            {"standing": (finding(),)},
            {"new_trips": (finding(t_rig_s=1.0),)},
            {"stop_request": "wall"},
            {"t_rig_s": math.nan},
            {"t_rig_s": -1.0},
            {"t_rig_s": math.inf},
            {"hole_s": 0.3},
            {"contactor_closed": True},
            {"node_permit": NodePermit.LATCHED, "node_cause": NodeCause.OWN_LIMIT},
            {"node_permit": NodePermit.READY},
        )
    )
    for change in plan[at:until]:
        change.update(wrong)


def givens(rng: random.Random, steps: int) -> Iterator[tuple[GuardInput, bool]]:
    """Give inputs, and for each whether the node's permit was chosen in it."""
    base, t_s = replace(IN_ORDER, contactor_closed=False), 0.0
    plan: list[dict[str, Any]] = []
    for _ in range(steps):
        plan = plan or cycle(rng)
        change = plan.pop(0)
        t_s += change.pop("hole_s", 0.1)
        yield replace(base, **{"t_rig_s": t_s, **change}), "node_permit" in change


def walk(steps: int, seed: int) -> Onlooker:
    rng, state, onlooker = random.Random(seed), initial(), Onlooker(TIMES)
    for given, chosen in givens(rng, steps):
        before = state
        if not chosen and before.permit is PermitState.PERMITTED:
            given = replace(given, node_permit=NodePermit.PERMITTED)
        state, decision = step(before, given)
        onlooker.look(before, given, state, decision)
    return onlooker


def judge(onlooker: Onlooker, steps: int) -> None:
    """The walk must have been where it matters: a walk that never permits proves nothing."""
    assert onlooker.steps == steps
    assert onlooker.permits > steps / CYCLE_STEPS / 10
    assert onlooker.trips > steps / CYCLE_STEPS / 20
    assert onlooker.refusals > steps / CYCLE_STEPS / 10


@pytest.mark.slow
def test_no_way_round_the_reset_in_two_hundred_thousand_steps():
    judge(walk(200_000, seed=2), 200_000)


@pytest.mark.long
@pytest.mark.timeout(600)
def test_no_way_round_the_reset_in_a_million_steps():
    judge(walk(1_000_000, seed=3), 1_000_000)


@pytest.mark.slow
def test_a_stuck_button_never_permits_whatever_else_happens():
    rng, state = random.Random(4), initial()
    for given, _ in givens(rng, 20_000):
        state, _decision = step(state, replace(given, reset_pressed=True))
        assert state.permit is PermitState.TRIPPED


@pytest.mark.slow
def test_without_acknowledging_nothing_permits():
    rng, state = random.Random(5), initial()
    for given, _ in givens(rng, 20_000):
        state, _decision = step(state, replace(given, acknowledge=""))
        assert state.permit is PermitState.TRIPPED
