"""A bench for the guard: inputs with everything in order, findings, and an onlooker that judges by history alone."""

import math
from collections import deque
from dataclasses import replace

from scuffwatch.guard.states import (
    Decision,
    GuardEventKind,
    GuardInput,
    GuardSettings,
    GuardState,
    LeaseAction,
    PermitState,
    initial,
    step,
)
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level

IN_ORDER = GuardInput(
    t_rig_s=0.0,
    new_trips=(),
    standing=(),
    ring_turning=False,
    reset_pressed=False,
    link_up=True,
    acknowledge="",
    prestart_ok=True,
    prestart_says="",
    run_open=True,
    fresh=True,
    node_permit=None,
    contactor_closed=None,
    stop_request="",
)


def finding(
    kind: FindingKind = FindingKind.OVERLOAD, t_rig_s: float = 0.0, level: Level = Level.TRIP, says: str = "Overload."
) -> Finding:
    return Finding(kind, level, t_rig_s, ("motor_current_a",), (Evidence("motor_current_a", 9.0, 8.0, "A"),), says)


class Bench:
    """Steps the guard every 10 ms of node time and keeps what happened."""

    def __init__(self, settings: GuardSettings | None = None, step_s: float = 0.01) -> None:
        self.state = initial(settings) if settings else initial()
        self.step_s = step_s
        self.ticks = 0
        self.decision = Decision(LeaseAction.WITHDRAW)
        self.happened: list[tuple[GuardEventKind, str]] = []

    @property
    def t_s(self) -> float:
        return self.ticks * self.step_s

    @property
    def permitted(self) -> bool:
        return self.state.permit is PermitState.PERMITTED

    def step(self, **changes: object) -> Decision:
        self.ticks += 1
        return self.give(replace(IN_ORDER, t_rig_s=self.t_s, **changes))

    def give(self, given: GuardInput) -> Decision:
        self.state, self.decision = step(self.state, given)
        self.happened += [(event.kind, event.says) for event in self.decision.happened]
        return self.decision

    def run(self, for_s: float, **changes: object) -> "Bench":
        for _ in range(round(for_s / self.step_s)):
            self.step(**changes)
        return self

    def press(self, for_s: float, **changes: object) -> "Bench":
        self.run(for_s, reset_pressed=True, **changes)
        self.step(**changes)
        return self

    def reset(self) -> "Bench":
        """Do everything right: rest, acknowledge, press and let go."""
        self.step(acknowledge="Ada")
        self.run(2.1).press(0.5)
        assert self.permitted, self.happened[-3:]
        return self

    def of(self, kind: GuardEventKind) -> list[str]:
        return [says for happened, says in self.happened if happened is kind]

    def need(self, key: str) -> tuple[bool, str]:
        return next((need.met, need.says) for need in self.decision.needs if need.key == key)


class Onlooker:
    """Judges every step from what went in and came out, with rules written apart from the guard's own code."""

    SLACK_S = 1e-6

    def __init__(self, settings: GuardSettings) -> None:
        self.settings = settings
        self.t_s = -math.inf
        self.seen: deque[tuple[float, GuardInput]] = deque(maxlen=1024)
        self.steps = self.last_cause = self.last_acknowledge = 0  # numbers of steps; the first answer to the last cause
        self.permits = self.refusals = self.trips = 0
        self.rise = 0

    def look(self, before: GuardState, given: GuardInput, after: GuardState, decision: Decision) -> None:
        self.steps += 1
        if math.isfinite(given.t_rig_s):
            self.t_s = max(self.t_s, given.t_rig_s)
        self.seen.append((self.t_s, given))
        kinds = [event.kind for event in decision.happened]
        self._note(before, given, kinds)
        permitted = after.permit is PermitState.PERMITTED
        assert (decision.lease is LeaseAction.WITHDRAW) is not permitted
        if decision.lease is LeaseAction.RENEW:
            assert permitted
            assert given.fresh
            assert given.link_up
        if self._cause(given) or (given.standing and before.permit is PermitState.PERMITTED):
            assert not permitted, "a trip wins over everything"
        became = permitted and before.permit is PermitState.TRIPPED
        assert (GuardEventKind.PERMITTED in kinds) is became
        if became:
            self.permits += 1
            self._judge_permit()
        assert bool(decision.needs) is not permitted

    def _note(self, before: GuardState, given: GuardInput, kinds: list[GuardEventKind]) -> None:
        self.refusals += GuardEventKind.RESET_REFUSED in kinds
        if GuardEventKind.TRIPPED in kinds:
            assert before.permit is PermitState.PERMITTED
            self.trips += 1
        if self._cause(given) or GuardEventKind.TRIPPED in kinds or GuardEventKind.FAILED_TO_OPEN in kinds:
            self.last_cause = self.steps
        elif given.acknowledge and before.permit is PermitState.TRIPPED and self.last_acknowledge <= self.last_cause:
            self.last_acknowledge = self.steps

    @staticmethod
    def _cause(given: GuardInput) -> bool:
        return bool(given.new_trips or given.stop_request)

    @staticmethod
    def _button(given: GuardInput) -> bool | None:
        return given.reset_pressed if given.link_up else None

    def _judge_permit(self) -> None:
        seen = list(self.seen)
        released_s, last = seen[-1]
        assert self._button(last) is False, "no falling edge was seen"
        rise = len(seen) - 1
        while self._button(seen[rise - 1][1]):
            rise -= 1
        assert self._button(seen[rise - 1][1]) is False, "no rising edge was seen"
        held_s = released_s - seen[rise][0]
        low_s, high_s = self.settings.reset_min_s, self.settings.reset_max_s
        assert low_s - self.SLACK_S <= held_s <= high_s + self.SLACK_S
        for _, given in seen[rise:]:
            assert not given.standing
            assert not self._cause(given)
            assert given.run_open
            assert given.prestart_ok
            assert given.ring_turning is False
            assert given.link_up
        self._judge_continuity(seen, rise)
        risen = self.steps - (len(seen) - 1 - rise)
        assert self.last_cause < self.last_acknowledge <= risen, "not acknowledged since the last cause"

    def _judge_continuity(self, seen: list[tuple[float, GuardInput]], rise: int) -> None:
        begin = len(seen) - 1
        while begin > 0 and self._at_rest(seen[begin - 1], seen[begin]):
            begin -= 1
        assert begin < rise, "a hole or a turn while the button was held"
        assert seen[rise][0] - seen[begin][0] >= self.settings.at_rest_s - self.SLACK_S, "not at rest for long enough"

    def _at_rest(self, earlier: tuple[float, GuardInput], later: tuple[float, GuardInput]) -> bool:
        unbroken = later[0] - earlier[0] <= self.settings.link_max_silence_s
        return unbroken and earlier[1].ring_turning is False and earlier[1].link_up
