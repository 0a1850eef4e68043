"""Node time: wraps, restarts, and sample times that do not depend on blocks."""

from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.signals.clock import TIMES_TOLERANCE_US, NodeTime, SampleTimes, TicksClock


def test_the_first_frame_has_its_own_ticks_as_time() -> None:
    assert TicksClock().accept(3, 5_000_000) == NodeTime(0, 5.0, False)


def test_32_bit_ticks_wrap_after_71_6_minutes_without_a_step() -> None:
    clock = TicksClock()
    clock.accept(0, 2**32 - 10_000)
    after = clock.accept(0, 10_000)
    assert after.t_rig_s == (2**32 + 10_000) / 1e6
    assert after.t_rig_s / 60 > 71.58  # 2**32 us, this project's design
    assert not after.restarted


@given(
    first=st.integers(0, 2**32 - 1),
    steps_us=st.lists(st.integers(-1_000_000, 60_000_000), min_size=1, max_size=200),
)
def test_unwrapped_ticks_are_the_sum_of_the_steps(first: int, steps_us: list[int]) -> None:
    clock, now_us = TicksClock(), first
    clock.accept(0, first)
    for step_us in steps_us:
        now_us += step_us
        assert clock.accept(0, now_us % 2**32).t_rig_s == now_us / 1e6


def test_another_boot_byte_opens_an_epoch_and_time_does_not_go_back() -> None:
    clock = TicksClock()
    clock.accept(255, 900_000_000)
    clock.accept(255, 899_000_000)  # a status frame that had waited
    restarted = clock.accept(0, 1_234)
    assert restarted == NodeTime(1, 900.0, True)
    assert clock.accept(0, 1_001_234) == NodeTime(1, 901.0, False)


def test_taking_a_header_twice_changes_nothing() -> None:
    clock = TicksClock()
    clock.accept(1, 5)
    first = clock.accept(2, 77)
    again = clock.accept(2, 77)
    assert (first.epoch, first.t_rig_s, first.restarted) == (1, again.t_rig_s, True)
    assert not again.restarted


@given(rate_mhz=st.integers(100, 5_000_000), cuts=st.lists(st.integers(0, 10**7), min_size=1, max_size=20))
def test_rounding_of_the_ticks_never_reaches_a_sample_time(rate_mhz: int, cuts: list[int]) -> None:
    anchored, whole = SampleTimes(rate_mhz / 1000), SampleTimes(rate_mhz / 1000)
    whole.anchor(0, 0.0)
    anchored.anchor(0, 0.0)
    for index in sorted(cuts):
        anchored.anchor(index, round(index * 1e9 / rate_mhz) / 1e6)
        assert anchored.us_of(index + 7) == whole.us_of(index + 7) == (index + 7) * 10**9 // rate_mhz


def test_a_node_whose_sampling_drifts_is_followed() -> None:
    times = SampleTimes(1000.0)
    times.anchor(0, 0.0)
    drifted_us = TIMES_TOLERANCE_US + 1
    times.anchor(1000, (1_000_000 + drifted_us) / 1e6)
    assert times.us_of(1000) == 1_000_000 + drifted_us
    times.anchor(2000, (2_000_000 + drifted_us + TIMES_TOLERANCE_US) / 1e6)
    assert times.us_of(2000) == 2_000_000 + drifted_us
