"""What a reset needs, in order, each with its sentence for the pre-start page.

Reads the state and what is given; gives six needs. Part of the guard's step while tripped.
"""

from scuffwatch.guard.press import HALF_TICK_S
from scuffwatch.guard.values import GuardInput, GuardState, Need
from scuffwatch.model.finding import Level
from scuffwatch.wire.protocol import NodePermit

_NO_CAUSE = Need("no_cause", "No cause present.", True)
_LINK_DOWN = Need("no_cause", "The rig box does not answer.", False)
_NOT_CONFIRMED = Need("no_cause", "The rig box has not confirmed that the permit is withdrawn.", False)
_TURNING = Need("at_rest", "Ring still turning.", False)
_SPEED_UNKNOWN = Need("at_rest", "Whether the ring is at rest is not known.", False)
_NOT_ACKNOWLEDGED = Need("acknowledged", "Trip not acknowledged.", False)
_RUN_OPEN = Need("run_open", "A run is open.", True)
_NO_RUN = Need("run_open", "No run is open.", False)
_NOT_YET = Need("reset", "Then press reset at the rig.", False)
_LET_GO = Need("reset", "Let go of reset.", False)


def reset_needs(state: GuardState, given: GuardInput) -> tuple[Need, ...]:
    """Give what a reset needs now.

    Args:
        state: tripped, with this step's time, rest and acknowledgement already in it.
        given: as it came.
    Returns:
        no cause, at rest, acknowledged, pre-start, run open, reset, in this order; the last is never met while tripped.
    """
    acknowledged = _NOT_ACKNOWLEDGED
    if state.acknowledged:
        acknowledged = Need("acknowledged", f"Trip acknowledged by {state.acknowledged_by}.", True)
    says = given.prestart_says or ("Pre-start checks passed." if given.prestart_ok else "Pre-start checks not passed.")
    others = (
        _no_cause(state, given),
        _at_rest(state, given),
        acknowledged,
        Need("prestart", says, given.prestart_ok),
        _RUN_OPEN if given.run_open else _NO_RUN,
    )
    return (*others, _reset(state, all(need.met for need in others)))


def _no_cause(state: GuardState, given: GuardInput) -> Need:
    if not given.link_up:
        return _LINK_DOWN
    if state.failed_to_open is not None:
        return Need("no_cause", state.failed_to_open.says, False)
    for finding in given.standing:
        if finding.level >= Level.TRIP:
            return Need("no_cause", f"Cause still present. {finding.says}", False)
    return _NOT_CONFIRMED if given.node_permit is NodePermit.PERMITTED else _NO_CAUSE


def _at_rest(state: GuardState, given: GuardInput) -> Need:
    if state.rest_since_t_s is None:
        return _TURNING if given.ring_turning else _SPEED_UNKNOWN
    rested_s, needed_s = state.t_rig_s - state.rest_since_t_s, state.settings.at_rest_s
    if rested_s >= needed_s - HALF_TICK_S:
        return Need("at_rest", f"Ring at rest for {needed_s:g} s.", True)
    return Need("at_rest", f"Ring at rest for {rested_s:.1f} s, {needed_s:g} s needed.", False)


def _reset(state: GuardState, ready: bool) -> Need:
    if state.press.since_t_s is not None:
        return _LET_GO
    if not ready:
        return _NOT_YET
    low_s, high_s = state.settings.reset_min_s, state.settings.reset_max_s
    return Need("reset", f"Press reset at the rig, {low_s:g} s to {high_s:g} s, and let go.", False)
