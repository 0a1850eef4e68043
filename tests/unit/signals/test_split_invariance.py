"""Any split of the same samples into blocks gives the same slices, bit for bit."""

from dataclasses import replace

import numpy as np
import pytest
from frames import Life, Recording
from hypothesis import given, settings
from hypothesis import strategies as st
from rows import rules

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.signals.friction import FrictionRule, derive
from scuffwatch.signals.slices import Slicer

RATES_HZ = st.sampled_from([1000.0, 300.0, 100.0, 80.0, 777.777])
LENGTHS = st.lists(st.integers(1, 20), min_size=1, max_size=7)
REPEATS = st.lists(st.booleans(), min_size=1, max_size=5)


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    """Draw a node with one to three lives, wraps of index and ticks, losses, rails and flat stretches."""
    fast = GroupLayout(0, draw(RATES_HZ), IntegerType.INT16, ("friction_force_n", "motor_current_a"))
    side = GroupLayout(1, 10.0, IntegerType.INT32, ("normal_load_n", "pin_temperature_degc"))
    lives = []
    for _ in range(draw(st.integers(1, 3))):
        random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
        n = draw(st.integers(1, 400))
        counts = random.integers(-2000, 2000, (2, n)).astype(np.int16)
        counts[:, : draw(st.integers(0, n))] = draw(st.integers(-32768, 32767))
        lost = draw(st.lists(st.tuples(st.integers(0, n), st.integers(1, 90)), max_size=3))
        lives.append(
            Life(
                fast=counts,
                side=random.integers(500, 90_000, (2, int(n / fast.rate_hz * 10) + 1)).astype(np.int32),
                lost=tuple(lost),
                first_index=draw(st.sampled_from([0, 3, 2**32 - 100, 2**31])),
                first_ticks_us=draw(st.sampled_from([0, 17, 2**32 - 100_000])),
            )
        )
    return Recording(fast, side, lives)


def slices_of(recording: Recording, lengths: list[int], repeat: list[bool]) -> list[Slice]:
    layouts = (recording.fast_layout, recording.side_layout)
    slicer = Slicer(layouts, rules(*layouts, stuck_after_s=0.05))
    made = [s for block in recording.blocks(lengths, repeat) for s in slicer.accept(block)]
    return [replace(derive(s, FrictionRule(10.0)), frame_sequence=0) for s in made]


@pytest.mark.slow
@settings(max_examples=300)
@given(recording=recordings(), one=LENGTHS, other=LENGTHS, repeat=REPEATS)
def test_any_split_of_the_same_samples_gives_the_same_slices(
    recording: Recording, one: list[int], other: list[int], repeat: list[bool]
) -> None:
    first = slices_of(recording, one, [False])
    second = slices_of(recording, other, repeat)
    assert [repr(s) for s in first] == [repr(s) for s in second]
