"""A tachometer of few pulses a gate, or one that swings for ever, keeps no motor starting. Made up here."""

import math
import random
from collections.abc import Callable, Iterable

import pytest
from slice_makers import good, make

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.model.finding import Finding, FindingKind, Level


@pytest.mark.parametrize("is_set", [True, False])
@pytest.mark.parametrize(("low_rpm", "least_s"), [(60.0, 30.0), (120.0, 45.0)])
def test_a_motor_whose_tachometer_counts_few_pulses_a_gate_does_not_start_for_ever(
    is_set: bool, low_rpm: float, least_s: float
) -> None:
    """Of a minute it runs for most: at random it shows one pulse more or less; the gate is 0.2 s."""
    params = MotorParams(speed_set_rpm=low_rpm + 30.0 if is_set else math.nan)
    watch, draw, shown_rpm = MotorWatch(params), random.Random(1), 0.0
    found, ran_s = list[Finding](), 0.0
    for k in range(6_000):
        if k % 20 == 0:
            shown_rpm = draw.choice([low_rpm, low_rpm + 60.0]) if k > 50 else 0.0
        current_a = max(2.0, 6.0 - 0.04 * k) + draw.gauss(0.0, 0.03)
        row = {
            "ring_speed_rpm": good(shown_rpm, fresh=k % 20 == 0, age_s=0.01 * (k % 20)),
            "motor_current_a": current_a,
        }
        found += watch.update(make(k, row))
        ran_s += 0.01 * (watch.state is MotorState.RUNNING)
    assert {finding.kind for finding in found} <= ({FindingKind.SENSOR_FAULT} if low_rpm == 60.0 else set())
    assert ran_s >= least_s


def swings(shown_rpm: Callable[[random.Random], float], seed: int, after: Iterable[float] = ()) -> MotorWatch:
    """Give a watch that has seen such a speed every 0.1 s, beside a start and a minute of steady current, and that."""
    draw, rpm, watch = random.Random(seed), 0.0, MotorWatch(MotorParams())
    found = list[Finding]()
    for k, current_a in enumerate([max(2.0, 6.0 - 0.04 * k) for k in range(6_000)] + list(after)):
        if k % 10 == 0:
            rpm = shown_rpm(draw)
        row = {"ring_speed_rpm": good(rpm, fresh=k % 10 == 0, age_s=0.01 * (k % 10))}
        row["motor_current_a"] = good(current_a + draw.gauss(0.0, 0.03))
        found += watch.update(make(k, row))
    (fault, *others) = found
    assert fault.kind is FindingKind.SENSOR_FAULT
    assert fault.level is Level.WARN
    assert "swings between" in fault.says
    assert [finding.kind for finding in others] == ([FindingKind.JAM] if after else [])
    return watch


@pytest.mark.slow
@pytest.mark.parametrize(
    "shown_rpm",
    [
        lambda draw: max(0.0, draw.gauss(600.0, 240.0)),  # noise
        lambda draw: 60.0 if draw.random() < 0.5 else 0.0,  # no more than one pulse a gate
    ],
)
def test_a_speed_that_swings_for_ever_is_told_and_the_current_goes_on_alone(
    shown_rpm: Callable[[random.Random], float],
) -> None:
    for seed in range(3):
        assert swings(shown_rpm, seed).state is MotorState.RUNNING


def test_beside_such_a_speed_a_jam_is_found_by_the_current_alone() -> None:
    assert swings(lambda draw: max(0.0, draw.gauss(600.0, 240.0)), 1, [9.0] * 100).state is MotorState.HELD_STILL


def test_on_a_drives_long_ramp_a_tachometer_of_one_pulse_a_turn_may_say_nothing_for_ten_seconds() -> None:
    """Nothing is known of the motor, and its current comes gently; for twenty it is a stall."""
    draw, watch, found = random.Random(1), MotorWatch(MotorParams()), list[Finding]()
    for k in range(2_100):
        row = {"ring_speed_rpm": 0.0, "motor_current_a": draw.gauss(0.9, 0.01) if k >= 100 else 0.0}
        found += watch.update(make(k, row))
    assert [finding.kind for finding in found] == [FindingKind.STALL]
    assert found[0].t_rig_s == pytest.approx(16.0, abs=0.2)
