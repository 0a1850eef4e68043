"""Warnings forget at a stop what must not be counted across it. Made up here; no source."""

from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.scuffing_warns import ScuffWarns


def test_bursts_before_a_stop_do_not_count_with_those_after() -> None:
    warns = ScuffWarns(ScuffParams())
    for _ in range(2):
        warns.bursts.rate.add()
    warns.rest()
    warns.bursts.rate.add()
    assert warns.bursts.rate.count == 1
    assert not warns.bursts.rate.are_too_many


def test_bursts_before_a_hole_count_with_those_after() -> None:
    warns = ScuffWarns(ScuffParams())
    for _ in range(2):
        warns.bursts.rate.add()
    warns.forget_timers()
    warns.bursts.rate.add()
    assert warns.bursts.rate.are_too_many
