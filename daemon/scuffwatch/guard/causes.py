"""Causes the guard finds itself: stop requests, runs closed, starts nobody made, a rig box or contactor that disagrees.

Reads the state and what is given; gives findings of level TRIP. Part of the guard's step.
"""

import math

from scuffwatch.guard.press import HALF_TICK_S
from scuffwatch.guard.values import GuardInput, GuardState, NodeWatch
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.wire.protocol import NodeCause, NodePermit

CONTACTOR = "contactor_closed"
"""Name under which the permit read-back stands in `Finding.channels`."""

NODE_CAUSE_SAYS = {
    NodeCause.NONE: "it gives no reason",
    NodeCause.START_UP: "it has started anew",
    NodeCause.LEASE_LAPSED: "its lease has lapsed",
    NodeCause.LEASE_WITHDRAWN: "its lease was withdrawn",
    NodeCause.OWN_LIMIT: "a limit it keeps itself was passed",
    NodeCause.GUARD_OPEN: "guard open",
    NodeCause.EMERGENCY_STOP: "emergency stop pressed",
    NodeCause.EXTRACTION_OFF: "extraction off",
    NodeCause.READY_EXPIRED: "no lease came in time after reset",
}


def _trip(kind: FindingKind, t_rig_s: float, says: str, *evidence: Evidence, channels: tuple[str, ...] = ()) -> Finding:
    return Finding(kind, Level.TRIP, t_rig_s, channels, evidence, says)


def start_up() -> Finding:
    """Give the cause every start begins with; its node time is NaN."""
    return _trip(FindingKind.START_UP, math.nan, "Start-up: the permit stays off until reset at the rig.")


def stop_requested(t_rig_s: float, actor: str) -> Finding:
    """Give the cause of a stop asked for by a person."""
    return _trip(FindingKind.STOP_REQUEST, t_rig_s, f"Stop requested by {actor}.")


def failed_to_open(t_rig_s: float, after_s: float, limit_s: float) -> Finding:
    """Give the cause of a contactor that is still closed.

    Args:
        t_rig_s: node time, s.
        after_s, limit_s: time since the trip and the time allowed, s.
    """
    says = f"Permit failed to open: contactor still closed {after_s:.2f} s after the trip, limit {limit_s:.2f} s."
    evidence = Evidence("time_since_trip_s", after_s, limit_s, "s")
    return _trip(FindingKind.RIG_BOX, t_rig_s, says, evidence, channels=(CONTACTOR,))


def follow_node(node: NodeWatch, given: GuardInput, t_s: float) -> NodeWatch:
    """Follow the node's own latch while the core is permitted.

    Args:
        node: as it was followed up to the last step.
        given: as it came.
        t_s: node time, s.
    Returns:
        The same, or since when it has been seen latched (or ready, which it can only be after having latched).
    """
    if not given.link_up or given.node_permit is None:
        return node
    if given.node_permit is NodePermit.PERMITTED:
        return node if node.agreed else NodeWatch(agreed=True)
    if given.node_permit is NodePermit.LATCHED or node.agreed:
        return node if node.latched_since_t_s is not None else NodeWatch(node.agreed, t_s)
    return NodeWatch()


def permitted_causes(state: GuardState, given: GuardInput) -> tuple[Finding, ...]:
    """Give everything that ends a permit in this step.

    Args:
        state: permitted, with this step's time and node already in it.
        given: as it came.
    Returns:
        Findings of level TRIP: those that came, those that stand, then the guard's own; empty where none.
    """
    causes = [finding for finding in given.new_trips if finding.level >= Level.TRIP]
    causes.extend(found for found in given.standing if found.level >= Level.TRIP and found not in causes)
    t_s = state.t_rig_s
    if given.stop_request:
        causes.append(stop_requested(t_s, given.stop_request))
    if not given.run_open:
        causes.append(_trip(FindingKind.STOP_REQUEST, t_s, "Run closed: the permit ends with the run."))
    since_s, limit_s = t_s - state.since_t_rig_s, state.settings.unexpected_start_s
    if given.ring_turning and since_s <= limit_s + HALF_TICK_S:
        causes.append(_unexpected_start(t_s, since_s, limit_s))
    if state.node.latched_since_t_s is not None:
        causes.extend(_rig_box_latched(state, given, t_s - state.node.latched_since_t_s))
    return tuple(causes)


def _unexpected_start(t_s: float, since_s: float, limit_s: float) -> Finding:
    says = (
        f"Unexpected start: ring turning {since_s:.2f} s after reset, limit {limit_s:.2f} s. "
        "The starter does not hold itself off."
    )
    return _trip(FindingKind.UNEXPECTED_START, t_s, says, Evidence("time_since_reset_s", since_s, limit_s, "s"))


def _rig_box_latched(state: GuardState, given: GuardInput, latched_s: float) -> tuple[Finding, ...]:
    limit_s = state.settings.node_agree_s
    # A node that had followed, latched and is no longer latched was reset at the rig past the core's rules: no grace.
    came_back = state.node.agreed and given.node_permit is not NodePermit.LATCHED
    if not came_back and latched_s <= limit_s + HALF_TICK_S:
        return ()
    says = f"Rig box latched by itself: {NODE_CAUSE_SAYS[given.node_cause]}."
    evidence = Evidence("rig_box_latched_s", latched_s, limit_s, "s")
    return (_trip(FindingKind.RIG_BOX, state.t_rig_s, says, evidence),)
