"""Warnings before scuffing: what is counted across a stop, and which slow rises are told. Made up here; no source."""

import math
import random
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.scuffing_warns import ScuffWarns
from scuffwatch.detect.seldom_load import SeldomLoad
from scuffwatch.model.finding import Finding, Level


def test_bursts_before_a_stop_do_not_count_with_those_after() -> None:
    warns = ScuffWarns(ScuffParams(), SeldomLoad())
    for _ in range(2):
        warns.bursts.rate.add()
    warns.rest()
    warns.bursts.rate.add()
    assert warns.bursts.rate.count == 1
    assert not warns.bursts.rate.are_too_many


def test_bursts_before_a_hole_count_with_those_after() -> None:
    warns = ScuffWarns(ScuffParams(), SeldomLoad())
    for _ in range(2):
        warns.bursts.rate.add()
    warns.forget_timers()
    warns.bursts.rate.add()
    assert warns.bursts.rate.are_too_many


# --- slow rises through the detector ------------------------------------------------------------------------


def found(
    drag: Callable[[float], float], seconds: float, loud_from_s: float = math.inf, *, has_load: bool = True
) -> list[Finding]:
    """Give what is found at 300 N in a friction that is so many times 30 N by its time; 30 s of it are healthy.

    From a moment on it is louder by 8 dB, and the pin heats by 1 K/s more.
    """
    draw, draw_sound = random.Random(1), random.Random(2)  # apart: with a sound and without, friction is the same
    watch, findings = ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(round(100.0 * seconds)):
        t_s = 0.01 * k
        force_n = 30.0 * drag(t_s) * (1.0 + draw.gauss(0.0, 0.02))
        row = {"normal_load_n": draw.gauss(300.0, 1.0), "friction_force_n": force_n}
        if not has_load:
            del row["normal_load_n"]
        if loud_from_s < math.inf:
            row["sound_level_db"] = draw_sound.gauss(78.0 if t_s > loud_from_s else 70.0, 0.4)
            row["pin_temperature_degc"] = 60.0 + max(0.0, t_s - loud_from_s)
        findings += watch.update(make(k, row), running=True)
    return findings


def bump(times: float, lasts_s: float) -> Callable[[float], float]:
    """Give a rise within half a second that heals as fast."""

    def drag(t_s: float) -> float:
        inside_s = min(t_s - 30.0, 30.0 + lasts_s - t_s)
        return 1.0 + (times - 1.0) * min(1.0, max(0.0, inside_s / 0.5))

    return drag


@pytest.mark.slow
@pytest.mark.parametrize(("times", "lasts_s", "is_warned"), [(1.6, 3.0, True), (1.6, 0.8, False), (1.4, 3.0, False)])
def test_a_scuff_that_heals_is_warned_of_by_friction_alone(times: float, lasts_s: float, is_warned: bool) -> None:
    """Three fifths more for two seconds; what is shorter or smaller may be a particle."""
    findings = found(bump(times, lasts_s), 45.0)
    assert [finding.level for finding in findings] == [Level.WARN] * is_warned
    assert all(finding.says.startswith("Scuffing may begin: friction 1.") for finding in findings)


def creeping(rises: float, wanders: float) -> Callable[[float], float]:
    """Give a drag that creeps up within 60 s after 90 healthy ones, and wanders from second to second as it does."""
    draw = random.Random(3)
    places = [draw.gauss(0.0, 0.01) for _ in range(200)]

    def drag(t_s: float) -> float:
        share = min(1.0, max(0.0, (t_s - 90.0) / 60.0))
        return math.exp(rises * share + (1.0 + (wanders - 1.0) * share) * places[int(t_s)])

    return drag


@pytest.mark.slow
@pytest.mark.parametrize(
    ("rises", "wanders", "is_warned"),
    [
        (0.22, 3.6, True),
        (0.22, 2.4, True),
        (0.22, 1.0, False),
        (0.15, 4.8, True),
        (0.10, 2.4, False),
        (0.0, 3.4, False),
    ],
)
def test_the_more_a_creeping_drag_wanders_the_less_of_it_is_a_warning(
    rises: float, wanders: float, is_warned: bool
) -> None:
    levels = {finding.level for finding in found(creeping(rises, wanders), 168.0) if finding.level >= Level.WARN}
    assert levels == ({Level.WARN} if is_warned else set())


@pytest.mark.slow
def test_where_no_load_is_measured_what_has_crept_up_may_be_weights() -> None:
    assert found(creeping(0.22, 3.6), 168.0, has_load=False) == []


@pytest.mark.slow
def test_sound_and_heat_beside_it_make_the_warning_of_a_creeping_drag_no_later() -> None:
    alone, heard = (found(creeping(0.15, 4.8), 168.0, loud_from_s=from_s) for from_s in (math.inf, 150.0))
    assert heard[0].t_rig_s <= alone[0].t_rig_s
