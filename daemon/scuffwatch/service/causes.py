"""Findings that come from the rig box and the link rather than from a measured channel.

Reads status inputs, silence and identity; gives findings with one sentence each.
"""

from dataclasses import dataclass

from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.wire.protocol import Inputs, NodeCause


@dataclass(frozen=True, slots=True)
class Interlock:
    """One input of the rig box that must be closed for the motor to run.

    Attributes:
        key, name: stable key, and the word on screens.
        bit: input bit, set when closed.
        required: whether open is a trip.
        says_open: what an open one means and what to do.
    """

    key: str
    name: str
    bit: Inputs
    required: bool
    says_open: str


def interlocks(extraction_required: bool, bath_required: bool) -> tuple[Interlock, ...]:
    """Give the interlocks of a rig in screen order."""
    return (
        Interlock("emergency_stop", "Emergency stop", Inputs.EMERGENCY_STOP_CLOSED, True, "Emergency stop pressed."),
        Interlock("guard", "Guard", Inputs.GUARD_CLOSED, True, "Guard open."),
        Interlock("extraction", "Extraction", Inputs.EXTRACTION_ON, extraction_required, "Extraction off."),
        Interlock("bath", "Bath", Inputs.BATH_UP, bath_required, "Bath down."),
    )


def open_interlocks(wired: tuple[Interlock, ...], inputs: Inputs, t_rig_s: float) -> tuple[Finding, ...]:
    """Give a trip finding for each required interlock that is open."""
    return tuple(
        Finding(FindingKind.INTERLOCK, Level.TRIP, t_rig_s, (), (), lock.says_open)
        for lock in wired
        if lock.required and not inputs & lock.bit
    )


def link_lost(silence_s: float, limit_s: float, t_rig_s: float) -> Finding:
    """Give the finding for a rig box that has gone silent."""
    evidence = (Evidence("silence_s", silence_s, limit_s, "s"),)
    says = f"Rig box silent: no data for {silence_s:.2f} s, limit {limit_s:.2f} s. Check the cable at the rig box."
    return Finding(FindingKind.LINK_LOST, Level.TRIP, t_rig_s, (), evidence, says)


def port_gone(why: str, t_rig_s: float) -> Finding:
    """Give the finding for a rig box whose port has gone."""
    says = f"Rig box gone: {why}. Check its cable and its supply."
    return Finding(FindingKind.LINK_LOST, Level.TRIP, t_rig_s, (), (), says)


def node_restarted(t_rig_s: float, cause: str) -> Finding:
    """Give the finding for a rig box that has started anew."""
    says = f"Rig box started anew ({cause}); its permit is off and the time without data is not known."
    return Finding(FindingKind.RIG_BOX, Level.TRIP, t_rig_s, (), (), says)


def wrong_identity(given: str, expected: str, t_rig_s: float) -> Finding:
    """Give the finding for another rig box than the configured one."""
    says = f"Wrong rig box: it says {given!r}, expected {expected!r}. Plug in the right one, or change the rig file."
    return Finding(FindingKind.RIG_BOX, Level.TRIP, t_rig_s, (), (), says)


def channels_missing(names: tuple[str, ...], t_rig_s: float) -> Finding:
    """Give the finding for configured channels the rig box does not have."""
    says = f"Rig box has no channel {', '.join(names)}, which the rig file names. Correct the rig file or the rig box."
    return Finding(FindingKind.RIG_BOX, Level.TRIP, t_rig_s, names, (), says)


def internal_fault(what: str, t_rig_s: float) -> Finding:
    """Give the finding for a fault of our own."""
    says = f"Internal fault of the program: {what}. Report it with the record of this run."
    return Finding(FindingKind.INTERNAL_FAULT, Level.TRIP, t_rig_s, (), (), says)


NODE_CAUSE_WORDS = {
    NodeCause.NONE: "none",
    NodeCause.START_UP: "it has started",
    NodeCause.LEASE_LAPSED: "the permit lapsed",
    NodeCause.LEASE_WITHDRAWN: "the permit was withdrawn",
    NodeCause.OWN_LIMIT: "its own hard limit was passed",
    NodeCause.GUARD_OPEN: "guard open",
    NodeCause.EMERGENCY_STOP: "emergency stop",
    NodeCause.EXTRACTION_OFF: "extraction off",
    NodeCause.READY_EXPIRED: "no permit came after the reset",
}
