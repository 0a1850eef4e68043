"""A bench for the alarms: a small table with every sort of alarm in it, a clock, and the cycle written out again."""

from collections.abc import Iterable

from scuffwatch.guard.alarm_table import Condition
from scuffwatch.guard.alarms import ActKind, AlarmAct, AlarmBook, AlarmInput, AlarmOutcome, advance, new_book
from scuffwatch.model.alarm import AlarmDefinition, AlarmState, AlarmTransition, Priority

S = AlarmState


def definition(
    key: str, priority: Priority, latching: bool = False, on_delay_s: float = 0.0, off_delay_s: float = 0.0
) -> AlarmDefinition:
    texts = ("Cause.", "Consequence.", "Action.")
    return AlarmDefinition(key, key, priority, latching, *texts, 60.0, on_delay_s, off_delay_s)


STALL = definition("stall", Priority.TRIP, latching=True)
HEAT = definition("heat", Priority.TRIP, latching=True, off_delay_s=2.0)
LINK = definition("link", Priority.TRIP, latching=True)
FAILED = definition("permit_failed_to_open", Priority.TRIP, latching=True)
NEAR = definition("near", Priority.WARNING)
SLOW = definition("slow", Priority.WARNING, on_delay_s=5.0, off_delay_s=10.0)
HELD = definition("held", Priority.WARNING, latching=True)
DISK = definition("disk", Priority.NOTICE, on_delay_s=1.0, off_delay_s=1.0)
DEFINITIONS = (STALL, HEAT, LINK, FAILED, NEAR, SLOW, HELD, DISK)

IN_SERVICE = tuple(state for state in S if state is not S.OUT_OF_SERVICE)
BACK = (S.NORMAL, S.UNACKNOWLEDGED, S.LATCHED_UNACKNOWLEDGED)
LEGAL = {
    # this project's fault matrix, row by row.
    (S.NORMAL, "condition true", S.UNACKNOWLEDGED),
    (S.UNACKNOWLEDGED, "acknowledge", S.ACKNOWLEDGED),
    (S.UNACKNOWLEDGED, "condition clear", S.RETURNED_UNACKNOWLEDGED),
    (S.UNACKNOWLEDGED, "condition clear", S.LATCHED_UNACKNOWLEDGED),
    (S.ACKNOWLEDGED, "condition clear", S.NORMAL),
    (S.ACKNOWLEDGED, "condition clear", S.LATCHED_ACKNOWLEDGED),
    (S.RETURNED_UNACKNOWLEDGED, "acknowledge", S.NORMAL),
    (S.RETURNED_UNACKNOWLEDGED, "condition true", S.UNACKNOWLEDGED),
    (S.LATCHED_UNACKNOWLEDGED, "acknowledge", S.LATCHED_ACKNOWLEDGED),
    (S.LATCHED_ACKNOWLEDGED, "reset", S.NORMAL),
    *((state, "shelve", S.SHELVED) for state in IN_SERVICE if state is not S.SHELVED),
    *((state, "suppress by design", S.SUPPRESSED_BY_DESIGN) for state in IN_SERVICE),
    *((state, "out of service", S.OUT_OF_SERVICE) for state in IN_SERVICE),
    # The ways back that its right-hand column tells: to what the condition says, or to the other way of being aside.
    *((S.SHELVED, "unshelve", state) for state in (*BACK, S.SUPPRESSED_BY_DESIGN)),
    *((S.SUPPRESSED_BY_DESIGN, "suppression ended", state) for state in (*BACK, S.SHELVED)),
    *((S.OUT_OF_SERVICE, "return to service", state) for state in (*BACK, S.SUPPRESSED_BY_DESIGN)),
    # Added here: whatever comes again behind an answered or latched alarm asks again.
    (S.LATCHED_UNACKNOWLEDGED, "condition true", S.UNACKNOWLEDGED),
    (S.LATCHED_ACKNOWLEDGED, "condition true", S.UNACKNOWLEDGED),
    (S.ACKNOWLEDGED, "re-alarm", S.UNACKNOWLEDGED),
}
BY_PEOPLE = {"acknowledge", "shelve", "out of service", "return to service"}


class Desk:
    """Moves the book through time and checks that every change of state was put down, and was legal."""

    def __init__(self, *definitions: AlarmDefinition) -> None:
        self.book: AlarmBook = new_book(definitions or DEFINITIONS)
        self.t_s = 100.0
        self.states = {key: record.state for key, record in self.book.records.items()}
        self.true: dict[str, Condition] = {}
        self.first_out = ""
        self.suppress: frozenset[str] = frozenset()
        self.transitions: list[AlarmTransition] = []
        self.annunciated: list[tuple[float, str]] = []
        self.repeated: list[tuple[float, str]] = []
        self.refused: list[str] = []

    def step(
        self, dt_s: float = 0.01, *, acts: tuple[AlarmAct, ...] = (), again: Iterable[str] = (), reset: bool = False
    ) -> AlarmOutcome:
        self.t_s += dt_s
        return self.give(
            AlarmInput(
                self.t_s, self.t_s, dict(self.true), frozenset(again), acts, reset, self.first_out, self.suppress
            )
        )

    def give(self, given: AlarmInput) -> AlarmOutcome:
        self.book, outcome = advance(self.book, given)
        for made in outcome.transitions:
            event = made.event.split(":")[0]
            assert made.before is self.states[made.key], "the chain of transitions is broken"
            assert (made.before, event, made.after) in LEGAL, "illegal transition"
            assert made.after is not S.SHELVED or self._priority(made.key) is not Priority.TRIP
            assert made.actor or event not in BY_PEOPLE
            self.states[made.key] = made.after
        now = {key: record.state for key, record in self.book.records.items()}
        assert now == self.states, "a state changed without a transition"
        self.transitions += outcome.transitions
        self.annunciated += [(self.t_s, key) for key in outcome.annunciated]
        self.repeated += [(self.t_s, key) for key in outcome.repeated]
        self.refused += outcome.refused
        return outcome

    def _priority(self, key: str) -> Priority:
        return self.book.records[key].definition.priority

    def run(self, for_s: float, dt_s: float = 0.1) -> "Desk":
        for _ in range(round(for_s / dt_s)):
            self.step(dt_s)
        return self

    def on(self, *keys: str) -> "Desk":
        self.true.update({key: Condition(f"{key} at {self.t_s:.2f}", self.t_s) for key in keys})
        self.step()
        return self

    def off(self, *keys: str) -> "Desk":
        for key in keys:
            del self.true[key]
        self.step()
        return self

    def act(self, kind: ActKind, key: str, actor: str = "Ada", why: str = "", for_s: float = float("nan")) -> "Desk":
        # The act is done in the step that follows; its time on the shelf counts from there.
        self.step(acts=(AlarmAct(kind, key, actor, why, self.t_s + 0.01 + for_s),))
        return self

    def acknowledge(self, key: str = "") -> "Desk":
        return self.act(ActKind.ACKNOWLEDGE, key)

    def shelve(self, key: str, for_s: float = 600.0) -> "Desk":
        return self.act(ActKind.SHELVE, key, why="cold start", for_s=for_s)

    def reset(self) -> "Desk":
        self.step(reset=True)
        return self

    def state(self, key: str) -> AlarmState:
        return self.book.records[key].state

    def sounds(self, key: str) -> int:
        return sum(sounded == key for _, sounded in self.annunciated)
