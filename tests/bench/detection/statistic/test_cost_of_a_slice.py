"""What a 10 ms slice of six channels costs all detectors together, beside six of river's PageHinkley in the same run.

A time says little on another machine, a ratio does: all detectors (limits, motor, scuffing, sensors, heat, stages)
against the plainest change detector of a public library, one a channel, on the same values.
"""

import statistics
import time
from collections.abc import Callable

import numpy as np
import pytest
from river.drift import PageHinkley

from scuffwatch.detect.bank import Bank
from scuffwatch.model.block import Slice
from scuffwatch.service.replay_settings import column_rules, friction_rule, load_replay_settings, replay_bank_params
from scuffwatch.signals.friction import derive
from scuffwatch.signals.table_slices import TableSlicer

RIG = "[rig]\nring_speed_rpm = 600.0\n[motor]\nno_load_current_a = 0.8\n[limits]\npin_temperature_max_degc = 120.0\n"
SLICES, ROUNDS = 6_000, 5
RATIO_MOST = 15.0
"""Measured about 7; twice that is a slip worth a look."""


def made() -> tuple[list[Slice], Callable[[], Bank]]:
    """Give a minute of healthy slices of six channels, and what makes their detectors."""
    random = np.random.default_rng(1)
    columns = {
        "normal_load_n": 200.0 + random.normal(0.0, 0.8, SLICES),
        "friction_force_n": 20.0 + random.normal(0.0, 0.5, SLICES),
        "motor_current_a": 1.6 + random.normal(0.0, 0.01, SLICES),
        "sound_level_db": 62.0 + random.normal(0.0, 0.3, SLICES),
        "pin_temperature_degc": 60.0 + random.normal(0.0, 0.05, SLICES),
        "ring_speed_rpm": 600.0 + random.normal(0.0, 1.0, SLICES),
    }
    settings = load_replay_settings(RIG)
    rules = column_rules(settings, columns, 0.01)
    slicer, rule = TableSlicer(rules, 0.01), friction_rule(settings)
    rows = zip(*(values.tolist() for values in columns.values()), strict=True)
    slices = [derive(s, rule) for k, row in enumerate(rows) for s in slicer.accept(0.01 * k, row)]

    def bank() -> Bank:
        fresh = Bank(replay_bank_params(settings, rules))
        fresh.start_run()
        return fresh

    return slices, bank


def seconds(work: Callable[[], object]) -> float:
    begun_s = time.perf_counter()
    work()
    return time.perf_counter() - begun_s


def river_over(slices: list[Slice]) -> None:
    names = [name for name in slices[0].channels if name != "friction_coefficient"]
    detectors = [PageHinkley() for _ in names]
    for s in slices:
        for name, detector in zip(names, detectors, strict=True):
            detector.update(s.channels[name].mean)


def bank_over(bank: Bank, slices: list[Slice]) -> None:
    for s in slices:
        bank.update(s)


@pytest.mark.bench
def test_all_detectors_beside_six_of_the_plainest() -> None:
    slices, bank = made()
    ours, theirs = [], []
    for _ in range(ROUNDS):
        ours.append(seconds(lambda: bank_over(bank(), slices)) / len(slices))
        theirs.append(seconds(lambda: river_over(slices)) / len(slices))
    us, river_us = 1e6 * statistics.median(ours), 1e6 * statistics.median(theirs)
    print(
        f"\nall detectors {us:.1f} us a slice of six channels, six PageHinkley {river_us:.1f} us, x {us / river_us:.1f}"
    )
    assert us / river_us < RATIO_MOST
