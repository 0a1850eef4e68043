"""The rig box's own latch: whatever host and hands do, pulses need a whole press AND a later lease, and
never outlive the lease, which is counted from when the named block was sent."""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from scuffwatch.sim.latch import RESET_MAX_S, RESET_MIN_S, Latch
from scuffwatch.wire.protocol import LEASE_MAX_MS, Inputs, Lease, NodeCause, NodePermit

SOUND = Inputs.GUARD_CLOSED | Inputs.EMERGENCY_STOP_CLOSED | Inputs.EXTRACTION_ON
SLACK_S = 1e-6


class LatchMachine(RuleBasedStateMachine):
    """Random hosts, hands and causes against a ledger that knows only what was seen."""

    def __init__(self) -> None:
        super().__init__()
        self.latch = Latch()
        self.t_s = 10.0
        self.inputs = SOUND
        self.at_rest = True
        self.counter = 0
        self.blocks: list[tuple[int, float]] = []
        self.pressed_at_s: float | None = None
        self.whole_press_s = float("-inf")
        self.latched_s = self.t_s
        self.lease_until_s = float("-inf")
        self._look()

    def _look(self) -> None:
        before = self.latch.permit
        self.latch.look(int(self.inputs), False, self.at_rest, self.t_s, self.t_s)
        self._note(before)

    def _note(self, before: NodePermit) -> None:
        if before is not NodePermit.LATCHED and self.latch.permit is NodePermit.LATCHED:
            self.latched_s, self.pressed_at_s = self.t_s, None

    @rule(time_s=st.sampled_from((0.001, 0.02, 0.1, 0.25, 1.0, 2.5)))
    def time_passes(self, time_s: float) -> None:
        self.t_s += time_s
        self._look()

    @rule()
    def press(self) -> None:
        if not self.inputs & Inputs.RESET_PRESSED:
            self.inputs |= Inputs.RESET_PRESSED
            self.pressed_at_s = self.t_s
            self._look()

    @rule()
    def release(self) -> None:
        if not self.inputs & Inputs.RESET_PRESSED:
            return
        self.inputs &= ~Inputs.RESET_PRESSED
        held_s = -1.0 if self.pressed_at_s is None else self.t_s - self.pressed_at_s
        sound = self.inputs & SOUND == SOUND and self.at_rest
        if sound and RESET_MIN_S - SLACK_S <= held_s <= RESET_MAX_S + SLACK_S:
            self.whole_press_s = self.t_s
        self.pressed_at_s = None
        self._look()

    @rule(hold_s=st.sampled_from((0.1, 0.25, 1.0, 3.5)))
    def somebody_resets(self, hold_s: float) -> None:
        """The whole act at once, so that the walk gets far."""
        self.release()
        self.press()
        self.time_passes(hold_s)
        self.release()

    @rule(late_s=st.sampled_from((0.0, 0.02, 0.1, 0.25)), ms=st.sampled_from((140, 60_000)))
    def the_host_follows(self, late_s: float, ms: int) -> None:
        self.a_block_is_sent()
        self.time_passes(late_s)
        self.a_lease_comes(0, ms, 1, True)
        self.time_passes(0.1)
        self.a_pulse_is_due()
        self.time_passes(0.1)
        self.a_pulse_is_due()

    @rule(newer_by=st.sampled_from((-2, 0)))
    def the_host_repeats_itself(self, newer_by: int) -> None:
        self.a_block_is_sent()
        self.a_lease_comes(0, 140, 1, True)
        self.a_block_is_sent()
        self.a_lease_comes(0, 140, newer_by, True)

    @rule(bit=st.sampled_from((Inputs.GUARD_CLOSED, Inputs.EMERGENCY_STOP_CLOSED, Inputs.EXTRACTION_ON)))
    def an_interlock_changes(self, bit: Inputs) -> None:
        self.inputs ^= bit
        self._look()

    @rule()
    def the_ring_turns_or_rests(self) -> None:
        self.at_rest = not self.at_rest
        self._look()

    @rule()
    def a_block_is_sent(self) -> None:
        self.blocks.append((len(self.blocks) & 0xFFFF, self.t_s))
        self.latch.block_sent(0, self.blocks[-1][0], self.t_s)

    @rule(
        back=st.integers(0, 90),
        ms=st.sampled_from((0, 1, 40, 140, 150, 151, 60_000)),
        newer_by=st.sampled_from((-2, 0, 1, 1, 1, 5)),
        limits_held=st.sampled_from((True, True, True, False)),
    )
    def a_lease_comes(self, back: int, ms: int, newer_by: int, limits_held: bool) -> None:
        if not self.blocks:
            return
        block, sent_s = self.blocks[max(0, len(self.blocks) - 1 - back)]
        self.counter = max(0, self.counter + newer_by)
        before, known = self.latch.permit, self.latch.lease_counter
        accepted = self.latch.lease(Lease(self.counter, 0, block, ms), limits_held, self.t_s)
        if accepted and ms:
            assert self.counter > known, "a lease that is not newer than the last"
            assert limits_held, "a lease before the limits are confirmed"
            self.lease_until_s = sent_s + min(ms, LEASE_MAX_MS) / 1000.0
        self._note(before)

    @rule()
    def a_pulse_is_due(self) -> None:
        before = self.latch.permit
        if self.latch.pulse(self.t_s):
            assert self.t_s < self.lease_until_s + SLACK_S, "a pulse after the lease had lapsed"
            assert self.whole_press_s >= self.latched_s, "a pulse without a press since the box latched"
        self._note(before)

    @invariant()
    def permitted_only_by_a_whole_press_and_a_living_lease(self) -> None:
        if self.latch.permit is NodePermit.PERMITTED:
            assert self.whole_press_s >= self.latched_s
            assert self.inputs & SOUND == SOUND
        elif self.latch.permit is NodePermit.READY:
            assert self.whole_press_s >= self.latched_s
        else:
            assert self.latch.cause is not NodeCause.NONE


TestLatch = LatchMachine.TestCase
TestLatch.settings = settings(max_examples=100, stateful_step_count=100)


def test_the_machine_can_reach_the_permit() -> None:
    machine = LatchMachine()
    machine.time_passes(0.1)
    machine.press()
    machine.time_passes(0.25)
    machine.release()
    assert machine.latch.permit is NodePermit.READY
    machine.a_block_is_sent()
    machine.a_lease_comes(0, 140, 1, True)
    assert machine.latch.permit is NodePermit.PERMITTED
    machine.time_passes(0.1)
    machine.a_pulse_is_due()
    assert machine.latch.permit is NodePermit.PERMITTED
    machine.time_passes(0.1)
    assert machine.latch.permit is NodePermit.LATCHED
    assert machine.latch.cause is NodeCause.LEASE_LAPSED
