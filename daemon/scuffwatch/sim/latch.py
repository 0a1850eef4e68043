"""The rig box's own latch: lease, reset button and causes in, pulses out.

Reads leases, inputs and two times, gives the permit. A pure state machine: rig time for how long the button was held
(the host's guard measures the same press by the same time), real monotonic time for the lease and for READY.

    LATCHED ──press 0.2-3 s, released at rest, no cause──► READY ──later valid lease──► PERMITTED
       ▲                                                     │                             │
       └──cause, withdrawal, 2 s without a lease─────────────┴──cause, withdrawal, lapse───┘

The start is LATCHED. There is no other arrow: no lease, no time and no message leads out of LATCHED.
"""

from collections import deque

from scuffwatch.wire.protocol import LEASE_MAX_MS, Inputs, Lease, NodeCause, NodePermit, newer

RESET_MIN_S = 0.2
RESET_MAX_S = 3.0
READY_S = 2.0
PULSE_S = 0.010
BLOCKS_REMEMBERED = 64
_ROUNDING_S = 1e-6
_GUARD, _EMERGENCY_STOP = int(Inputs.GUARD_CLOSED), int(Inputs.EMERGENCY_STOP_CLOSED)
_EXTRACTION, _RESET = int(Inputs.EXTRACTION_ON), int(Inputs.RESET_PRESSED)


class Latch:
    """Where the permit of the rig box stands.

    Args:
        extraction_needed: whether extraction off is a cause.

    What survives a call: permit, cause, the lease and the last counter, the last 64 blocks sent, a press in progress.
    """

    def __init__(self, extraction_needed: bool = True) -> None:
        self._extraction_needed = extraction_needed
        self._sent: deque[tuple[int, int, float]] = deque(maxlen=BLOCKS_REMEMBERED)
        self._pressed: bool | None = None
        self._pressed_t_rig_s: float | None = None
        self._ready_mono_s = float("-inf")
        self._lease_until_mono_s = float("-inf")
        self._next_pulse_mono_s = float("-inf")
        self.permit = NodePermit.LATCHED
        self.cause = NodeCause.START_UP
        self.lease_counter = 0
        self.lease_block_mono_s = float("-inf")
        self.reset_presses = 0
        self.leases_refused = 0
        self.leases_capped = 0

    def block_sent(self, group: int, sequence: int, now_mono_s: float) -> None:
        """Remember when a data block went out; its lease is counted from here."""
        self._sent.append((group, sequence & 0xFFFF, now_mono_s))

    def lease_left_ms(self, now_mono_s: float) -> int:
        """Give how long the living lease still lives, ms; 0 where none does."""
        if self.permit is not NodePermit.PERMITTED:
            return 0
        return max(0, int((self._lease_until_mono_s - now_mono_s) * 1000.0))

    def due_mono_s(self) -> float:
        """Give when something happens by itself next: a pulse, a lapse, the end of READY; infinity where nothing."""
        if self.permit is NodePermit.PERMITTED:
            return min(self._next_pulse_mono_s, self._lease_until_mono_s)
        return self._ready_mono_s + READY_S if self.permit is NodePermit.READY else float("inf")

    def pass_time(self, now_mono_s: float) -> None:
        """Let the lease lapse and READY expire; done before anything else is looked at."""
        if self.permit is NodePermit.PERMITTED and now_mono_s >= self._lease_until_mono_s:
            self.latch(NodeCause.LEASE_LAPSED)
        elif self.permit is NodePermit.READY and now_mono_s >= self._ready_mono_s + READY_S:
            self.latch(NodeCause.READY_EXPIRED)

    def pulse(self, now_mono_s: float) -> bool:
        """Say whether an edge goes out now. One that is late is sent once, never made up for."""
        self.pass_time(now_mono_s)
        if self.permit is not NodePermit.PERMITTED or now_mono_s < self._next_pulse_mono_s:
            return False
        self._next_pulse_mono_s = max(self._next_pulse_mono_s + PULSE_S, now_mono_s + PULSE_S / 2)
        return True

    def latch(self, cause: NodeCause) -> None:
        """Take the permit away; the first cause stands, and a press in progress is no press any more."""
        self._pressed_t_rig_s = None
        if self.permit is not NodePermit.LATCHED:
            self.permit, self.cause = NodePermit.LATCHED, cause

    def lease(self, lease: Lease, limits_held: bool, now_mono_s: float) -> bool:
        """Take a lease and say whether it was accepted; a withdrawal always is, and repeating one changes nothing."""
        self.pass_time(now_mono_s)
        fresh = newer(lease.counter, self.lease_counter)
        if fresh:
            self.lease_counter = lease.counter
        if lease.lease_ms == 0:
            if self.permit is not NodePermit.LATCHED:
                self.latch(NodeCause.LEASE_WITHDRAWN)
            return True
        until_mono_s = self._until(lease, now_mono_s)
        if not fresh or not limits_held or until_mono_s <= now_mono_s:
            self.leases_refused += 1
            return False
        if self.permit is NodePermit.READY:
            self.permit, self.cause = NodePermit.PERMITTED, NodeCause.NONE
            self._next_pulse_mono_s = now_mono_s
        self._lease_until_mono_s = until_mono_s
        self.lease_block_mono_s = until_mono_s - min(lease.lease_ms, LEASE_MAX_MS) / 1000.0
        return True

    def _until(self, lease: Lease, now_mono_s: float) -> float:
        """Give when a lease ends, counted from the sending of its block; minus infinity where it counts for nothing."""
        if self.permit is NodePermit.LATCHED:
            return float("-inf")
        sent_mono_s = self._sent_at(lease.group, lease.block_sequence)
        if self.permit is NodePermit.READY and sent_mono_s < self._ready_mono_s:
            return float("-inf")
        if lease.lease_ms > LEASE_MAX_MS:
            self.leases_capped += 1
        return sent_mono_s + min(lease.lease_ms, LEASE_MAX_MS) / 1000.0

    def _sent_at(self, group: int, sequence: int) -> float:
        for known_group, known_sequence, sent_mono_s in reversed(self._sent):
            if known_group == group and known_sequence == sequence:
                return sent_mono_s
        return float("-inf")

    def look(self, inputs: int, over_limit: bool, at_rest: bool, t_rig_s: float, now_mono_s: float) -> None:
        """Take the inputs as they are now.

        Args:
            inputs: bits of `Inputs`; guard, emergency stop, extraction and reset button count.
            over_limit: whether one of the rig box's own limits is passed.
            at_rest: no pulse from the tachometer for its time-out.
            t_rig_s, now_mono_s: rig time, and real monotonic time.
        """
        self.pass_time(now_mono_s)
        cause = self.cause_present(inputs, over_limit)
        if cause is not NodeCause.NONE:
            self.latch(cause)
        pressed = bool(inputs & _RESET)
        if pressed and self._pressed is False:
            self._pressed_t_rig_s = t_rig_s if self.permit is NodePermit.LATCHED else None
        elif self._pressed and not pressed:
            self._released(cause is NodeCause.NONE and at_rest, t_rig_s, now_mono_s)
        self._pressed = pressed

    def _released(self, allowed: bool, t_rig_s: float, now_mono_s: float) -> None:
        began_t_rig_s, self._pressed_t_rig_s = self._pressed_t_rig_s, None
        if began_t_rig_s is None:
            return
        held_s = t_rig_s - began_t_rig_s
        if not RESET_MIN_S - _ROUNDING_S <= held_s <= RESET_MAX_S + _ROUNDING_S:
            return
        self.reset_presses += 1
        if allowed and self.permit is NodePermit.LATCHED:
            self.permit, self.cause = NodePermit.READY, NodeCause.NONE
            self._ready_mono_s = now_mono_s

    def cause_present(self, inputs: int, over_limit: bool) -> NodeCause:
        """Give the cause that stands now, NONE where there is none."""
        if not inputs & _EMERGENCY_STOP:
            return NodeCause.EMERGENCY_STOP
        if not inputs & _GUARD:
            return NodeCause.GUARD_OPEN
        if self._extraction_needed and not inputs & _EXTRACTION:
            return NodeCause.EXTRACTION_OFF
        return NodeCause.OWN_LIMIT if over_limit else NodeCause.NONE
