"""The permit state machine: one table, one pure `step()`.

Reads findings, inputs of the rig box and acts of people; gives the decision about the lease. Sits after the detectors,
before the serial port.

Why it cannot go wrong quietly: the table has one row from tripped to permitted, and `step()` reaches it only through
`press.judge`, which needs a press of the local reset seen from rising to falling edge with every need met in between.
In a step with a trip the trip is `not acknowledged`, so a need is unmet and no press can count. Nothing but the lease
action leaves here, and RENEW is given only while permitted, fresh and linked.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

from scuffwatch.guard.causes import failed_to_open, follow_node, permitted_causes, start_up, stop_requested
from scuffwatch.guard.needs import reset_needs
from scuffwatch.guard.press import HALF_TICK_S, judge
from scuffwatch.guard.values import (
    DEFAULTS,
    FOLLOWERS_MAX,
    Decision,
    GuardEvent,
    GuardEventKind,
    GuardInput,
    GuardSettings,
    GuardState,
    LeaseAction,
    Need,
    NodeWatch,
    PermitState,
    Press,
)
from scuffwatch.model.finding import Finding, FindingKind, Level

__all__ = [
    "TRANSITIONS",
    "Decision",
    "GuardEvent",
    "GuardEventKind",
    "GuardInput",
    "GuardSettings",
    "GuardState",
    "LeaseAction",
    "Need",
    "PermitState",
    "Transition",
    "Trigger",
    "initial",
    "step",
]


class Trigger(Enum):
    """What can move the machine, the strongest first: in one step a trip wins over all others."""

    TRIP = "new cause"
    ACKNOWLEDGE = "acknowledge"
    PRESS_REFUSED = "press of the local reset that does not count"
    PRESS = "press of the local reset with every need met"


@dataclass(frozen=True, slots=True)
class Transition:
    """One row of the table.

    Attributes:
        before, trigger, after: from which state, by what, to which.
        does: what else it does, a clause.
    """

    before: PermitState
    trigger: Trigger
    after: PermitState
    does: str


TRANSITIONS = (
    Transition(PermitState.PERMITTED, Trigger.TRIP, PermitState.TRIPPED, "withdraw, keep first-out and followers"),
    Transition(PermitState.TRIPPED, Trigger.TRIP, PermitState.TRIPPED, "one more follower, acknowledgement void"),
    Transition(PermitState.TRIPPED, Trigger.ACKNOWLEDGE, PermitState.TRIPPED, "acknowledged, not reset"),
    Transition(PermitState.TRIPPED, Trigger.PRESS_REFUSED, PermitState.TRIPPED, "say why, once a press"),
    Transition(PermitState.TRIPPED, Trigger.PRESS, PermitState.PERMITTED, "renew the lease, motor stays off"),
)
_AFTER = {(row.before, row.trigger): row.after for row in TRANSITIONS}

_WITHDRAW, _RENEW, _HOLD = LeaseAction.WITHDRAW, Decision(LeaseAction.RENEW), Decision(LeaseAction.HOLD)


def initial(settings: GuardSettings = DEFAULTS) -> GuardState:
    """Give the state every start begins in: tripped, not acknowledged, cause start-up.

    Args:
        settings: times to decide on.
    """
    return GuardState(
        permit=PermitState.TRIPPED,
        acknowledged=False,
        acknowledged_by="",
        first_out=start_up(),
        followers=(),
        followers_more=0,
        since_t_rig_s=math.nan,
        t_rig_s=math.nan,
        rest_since_t_s=None,
        press=Press(),
        node=NodeWatch(),
        failed_to_open=None,
        settings=settings,
    )


def step(state: GuardState, given: GuardInput) -> tuple[GuardState, Decision]:
    """Turn the machine by one step. Pure: the same arguments give the same result.

    Args:
        state: what the last step gave, or `initial()`.
        given: what is known now.
    Returns:
        The new state and the decision.
    """
    t_s = given.t_rig_s if math.isfinite(given.t_rig_s) and not given.t_rig_s <= state.t_rig_s else state.t_rig_s
    if state.permit is PermitState.PERMITTED:
        return _step_permitted(state, given, t_s)
    return _step_tripped(state, given, t_s)


def _step_permitted(state: GuardState, given: GuardInput, t_s: float) -> tuple[GuardState, Decision]:
    node = follow_node(state.node, given, t_s)
    pressed = given.reset_pressed if given.link_up else None
    press = state.press if state.press.was is pressed else Press(None, pressed, False)
    now = replace(state, t_rig_s=t_s, press=press, node=node)
    causes = permitted_causes(now, given)
    if causes:
        return _trip(now, given, causes)
    # A node that has latched by itself gets no lease: a reset at the rig must not bring it back past the core's rules.
    good = given.fresh and given.link_up and (node.latched_since_t_s is None or not node.agreed)
    return now, _RENEW if good else _HOLD


def _trip(state: GuardState, given: GuardInput, causes: tuple[Finding, ...]) -> tuple[GuardState, Decision]:
    first, *rest = _by_sample_time(causes)
    t_s = state.t_rig_s
    tripped = replace(
        state,
        permit=_AFTER[state.permit, Trigger.TRIP],
        acknowledged=False,
        acknowledged_by="",
        first_out=first,
        followers=tuple(rest[:FOLLOWERS_MAX]),
        followers_more=max(0, len(rest) - FOLLOWERS_MAX),
        since_t_rig_s=t_s,
        rest_since_t_s=None,
        node=NodeWatch(),
    )
    happened = (
        _of_cause(GuardEventKind.TRIPPED, t_s, first, given),
        *(_of_cause(GuardEventKind.FOLLOWED, t_s, cause, given) for cause in rest),
    )
    return tripped, Decision(_WITHDRAW, happened, reset_needs(tripped, given))


def _step_tripped(state: GuardState, given: GuardInput, t_s: float) -> tuple[GuardState, Decision]:
    hole = t_s - state.t_rig_s > state.settings.link_max_silence_s
    happened: list[GuardEvent] = []
    now = replace(
        state,
        since_t_rig_s=t_s if math.isnan(state.since_t_rig_s) else state.since_t_rig_s,
        t_rig_s=t_s,
        rest_since_t_s=_rest_since(state.rest_since_t_s, given, t_s, hole),
    )
    now = _read_back(now, given, happened)
    causes = _new_causes(state, now, given)
    if causes:
        now = _follow(now, given, causes, happened)
    elif given.acknowledge and not now.acknowledged:
        happened.append(_acknowledged(now, given))
        permit = _AFTER[now.permit, Trigger.ACKNOWLEDGE]
        now = replace(now, permit=permit, acknowledged=True, acknowledged_by=given.acknowledge)
    return _reset(now, given, hole, happened)


def _reset(state: GuardState, given: GuardInput, hole: bool, happened: list[GuardEvent]) -> tuple[GuardState, Decision]:
    needs = reset_needs(state, given)
    unmet = next((need.says for need in needs[:-1] if not need.met), "")
    pressed = given.reset_pressed if given.link_up else None
    press, counts, why = judge(state.press, pressed, state.t_rig_s, unmet, hole, state.settings)
    if counts:
        happened.append(GuardEvent(GuardEventKind.PERMITTED, state.t_rig_s, "Permitted by reset at the rig."))
        permit = _AFTER[state.permit, Trigger.PRESS]
        fresh = Decision(LeaseAction.RENEW if given.fresh else LeaseAction.HOLD, tuple(happened))
        permitted = replace(
            state, permit=permit, since_t_rig_s=state.t_rig_s, rest_since_t_s=None, press=press, node=NodeWatch()
        )
        return permitted, fresh
    if why:
        happened.append(GuardEvent(GuardEventKind.RESET_REFUSED, state.t_rig_s, f"Reset refused. {why}"))
        state = replace(state, permit=_AFTER[state.permit, Trigger.PRESS_REFUSED])
    return replace(state, press=press), Decision(_WITHDRAW, tuple(happened), needs)


def _rest_since(since_t_s: float | None, given: GuardInput, t_s: float, hole: bool) -> float | None:
    if given.ring_turning is None or given.ring_turning or not given.link_up or math.isnan(t_s):
        return None
    return t_s if since_t_s is None or hole else since_t_s


def _read_back(state: GuardState, given: GuardInput, happened: list[GuardEvent]) -> GuardState:
    if not given.link_up or given.contactor_closed is None:
        return state
    if state.failed_to_open is None and given.contactor_closed:
        after_s = state.t_rig_s - state.since_t_rig_s
        if after_s > state.settings.readback_s + HALF_TICK_S:
            cause = failed_to_open(state.t_rig_s, after_s, state.settings.readback_s)
            happened.append(_of_cause(GuardEventKind.FAILED_TO_OPEN, state.t_rig_s, cause, given))
            return replace(state, failed_to_open=cause)
    elif state.failed_to_open is not None and not given.contactor_closed:
        happened.append(GuardEvent(GuardEventKind.OPENED, state.t_rig_s, "The contactor has opened now."))
        return replace(state, failed_to_open=None)
    return state


def _new_causes(before: GuardState, now: GuardState, given: GuardInput) -> tuple[Finding, ...]:
    causes = tuple(finding for finding in given.new_trips if finding.level >= Level.TRIP)
    if given.stop_request:
        causes += (stop_requested(now.t_rig_s, given.stop_request),)
    if now.failed_to_open is not None and before.failed_to_open is None:
        causes += (now.failed_to_open,)
    return causes


def _follow(
    state: GuardState, given: GuardInput, causes: tuple[Finding, ...], happened: list[GuardEvent]
) -> GuardState:
    first, *rest = _by_sample_time((state.first_out, *causes))
    # The start-up cause has no node time and stays first; it sorts behind, so it is put back.
    if math.isnan(state.first_out.t_rig_s):
        first, rest = state.first_out, _by_sample_time(causes)
    t_s = state.t_rig_s
    happened.extend(_of_cause(GuardEventKind.FOLLOWED, t_s, cause, given) for cause in causes)
    if first is not state.first_out:
        happened.append(_of_cause(GuardEventKind.FIRST_OUT_CORRECTED, t_s, first, given))
    followers = _by_sample_time((*state.followers, *rest))
    return replace(
        state,
        permit=_AFTER[state.permit, Trigger.TRIP],
        acknowledged=False,
        acknowledged_by="",
        first_out=first,
        followers=tuple(followers[:FOLLOWERS_MAX]),
        followers_more=state.followers_more + max(0, len(followers) - FOLLOWERS_MAX),
    )


def _by_sample_time(causes: Iterable[Finding]) -> list[Finding]:
    return sorted(causes, key=lambda cause: math.inf if math.isnan(cause.t_rig_s) else cause.t_rig_s)


def _of_cause(kind: GuardEventKind, t_s: float, cause: Finding, given: GuardInput) -> GuardEvent:
    actor = given.stop_request if cause.kind is FindingKind.STOP_REQUEST else ""
    return GuardEvent(kind, t_s, cause.says, actor, cause)


def _acknowledged(state: GuardState, given: GuardInput) -> GuardEvent:
    says = f"Trip acknowledged by {given.acknowledge}."
    return GuardEvent(GuardEventKind.ACKNOWLEDGED, state.t_rig_s, says, given.acknowledge)
