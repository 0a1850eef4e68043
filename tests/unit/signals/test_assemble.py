"""Assembly: every sample the node made is in a block or in a gap mark."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.model.block import Block
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.model.event import GapMark
from scuffwatch.signals.assemble import LOST, RESTARTED, Assembler
from scuffwatch.signals.clock import TicksClock
from scuffwatch.wire.protocol import Data, Decoder, encode

FAST = GroupLayout(0, 1000.0, IntegerType.INT16, ("friction_force_n", "motor_current_a"))
SLOW = GroupLayout(1, 10.0, IntegerType.INT32, ("pin_temperature_degc",))


def fast(index: int, n: int = 20, *, boot: int = 0, sequence: int = 0) -> Data:
    """Give a frame of the fast group; the counts are the low bits of the index."""
    row = np.arange(index, index + n).astype(np.int16)
    return Data(0, index % 2**32, np.stack([row, row]), boot, sequence, index * 1000 % 2**32)


def blocks(items: list[Block | GapMark]) -> list[Block]:
    return [item for item in items if isinstance(item, Block)]


def test_a_frame_becomes_a_block_in_its_place() -> None:
    (block,) = Assembler((FAST, SLOW)).accept(fast(40, sequence=7))
    assert isinstance(block, Block)
    assert (block.layout, block.epoch, block.frame_sequence) == (FAST, 0, 7)
    assert (block.first_index, block.t_rig_s, block.lost_before, block.n) == (40, 0.04, 0, 20)
    assert not block.counts.flags.writeable


def test_a_loss_is_marked_before_the_block_behind_it() -> None:
    assembler = Assembler((FAST,))
    assembler.accept(fast(0))
    mark, block = assembler.accept(fast(60))
    assert mark == GapMark(0, 0, 20, 40, 0.02, LOST)
    assert isinstance(block, Block)
    assert (block.first_index, block.lost_before, assembler.lost_samples) == (60, 40, 40)


def test_repeated_older_and_overlapping_blocks_are_refused_and_counted() -> None:
    assembler = Assembler((FAST,))
    assembler.accept(fast(100))
    for index in (100, 60, 110):
        assert assembler.accept(fast(index)) == ()
    assert assembler.refused_blocks == 3
    assert len(assembler.accept(fast(120))) == 1


def test_frames_that_are_not_as_announced_are_counted_as_misfits() -> None:
    assembler = Assembler((FAST, SLOW))
    narrow = np.zeros((1, 1), np.int16)
    for data in (Data(5, 0, narrow), Data(0, 0, narrow), Data(1, 0, narrow), Data(0, 0, np.zeros((2, 4), np.int32))):
        assert assembler.accept(data) == ()
    assert (assembler.misfits, assembler.refused_blocks) == (4, 0)


def test_a_restart_is_a_gap_of_unknown_length_in_every_group() -> None:
    assembler = Assembler((FAST, SLOW))
    assembler.accept(fast(1000))
    assembler.accept(Data(1, 10, np.array([[5]], np.int32), 0, 0, 1_000_000))
    mark, block = assembler.accept(fast(0, boot=1))
    assert mark == GapMark(0, 1, -1, 0, 1.02, RESTARTED)
    assert isinstance(block, Block)
    assert (block.epoch, block.first_index, block.lost_before, block.t_rig_s) == (1, 0, 0, 1.02)
    slow_mark, slow_block = assembler.accept(Data(1, 0, np.array([[5]], np.int32), 1, 0, 0))
    assert slow_mark == GapMark(1, 1, -1, 0, 1.1, RESTARTED)
    assert isinstance(slow_block, Block)
    assert slow_block.epoch == 1


def test_a_restart_that_a_status_frame_showed_first_is_seen_by_the_groups() -> None:
    clock = TicksClock()
    assembler = Assembler((FAST,), clock)
    assembler.accept(fast(1000))
    clock.accept(9, 0)
    mark, _ = assembler.accept(fast(20, boot=9))
    assert isinstance(mark, GapMark)
    assert mark.why == RESTARTED


def test_the_sample_index_wraps_at_32_bits() -> None:
    assembler = Assembler((FAST,))
    start = 2**32 - 30
    made = [block for k in range(4) for block in blocks(list(assembler.accept(fast(start + 20 * k))))]
    assert [block.first_index for block in made] == [start, start + 20, start + 40, start + 60]
    assert assembler.refused_blocks == assembler.lost_samples == 0


@given(
    start=st.sampled_from([0, 77, 2**31 - 500, 2**32 - 1000]),
    lengths=st.lists(st.integers(1, 60), min_size=1, max_size=60),
    fate=st.lists(st.sampled_from(["keep", "keep", "keep", "lose", "twice", "again"]), min_size=60, max_size=60),
)
def test_the_ledger_balances(start: int, lengths: list[int], fate: list[str]) -> None:
    frames, index = [], start
    for n in lengths:
        frames.append(fast(index, n))
        index += n
    assembler, items, repeats = Assembler((FAST,)), [], 0
    for k, (frame, what) in enumerate(zip(frames, fate, strict=False)):
        if what == "lose" and 0 < k < len(frames) - 1:
            continue
        items += assembler.accept(frame)
        if what in ("twice", "again"):
            items += assembler.accept(frame if what == "twice" else frames[0])
            repeats += 1
    stored = sum(block.n for block in blocks(items))
    marked = sum(item.n for item in items if isinstance(item, GapMark))
    assert stored + marked == sum(lengths)
    assert assembler.refused_blocks == repeats
    assert marked == assembler.lost_samples == sum(block.lost_before for block in blocks(items))
    ends = [block.first_index + block.n for block in blocks(items)]
    assert [block.first_index - block.lost_before for block in blocks(items)] == [start, *ends[:-1]]


def test_counts_come_through_the_wire_unchanged() -> None:
    (frame,) = Decoder().feed(encode(fast(2**20, 5)))
    assert isinstance(frame, Data)
    (block,) = Assembler((FAST,)).accept(frame)
    assert isinstance(block, Block)
    assert block.counts.tolist() == fast(2**20, 5).counts.tolist()
