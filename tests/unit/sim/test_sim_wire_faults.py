"""Faults of the wire: each does what it is called to frames on their way, is counted, and ends when switched off."""

import math

import pytest
from sim_counts import frames, numbers, seen

from scuffwatch.sim.faults import ON_A_SENSOR, USUAL_AMOUNT, Fault, Sent, WireFaults
from scuffwatch.wire import cobs
from scuffwatch.wire.protocol import FrameError, FrameErrorKind

N = 400
ALL_OF_THE_WIRE = sorted(USUAL_AMOUNT, key=lambda fault: fault.value)
FIVE_SIGMA = 5.0
each_fault = pytest.mark.parametrize("fault", ALL_OF_THE_WIRE, ids=lambda fault: fault.value)


def with_fault(fault: Fault, amount: float | None = None, seed: int = 3) -> WireFaults:
    faults = WireFaults(seed)
    faults.switch(fault, True, amount)
    return faults


def flipped_bits(before: bytes, after: bytes) -> int:
    assert len(before) == len(after)
    return sum((one ^ other).bit_count() for one, other in zip(before, after, strict=True))


def near(hits: int, share: float, chances: int) -> bool:
    return abs(hits - share * chances) <= FIVE_SIGMA * math.sqrt(share * (1.0 - share) * chances)


def test_every_fault_is_of_the_wire_or_of_a_sensor() -> None:
    assert set(USUAL_AMOUNT) | ON_A_SENSOR == set(Fault)
    assert not set(USUAL_AMOUNT) & ON_A_SENSOR


def test_a_sound_wire_changes_and_counts_nothing() -> None:
    faults = WireFaults(3)
    assert faults.pass_on(frames(N), 0.0) == frames(N)
    assert faults.take_in(b"from the host") == b"from the host"
    assert not faults.hits


def test_silence_lets_nothing_through() -> None:
    faults = with_fault(Fault.SILENCE)
    assert faults.pass_on(frames(N), 0.0) == []
    assert faults.hits == {Fault.SILENCE: N}


def test_half_frames_are_beginnings_without_an_end() -> None:
    faults = with_fault(Fault.HALF_FRAMES, 1.0)
    out = faults.pass_on(frames(N), 0.0)
    assert len(out) == N
    for (raw, block), (whole, _) in zip(out, frames(N), strict=True):
        assert 0 < len(raw) < len(whole)
        assert whole.startswith(raw)
        assert block == -1
    assert numbers(out) == []
    assert faults.hits == {Fault.HALF_FRAMES: N}


def test_a_wrong_crc_is_one_bit_of_the_crc_in_an_otherwise_whole_frame() -> None:
    faults = with_fault(Fault.WRONG_CRC, 1.0)
    out = faults.pass_on(frames(N), 0.0)
    assert seen(out) == [FrameError(FrameErrorKind.CRC, len(raw) - 1) for raw, _ in out]
    places = set()
    for (raw, block), (whole, _) in zip(out, frames(N), strict=True):
        body, spoilt = cobs.decode(whole[:-1]), cobs.decode(raw[:-1])
        assert body[:-4] == spoilt[:-4]
        assert flipped_bits(body[-4:], spoilt[-4:]) == 1
        assert block == -1
        places.add(int.from_bytes(body[-4:]) ^ int.from_bytes(spoilt[-4:]))
    assert len(places) == 32, "any of the 32 bits"
    assert faults.hits == {Fault.WRONG_CRC: N}


@pytest.mark.parametrize("share", [1e-3, 0.1, 0.5])
def test_bit_errors_flip_that_share_of_the_bits(share: float) -> None:
    faults = with_fault(Fault.BIT_ERRORS, share)
    out = faults.pass_on(frames(N), 0.0)
    flipped = [flipped_bits(whole, raw) for (raw, _), (whole, _) in zip(out, frames(N), strict=True)]
    assert near(sum(flipped), share, 8 * sum(len(raw) for raw, _ in out))
    assert faults.hits[Fault.BIT_ERRORS] == sum(flipped)
    assert [block for _, block in out] == [-1 if bits else n for n, bits in enumerate(flipped)]


def test_bit_errors_hit_each_place_alike() -> None:
    faults = with_fault(Fault.BIT_ERRORS, 0.05)
    tally = [0] * 32
    for _ in range(4000):
        for place, byte in enumerate(faults.take_in(bytes(4))):
            for bit in range(8):
                tally[8 * place + bit] += byte >> bit & 1
    assert all(near(hits, 0.05, 4000) for hits in tally), tally


def test_bit_errors_do_not_look_at_the_direction() -> None:
    faults, data = with_fault(Fault.BIT_ERRORS, 0.1), bytes(1000)
    assert faults.hits[Fault.BIT_ERRORS] == 0
    assert flipped_bits(data, faults.take_in(data)) == faults.hits[Fault.BIT_ERRORS] > 0
    faults.switch(Fault.BIT_ERRORS, False)
    assert faults.take_in(data) == data


def test_a_repeated_frame_comes_twice_at_once_and_counts_as_a_block_once() -> None:
    faults = with_fault(Fault.REPEAT, 1.0)
    out = faults.pass_on(frames(N), 0.0)
    assert out == [sent for raw, n in frames(N) for sent in ((raw, n), (raw, -1))]
    assert faults.hits == {Fault.REPEAT: N}


def test_a_reordered_frame_falls_behind_the_next_one_also_between_two_calls() -> None:
    faults = with_fault(Fault.REORDER, 1.0)
    out = [sent for frame in frames(N) for sent in faults.pass_on([frame], 0.0)]
    assert numbers(out) == [n ^ 1 for n in range(N)]
    assert sorted(out, key=lambda sent: sent[1]) == frames(N)
    assert faults.hits == {Fault.REORDER: N // 2}


def test_a_frame_held_back_comes_out_when_reordering_is_switched_off() -> None:
    faults = with_fault(Fault.REORDER, 1.0)
    assert faults.pass_on(frames(1), 0.0) == []
    faults.switch(Fault.REORDER, False)
    assert faults.pass_on([], 0.0) == frames(1)


@pytest.mark.parametrize("share", [0.1, 0.5])
def test_dropped_frames_are_missing_and_no_others(share: float) -> None:
    faults = with_fault(Fault.DROP, share)
    out = faults.pass_on(frames(N), 0.0)
    assert [sent for sent in frames(N) if sent in out] == out
    assert faults.hits == {Fault.DROP: N - len(out)}
    assert near(faults.hits[Fault.DROP], share, N)


def test_noise_comes_before_a_frame_and_is_no_block() -> None:
    faults = with_fault(Fault.NOISE, 1.0)
    out = faults.pass_on(frames(N), 0.0)
    assert out[1::2] == frames(N)
    assert {block for _, block in out[::2]} == {-1}
    assert {len(raw) for raw, _ in out[::2]} <= set(range(1, 200))
    assert any(isinstance(found, FrameError) for found in seen(out))
    assert faults.hits == {Fault.NOISE: N}


def test_a_slow_link_delays_every_frame_by_its_amount_and_keeps_the_order() -> None:
    faults = with_fault(Fault.SLOW_LINK, 0.1)
    for n in range(20):
        expected = frames(1, n - 10) if n >= 10 else []
        assert faults.pass_on(frames(1, n), 0.01 * n + 1e-9 * n) == expected
    assert faults.hits == {Fault.SLOW_LINK: 20}


def test_a_slow_link_that_is_mended_first_gives_what_it_holds() -> None:
    faults = with_fault(Fault.SLOW_LINK, 0.1)
    faults.pass_on(frames(3), 0.0)
    faults.switch(Fault.SLOW_LINK, False)
    assert faults.pass_on(frames(1, 3), 0.05) == []
    assert faults.pass_on([], 0.11) == frames(4)
    assert faults.pass_on(frames(1, 4), 0.12) == frames(1, 4)
    assert faults.hits == {Fault.SLOW_LINK: 4}


def test_what_a_slow_link_cannot_hold_is_dropped_oldest_first_and_counted() -> None:
    faults = with_fault(Fault.SLOW_LINK, 1.0)
    for n in range(0, 5000, 100):
        assert faults.pass_on(frames(100, n), 0.0) == []
    assert [n for _, n in faults.pass_on([], 1.0)] == list(range(5000 - 4096, 5000))
    assert faults.hits[Fault.DROP] == 5000 - 4096


@each_fault
def test_a_fault_ends_when_it_is_switched_off(fault: Fault) -> None:
    faults = with_fault(fault, 0.5 if fault is Fault.BIT_ERRORS else 1.0)
    faults.pass_on(frames(N + 1), 0.0)
    assert set(faults.hits) == {fault}
    faults.switch(fault, False)
    faults.pass_on([], 10.0)  # what was held back
    hits = faults.hits.total()
    assert faults.pass_on(frames(N), 10.0) == frames(N)
    assert faults.hits.total() == hits > 0
    assert not faults.on


@each_fault
def test_the_same_seed_gives_the_same_bytes(fault: Fault) -> None:
    def out(seed: int) -> list[Sent]:
        faults = with_fault(fault, seed=seed)
        return faults.pass_on(frames(N), 0.0) + faults.pass_on([], 10.0)

    assert out(3) == out(3)
    if fault not in (Fault.SILENCE, Fault.SLOW_LINK):
        assert out(3) != out(4)


@each_fault
def test_none_of_it_is_none(fault: Fault) -> None:
    if fault is Fault.SILENCE:
        return  # has no amount: silence is silence
    faults = with_fault(fault, 0.0)
    assert faults.pass_on(frames(N), 0.0) == frames(N)
    assert faults.take_in(bytes(100)) == bytes(100)


@each_fault
def test_an_amount_that_means_nothing_is_refused_and_changes_nothing(fault: Fault) -> None:
    faults = WireFaults(3)
    too_much = {Fault.BIT_ERRORS: 0.51, Fault.SLOW_LINK: math.inf}.get(fault, 1.01)
    for amount in (-0.01, math.nan, too_much):
        with pytest.raises(ValueError, match=str(amount)):
            faults.switch(fault, True, amount)
    assert not faults.on


def test_a_fault_of_a_sensor_is_refused() -> None:
    with pytest.raises(ValueError, match="stuck is a fault of a channel"):
        WireFaults(3).switch(Fault.STUCK, True)


def test_all_at_once_never_give_a_frame_that_was_not_sent() -> None:
    faults = WireFaults(3)
    for fault in ALL_OF_THE_WIRE:
        if fault is not Fault.SILENCE:
            faults.switch(fault, True)
    out = faults.pass_on(frames(N), 0.0) + faults.pass_on([], 10.0)
    sent = {raw for raw, _ in frames(N)}
    assert {raw for raw, block in out if block >= 0} <= sent
    assert 0 < len(numbers(out)) < N
    assert set(numbers(out)) <= set(range(N))
