"""The permit on the wire: a withdrawal is never held back, a renewal names its block."""

from scuffwatch.guard.values import LeaseAction
from scuffwatch.rig.permit import RENEW_EVERY_S, WITHDRAW_AGAIN_S, PermitLine
from scuffwatch.wire.protocol import Decoder, Lease


def lease_in(raw: bytes) -> Lease:
    (frame,) = Decoder().feed(raw)
    assert isinstance(frame, Lease)
    return frame


def test_a_renewal_names_the_block_it_was_decided_on() -> None:
    lease = lease_in(PermitLine(150).word(LeaseAction.RENEW, 28, 10.0))
    assert (lease.lease_ms, lease.group, lease.block_sequence) == (150, 0, 28)


def test_renewals_are_thinned_and_withdrawals_are_not() -> None:
    line = PermitLine(150)
    assert line.word(LeaseAction.RENEW, 1, 10.0)
    assert line.word(LeaseAction.RENEW, 2, 10.0 + RENEW_EVERY_S / 2) == b""
    assert lease_in(line.word(LeaseAction.WITHDRAW, 2, 10.0 + RENEW_EVERY_S / 2)).lease_ms == 0


def test_a_withdrawal_is_repeated_until_the_rig_box_has_latched() -> None:
    line = PermitLine(150)
    assert lease_in(line.word(LeaseAction.WITHDRAW, 2, 10.0, latched=True)).lease_ms == 0
    assert line.word(LeaseAction.WITHDRAW, 2, 10.0 + WITHDRAW_AGAIN_S / 2) == b""
    assert lease_in(line.word(LeaseAction.WITHDRAW, 2, 10.0 + WITHDRAW_AGAIN_S)).lease_ms == 0
    assert line.word(LeaseAction.WITHDRAW, 2, 11.0, latched=True) == b""
    assert lease_in(line.word(LeaseAction.WITHDRAW, 2, 12.0)).lease_ms == 0
    line.word(LeaseAction.HOLD, 2, 12.0)
    assert lease_in(line.word(LeaseAction.WITHDRAW, 2, 12.0, latched=True)).lease_ms == 0


def test_the_last_word_goes_out_whatever_was_sent_before() -> None:
    line = PermitLine(150)
    line.word(LeaseAction.WITHDRAW, 2, 10.0)
    assert lease_in(line.last_word(2)).lease_ms == 0


def test_the_first_renewal_after_a_withdrawal_goes_at_once() -> None:
    line = PermitLine(150)
    line.word(LeaseAction.RENEW, 1, 10.0)
    line.word(LeaseAction.WITHDRAW, 1, 10.001)
    assert line.word(LeaseAction.RENEW, 2, 10.002)


def test_hold_says_nothing() -> None:
    assert PermitLine(150).word(LeaseAction.HOLD, 1, 10.0) == b""


def test_every_word_has_a_newer_counter_and_a_restarted_host_goes_on_above() -> None:
    line = PermitLine(150)
    line.continue_from(41)
    counters = [lease_in(line.word(LeaseAction.WITHDRAW, 1, t_mono_s)).counter for t_mono_s in (10.0, 11.0, 12.0)]
    assert counters == [42, 43, 44]
    line.continue_from(7)
    assert lease_in(line.word(LeaseAction.WITHDRAW, 1, 13.0)).counter == 45


def test_the_counter_wraps_at_32_bits() -> None:
    line = PermitLine(150)
    line.continue_from((1 << 32) - 1)
    assert lease_in(line.word(LeaseAction.WITHDRAW, 1, 10.0)).counter == 0
