"""No walk through the alarm life cycle makes an illegal or an unaudited transition; `Desk` checks each."""

import random

import pytest
from alarm_rig import DEFINITIONS, NEAR, STALL, Desk
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from scuffwatch.guard.alarm_cycle import LIFE_CYCLE, PUT_ASIDE, UNACKNOWLEDGED, AlarmRecord, LifeEvent, after
from scuffwatch.guard.alarm_list import put_aside, standing
from scuffwatch.guard.alarm_table import Condition
from scuffwatch.guard.alarms import ActKind, AlarmAct
from scuffwatch.model.alarm import AlarmState, Priority

KEYS = [definition.key for definition in DEFINITIONS]
TRIPS = [definition.key for definition in DEFINITIONS if definition.priority is Priority.TRIP]
KEY = st.sampled_from(KEYS)


def look(desk: Desk) -> None:
    """Judge the book as it stands."""
    listed = [record.definition.key for record in (*standing(desk.book), *put_aside(desk.book))]
    assert sorted(listed) == sorted(key for key in KEYS if desk.state(key) is not AlarmState.NORMAL)
    for key, record in desk.book.records.items():
        if record.state is AlarmState.SHELVED:
            assert record.shelving is not None
        if record.condition and record.state not in PUT_ASIDE:
            assert record.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
        if record.definition.latching and record.state in (*UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED):
            assert record.latched
        assert record.definition.latching or not record.latched
        assert not (key in TRIPS and record.shelving)


class Alarms(RuleBasedStateMachine):
    """Conditions, people and design logic in any order."""

    @initialize()
    def begin(self) -> None:
        self.desk = Desk()

    @rule(key=KEY)
    def true(self, key: str) -> None:
        self.desk.on(key)

    @rule(key=KEY)
    def clear(self, key: str) -> None:
        self.desk.true.pop(key, None)
        self.desk.step()

    @rule(key=KEY)
    def again(self, key: str) -> None:
        self.desk.step(again=(key,))

    @rule(kind=st.sampled_from(ActKind), key=KEY, why=st.sampled_from(["", "why"]), for_s=st.floats(-1.0, 30_000.0))
    def act(self, kind: ActKind, key: str, why: str, for_s: float) -> None:
        self.desk.act(kind, key, why=why, for_s=for_s)

    @rule()
    def acknowledge_all(self) -> None:
        self.desk.acknowledge()

    @rule()
    def reset(self) -> None:
        self.desk.reset()

    @rule(key=st.sampled_from([*TRIPS, ""]))
    def first_out(self, key: str) -> None:
        self.desk.first_out = key
        self.desk.step()

    @rule(keys=st.frozensets(KEY, max_size=3))
    def suppress(self, keys: frozenset[str]) -> None:
        self.desk.suppress = keys
        self.desk.step()

    @rule(dt_s=st.floats(-10.0, 120.0), steps=st.integers(1, 5))
    def wait(self, dt_s: float, steps: int) -> None:
        self.desk.run(steps * abs(dt_s), max(abs(dt_s), 0.01))
        self.desk.step(dt_s)

    @invariant()
    def the_book_is_sound(self) -> None:
        if hasattr(self, "desk"):
            look(self.desk)


@pytest.mark.slow
class TestAlarms(Alarms.TestCase):
    """100 walks of 100 rules."""

    settings = settings(max_examples=100, stateful_step_count=100)


def walk(steps: int, seed: int) -> Desk:
    rng, desk = random.Random(seed), Desk()
    for _ in range(steps):
        key, chance = rng.choice(KEYS), rng.random()
        acts: tuple[AlarmAct, ...] = ()
        again: tuple[str, ...] = ()
        if chance < 0.3:
            desk.true[key] = Condition("true", desk.t_s)
        elif chance < 0.6:
            desk.true.pop(key, None)
        elif chance < 0.85:
            kind = rng.choice((*ActKind, ActKind.ACKNOWLEDGE, ActKind.ACKNOWLEDGE))
            acts = (AlarmAct(kind, rng.choice((key, key, key, "")), "Ada", "why", desk.t_s + rng.uniform(-5, 300)),)
        elif chance < 0.9:
            again = (key,)
        elif chance < 0.95:
            desk.suppress = frozenset(rng.sample(KEYS, rng.choice((0, 0, 1, 2))))
        else:
            desk.first_out = rng.choice((*TRIPS, ""))
        desk.step(rng.choice((0.01, 0.01, 1.0, 5.0, 30.0)), acts=acts, again=again, reset=rng.random() < 0.05)
        desk.annunciated.clear()
    look(desk)
    return desk


def covered(desk: Desk) -> set[tuple[AlarmState, str, AlarmState]]:
    return {(made.before, made.event.split(":")[0], made.after) for made in desk.transitions}


@pytest.mark.slow
def test_twenty_thousand_steps_are_legal_and_audited_and_take_every_row():
    desk = walk(20_000, seed=8)
    rows = {(row.before, row.event.value, row.after) for row in LIFE_CYCLE}
    assert covered(desk) == rows


@pytest.mark.long
@pytest.mark.timeout(900)
def test_a_million_steps_are_legal_and_audited():
    for seed in range(20):  # in parts, so that the list of transitions stays small
        walk(50_000, seed)


def test_every_event_has_a_row():
    assert {row.event for row in LIFE_CYCLE} == set(LifeEvent)


def test_the_table_itself_shelves_no_trip():
    for state in AlarmState:
        assert after(AlarmRecord(STALL, state), LifeEvent.SHELVE) is None
    assert after(AlarmRecord(NEAR), LifeEvent.SHELVE) is AlarmState.SHELVED
