"""A hot patch that passes once a turn: its swing against a reference, when it is found, and what is none.

The signals are made up here: friction with noise and a runout of a few per cent, and a patch that lifts it for a tenth
of each turn. That heat spots grow before scuffing: Matsuzaki, Yagi, Sugimura 2018, Tribology Letters 66.
"""

import math
import random
from collections.abc import Callable, Iterable

import numpy as np
import pytest
from slice_makers import SLICE_S, bad, make

from scuffwatch.detect.drag import Drag
from scuffwatch.detect.once_per_turn import OncePerTurn, OncePerTurnParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

TURNS_HZ, RUNOUT, NOISE, PATCH_SHARE = 3.1, 0.01, 0.02, 0.1
HEALTHY_S, GROWS_S = 60.0, 60.0
Course = Callable[[float], float]


def fine(draw: random.Random) -> Drag:
    """Give a drag without steps."""
    drag = Drag()
    drag.drag = 1.0 + draw.random()
    return drag


def passes(t_s: float, turns_hz: float = TURNS_HZ) -> bool:
    """Say whether the patch is under the pin."""
    return (t_s * turns_hz) % 1.0 < PATCH_SHARE


def friction(t_s: float, draw: random.Random, height: float, turns_hz: float = TURNS_HZ) -> float:
    """Give a friction force at 200 N, N; the patch lifts it by `height`."""
    mean = 20.0 * (1.0 + RUNOUT * math.cos(math.tau * turns_hz * t_s))
    return mean * (1.0 + draw.gauss(0.0, NOISE) + (height if passes(t_s, turns_hz) else 0.0))


def patch_grows(most: float) -> Course:
    return lambda t_s: most * max(0.0, t_s - HEALTHY_S) / GROWS_S


def found(
    force_n: Callable[[float, random.Random], float],
    seconds: float = HEALTHY_S + GROWS_S,
    seed: int = 1,
    speed_rpm: float | None = 60.0 * TURNS_HZ,
    load_n: Course = lambda t_s: 200.0,
) -> list[Finding]:
    """Give what the scuffing detector finds in a friction force by its time."""
    draw, watch, findings = random.Random(seed), ScuffWatch(ScuffParams()), []
    for k in range(round(seconds / SLICE_S)):
        t_s = k * SLICE_S
        row = {"normal_load_n": draw.gauss(load_n(t_s), 0.5), "friction_force_n": force_n(t_s, draw)}
        if speed_rpm is not None:
            row["ring_speed_rpm"] = draw.gauss(speed_rpm, 0.3)
        findings += watch.update(make(k, row), running=True)
    return findings


def warnings(findings: Iterable[Finding]) -> list[Finding]:
    return [finding for finding in findings if finding.level >= Level.WARN]


def growing(t_s: float, draw: random.Random) -> float:
    return friction(t_s, draw, patch_grows(0.5)(t_s))


def test_the_swing_is_that_of_a_least_squares_fit() -> None:
    # Checked against numpy's least squares (numpy.linalg.lstsq) of a sine and a cosine at the same frequency.
    draw, once = random.Random(3), OncePerTurn(OncePerTurnParams())
    values = [0.08 * math.sin(math.tau * TURNS_HZ * k * SLICE_S + 0.7) + draw.gauss(0.0, 0.01) for k in range(3_000)]
    for value in values:
        once.update(value, 0.05, fine(draw), TURNS_HZ, SLICE_S)
    t_s = np.arange(3_000) * SLICE_S
    basis = np.stack([np.sin(math.tau * TURNS_HZ * t_s), np.cos(math.tau * TURNS_HZ * t_s)], axis=1)
    fitted, *_ = np.linalg.lstsq(basis, np.array(values), rcond=None)
    assert once.swing == pytest.approx(float(np.hypot(*fitted)), rel=0.05)


@pytest.mark.slow
def test_a_patch_that_grows_is_warned_of_long_before_it_is_half_as_much_again() -> None:
    """In each of four runs, before the patch lifts friction by 0.35; the drag's mean is then up by 3.5 %."""
    for seed in range(4):
        (first, *_) = warnings(found(growing, seed=seed))
        assert first.kind is FindingKind.SCUFFING_ONSET
        assert HEALTHY_S < first.t_rig_s < HEALTHY_S + 0.7 * GROWS_S
        evidence = first.evidence[0]
        assert evidence.name == "once_per_turn_ratio"
        assert evidence.value >= evidence.limit >= 2.0
        assert first.says.startswith("Scuffing may begin: friction swings once a turn by ")


@pytest.mark.slow
def test_a_patch_that_grows_over_minutes_is_not_learned() -> None:
    def slowly(t_s: float, draw: random.Random) -> float:
        return friction(t_s, draw, patch_grows(0.1)(t_s))

    (first, *_) = warnings(found(slowly, HEALTHY_S + 5.0 * GROWS_S))
    assert first.evidence[0].name == "once_per_turn_ratio"


@pytest.mark.slow
def test_no_stick_slip_is_told_of_a_swing_that_is_the_rings() -> None:
    assert [f for f in found(growing) if f.kind is FindingKind.STICK_SLIP] == []


@pytest.mark.slow
def test_runout_that_stays_is_no_warning() -> None:
    for seed in range(4):
        assert warnings(found(lambda t_s, draw: friction(t_s, draw, 0.4), seed=seed)) == []


@pytest.mark.slow
@pytest.mark.parametrize("swings_hz", [1.3, 2.4, 2.9, 3.3, 7.7])
def test_a_swing_of_its_own_frequency_is_no_warning(swings_hz: float) -> None:
    """Stick-slip grows in the same way and to the same size, at a frequency the ring does not have."""

    def slips(t_s: float, draw: random.Random) -> float:
        swing = patch_grows(0.15)(t_s) * math.sin(math.tau * swings_hz * t_s)
        return friction(t_s, draw, 0.0) * (1.0 + swing)

    assert [f for f in warnings(found(slips)) if f.evidence[0].name == "once_per_turn_ratio"] == []


@pytest.mark.slow
def test_stick_slip_that_has_the_rings_own_frequency_is_stick_slip() -> None:
    """It is there at once; a patch grows."""

    def slips(t_s: float, draw: random.Random) -> float:
        swing = 0.14 * (t_s > HEALTHY_S) * math.sin(math.tau * TURNS_HZ * t_s)
        return friction(t_s, draw, 0.0) * (1.0 + swing)

    findings = found(slips)
    assert warnings(findings) == []
    assert [f.kind for f in findings] == [FindingKind.STICK_SLIP]


@pytest.mark.slow
def test_a_patch_that_comes_fast_is_told_from_stick_slip_by_growing_on() -> None:
    """To 0.14 within some seconds, and to three times as much in 20 s: a warning, though stick-slip was told before."""

    def patch(t_s: float, draw: random.Random) -> float:
        since_s = max(0.0, t_s - HEALTHY_S)
        height = 0.7 * (1.0 - math.exp(-since_s / 3.0)) * min(1.0, 0.4 + since_s / 30.0) if since_s else 0.0
        return friction(t_s, draw, height)

    (first, *_) = warnings(found(patch))
    assert first.evidence[0].name == "once_per_turn_ratio"
    assert first.t_rig_s < HEALTHY_S + 20.0


@pytest.mark.slow
def test_a_coarse_converter_swings_by_itself() -> None:
    """Steps of a tenth of the friction: a runout of 1 % and a slow drift make it swing by a whole step now and then."""

    def coarse(t_s: float, draw: random.Random) -> float:
        exact = 20.0 * (1.0 + 0.012 * math.cos(math.tau * TURNS_HZ * t_s) + 0.1 * math.sin(t_s / 60.0))
        return 2.0 * round((exact + draw.gauss(0.0, 0.02)) / 2.0)

    assert warnings(found(coarse, 240.0)) == []


@pytest.mark.slow
@pytest.mark.parametrize("speed_rpm", [None, 3_000.0])
def test_without_a_speed_or_on_a_ring_too_fast_for_the_slices_nothing_is_said(speed_rpm: float | None) -> None:
    names = [f.evidence[0].name for f in warnings(found(growing, speed_rpm=speed_rpm))]
    assert "once_per_turn_ratio" not in names


@pytest.mark.slow
def test_a_weight_does_not_make_a_patch_usual() -> None:
    """A patch that is there when the next weight comes is held against the level before: a weight adds half at most."""

    def heavier(t_s: float) -> float:
        return 200.0 if t_s < HEALTHY_S + 20.0 else 260.0

    def force_n(t_s: float, draw: random.Random) -> float:
        return friction(t_s, draw, patch_grows(0.4)(t_s)) * heavier(t_s) / 200.0

    findings = found(force_n, load_n=heavier)
    assert [f for f in warnings(findings) if f.evidence[0].name == "once_per_turn_ratio"]


@pytest.mark.slow
def test_runout_that_a_weight_makes_felt_is_warned_of_once_however_often_the_motor_starts() -> None:
    """A weight makes a runout of 1 % one of 5 %; then twelve starts at the same load."""
    draw, watch, findings = random.Random(7), ScuffWatch(ScuffParams()), []
    for k in range(48_000):
        t_s = k * SLICE_S
        heavy = t_s > HEALTHY_S
        stopped = t_s > 100.0 and (t_s - 100.0) % 30.0 < 5.0
        swing = 1.0 + (0.05 if heavy else 0.01) * math.cos(math.tau * TURNS_HZ * t_s)
        load_n = 300.0 if heavy else 200.0
        force_n = 0.0 if stopped else 0.1 * load_n * swing
        row = {"normal_load_n": draw.gauss(load_n, 0.5), "friction_force_n": draw.gauss(force_n, 0.3)}
        row["ring_speed_rpm"] = 0.0 if stopped else draw.gauss(60.0 * TURNS_HZ, 0.3)
        findings += watch.update(make(k, row), running=not stopped)
    assert len(warnings(findings)) <= 1


def test_a_stop_forgets_the_swing_and_keeps_what_is_usual() -> None:
    once, draw = OncePerTurn(OncePerTurnParams()), random.Random(2)
    for k in range(3_000):
        once.update(0.02 * math.sin(math.tau * TURNS_HZ * k * SLICE_S), 0.02, fine(draw), TURNS_HZ, SLICE_S)
    assert once.ratio == pytest.approx(1.0, abs=0.05)
    once.forget_motion()
    assert math.isnan(once.swing)
    assert math.isnan(once.ratio)
    for k in range(500):
        once.update(0.06 * math.sin(math.tau * TURNS_HZ * k * SLICE_S), 0.06, fine(draw), TURNS_HZ, SLICE_S)
    assert once.ratio == pytest.approx(3.0, abs=0.3)


@pytest.mark.parametrize(
    ("turns_hz", "lasts_s", "is_too_much"), [(TURNS_HZ, 9.0, True), (1.1, 9.0, False), (1.1, 20.0, True)]
)
def test_a_swing_is_held_against_a_dozen_turns_however_slow_the_ring(
    turns_hz: float, lasts_s: float, is_too_much: bool
) -> None:
    """Over the ten turns that a slow ring makes in 9 s noise is a swing as well; a faster one has made 28."""
    draw, once, said = random.Random(1), OncePerTurn(OncePerTurnParams()), []
    for k in range(round((60.0 + lasts_s) / SLICE_S)):
        amplitude = 0.04 if k * SLICE_S >= 60.0 else 0.005
        away = amplitude * math.cos(math.tau * turns_hz * k * SLICE_S)
        once.update(away, 2.0 / math.pi * amplitude, fine(draw), turns_hz, SLICE_S)
        said.append(once.is_too_much)
    assert any(said) is is_too_much


@pytest.mark.slow
def test_a_load_that_swings_once_a_turn_and_is_lost_makes_no_patch_of_friction() -> None:
    """Friction goes with the load, by 5 %: taken by the load it does not swing, by its level it does."""
    draw, watch, findings = random.Random(1), ScuffWatch(ScuffParams()), []
    for k in range(12_000):
        swing = 1.0 + 0.05 * math.cos(math.tau * TURNS_HZ * k * SLICE_S)
        row = {"friction_force_n": draw.gauss(20.0 * swing, 0.1), "ring_speed_rpm": draw.gauss(60.0 * TURNS_HZ, 0.3)}
        load = draw.gauss(200.0 * swing, 0.5) if k < 6_000 else bad(Reason.OVER_RANGE, 400.0)
        findings += watch.update(make(k, {**row, "normal_load_n": load}), running=True)
    assert warnings(findings) == []


@pytest.mark.slow
def test_a_patch_is_found_beside_a_tachometer_that_jumps_from_gate_to_gate() -> None:
    """315 r/min, read as 300 or 330 for 2 s each: phases taken from single gates would be off by half a turn."""
    turns_hz, draw, watch, findings = 315.0 / 60.0, random.Random(1), ScuffWatch(ScuffParams()), list[Finding]()
    course = patch_grows(0.5)
    for k in range(round((HEALTHY_S + GROWS_S) / SLICE_S)):
        t_s = k * SLICE_S
        row = {"normal_load_n": draw.gauss(200.0, 0.5), "ring_speed_rpm": 300.0 if int(t_s / 2.0) % 2 else 330.0}
        row["friction_force_n"] = friction(t_s, draw, course(t_s), turns_hz)
        findings += watch.update(make(k, row), running=True)
    (first, *_) = warnings(findings)
    assert "once a turn" in first.says
    assert first.t_rig_s < HEALTHY_S + 0.6 * GROWS_S


def test_a_patch_has_a_fifth_of_its_power_at_the_frequency_itself() -> None:
    """So the swing may be that little of what unrest has grown by; of less than a sixth it is something else's.

    The share: Fourier series of a pulse on a tenth of the period, 2 sin²(0.1 π) / π² over 0.1 times 0.9.
    """
    for amplitude, is_too_much in ((0.045, True), (0.038, False)):
        draw, once, said = random.Random(1), OncePerTurn(OncePerTurnParams()), []
        for k in range(9_000):
            grown = k >= 6_000
            away = (amplitude if grown else 0.005) * math.cos(math.tau * TURNS_HZ * k * SLICE_S)
            once.update(away, 0.06 if grown else 0.01, fine(draw), TURNS_HZ, SLICE_S)
            said.append(once.is_too_much)
        assert any(said) is is_too_much


@pytest.mark.parametrize(("grows", "is_found"), [(False, False), (True, True)])
def test_a_runout_whose_frequency_is_better_known_now_is_no_patch(grows: bool, is_found: bool) -> None:
    """A tachometer that was off by a twentieth has hidden it: the swing is new, its unrest is not, unless it grows."""
    draw, watch = random.Random(4), OncePerTurn(OncePerTurnParams())
    was_found = False
    for k in range(12_000):
        t_s = 0.01 * k
        late = t_s >= HEALTHY_S
        swing = 0.06 if late or not grows else 0.0
        away = swing * math.cos(math.tau * TURNS_HZ * t_s) + draw.gauss(0.0, 0.02)
        unrest = math.hypot(swing / math.sqrt(2.0), 0.02) * math.sqrt(2.0 / math.pi)
        watch.update(away, unrest, fine(draw), TURNS_HZ * (1.0 if late else 1.05), 0.01)
        was_found = was_found or watch.may_be
    assert was_found is is_found
