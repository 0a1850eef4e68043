"""The guard's values: settings, what goes into a step, what comes out of it, what survives it.

Reads findings and the node's permit; gives the state and the decision that `states.step` turns over. No clock: node
time comes in with every step.
"""

from dataclasses import dataclass
from enum import Enum

from scuffwatch.model.finding import Finding
from scuffwatch.wire.protocol import NodeCause, NodePermit

FOLLOWERS_MAX = 16
"""Followers kept with their evidence; further ones are counted."""


class PermitState(Enum):
    """Whether the motor may run. There is no third state."""

    TRIPPED = "tripped"
    PERMITTED = "permitted"


class LeaseAction(Enum):
    """What to do with the lease after a step."""

    RENEW = "renew"
    """Send a lease for the block just decided on."""
    WITHDRAW = "withdraw"
    """Send lease 0, and again until the node's status confirms."""
    HOLD = "hold"
    """Send nothing; unless something good comes in time the lease lapses."""


class GuardEventKind(Enum):
    """What a step can make happen."""

    TRIPPED = "tripped"
    FOLLOWED = "followed"
    FIRST_OUT_CORRECTED = "first-out corrected"
    ACKNOWLEDGED = "acknowledged"
    RESET_REFUSED = "reset refused"
    PERMITTED = "permitted"
    FAILED_TO_OPEN = "permit failed to open"
    OPENED = "opened late"


@dataclass(frozen=True, slots=True)
class GuardEvent:
    """One thing that happened in a step.

    Attributes:
        kind: see `GuardEventKind`.
        t_rig_s: node time of the step, s; NaN before the node has spoken.
        says: one sentence.
        actor: who, where a person did it; else empty.
        finding: the cause, for TRIPPED, FOLLOWED, FIRST_OUT_CORRECTED and FAILED_TO_OPEN; else None.
    """

    kind: GuardEventKind
    t_rig_s: float
    says: str
    actor: str = ""
    finding: Finding | None = None


@dataclass(frozen=True, slots=True)
class GuardSettings:
    """Times the guard decides on, all in node time.

    Attributes:
        at_rest_s: how long the ring must be at rest without a break before reset.
        reset_min_s, reset_max_s: how long the local reset must be held, both ends included.
        unexpected_start_s: a ring that turns so soon after reset was not started by a person.
        link_max_silence_s: a step further than this from the last one is a hole: what was continuous begins anew.
        readback_s: time the contactor has to open after a trip.
        node_agree_s: time the node may stay latched while the core is permitted.
    """

    at_rest_s: float = 2.0
    reset_min_s: float = 0.2
    reset_max_s: float = 3.0
    unexpected_start_s: float = 1.0
    link_max_silence_s: float = 0.25
    readback_s: float = 0.2
    node_agree_s: float = 0.5


DEFAULTS = GuardSettings()


@dataclass(frozen=True, slots=True)
class GuardInput:
    """What is known at one step.

    Attributes:
        t_rig_s: node time, s. NaN, infinite or smaller than before counts as: no time has passed.
        new_trips: findings that came in this step. Only those of level TRIP are looked at.
        standing: findings whose condition is true now, interlocks included. Only those of level TRIP hold a reset.
        ring_turning: None where it is not known, which is not at rest.
        reset_pressed: the local reset; None where it is not known.
        link_up: whether the rig box is being heard.
        acknowledge: who acknowledges now; empty for nobody.
        prestart_ok, prestart_says: result of the pre-start checks and its sentence.
        run_open: whether a run is open.
        fresh: whether a fresh slice with every trip channel good has passed every detector in this step.
        node_permit: the node's own latch; None where it is not known.
        contactor_closed: permit read-back; None where there is none.
        stop_request: who asks for a stop now; empty for nobody.
        node_cause: why the node latched, for the sentence.
    """

    t_rig_s: float
    new_trips: tuple[Finding, ...]
    standing: tuple[Finding, ...]
    ring_turning: bool | None
    reset_pressed: bool | None
    link_up: bool
    acknowledge: str
    prestart_ok: bool
    prestart_says: str
    run_open: bool
    fresh: bool
    node_permit: NodePermit | None
    contactor_closed: bool | None
    stop_request: str
    node_cause: NodeCause = NodeCause.NONE


@dataclass(frozen=True, slots=True)
class Need:
    """One condition for a reset, as the pre-start page lists it.

    Attributes:
        key: `no_cause, at_rest, acknowledged, prestart, run_open, reset`.
        says: one sentence, true whether met or not.
        met: whether it is met.
    """

    key: str
    says: str
    met: bool


@dataclass(frozen=True, slots=True)
class Decision:
    """What a step decided.

    Attributes:
        lease: what to do with the lease.
        happened: events of this step, in order.
        needs: what a reset needs, in order; empty while permitted.
    """

    lease: LeaseAction
    happened: tuple[GuardEvent, ...] = ()
    needs: tuple[Need, ...] = ()

    @property
    def causes(self) -> tuple[Finding, ...]:
        """Give the causes that are new in this step, the guard's own included: what the alarms must hear of."""
        kinds = (GuardEventKind.TRIPPED, GuardEventKind.FOLLOWED)
        return tuple(made.finding for made in self.happened if made.kind in kinds and made.finding is not None)


@dataclass(frozen=True, slots=True)
class Press:
    """The local reset as it has been followed so far.

    Attributes:
        since_t_s: node time of the rising edge of a press that may still count, s; else None.
        was: the button in the last step; None where it was not known.
        refused: whether the press in progress has been refused already; it is said once.
    """

    since_t_s: float | None = None
    was: bool | None = None
    refused: bool = False


@dataclass(frozen=True, slots=True)
class NodeWatch:
    """How far the node has followed a permit.

    Attributes:
        agreed: whether it has been permitted since the reset.
        latched_since_t_s: node time since which it is seen latched against the core, s; else None.
    """

    agreed: bool = False
    latched_since_t_s: float | None = None


@dataclass(frozen=True, slots=True)
class GuardState:
    """All that survives a step.

    Attributes:
        permit: see `PermitState`.
        acknowledged, acknowledged_by: whether and by whom the trip was acknowledged.
        first_out: the first cause by sample time of the standing trip, or of the last one while permitted.
        followers: later causes of the same trip by sample time, at most `FOLLOWERS_MAX`.
        followers_more: followers beyond those, counted only.
        since_t_rig_s: node time of the last change of `permit`, s; NaN before the node has spoken.
        t_rig_s: latest node time seen, s; never falls.
        rest_since_t_s: since when the ring has been at rest without a break, s; else None.
        press: the local reset.
        node: the node against the core.
        failed_to_open: stands while the contactor is closed against a trip; else None.
        settings: times to decide on.
    """

    permit: PermitState
    acknowledged: bool
    acknowledged_by: str
    first_out: Finding
    followers: tuple[Finding, ...]
    followers_more: int
    since_t_rig_s: float
    t_rig_s: float
    rest_since_t_s: float | None
    press: Press
    node: NodeWatch
    failed_to_open: Finding | None
    settings: GuardSettings

    @property
    def reset_since_t_s(self) -> float | None:
        """Give the node time of the rising edge of a press that may still count, s."""
        return self.press.since_t_s
