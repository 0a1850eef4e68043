"""A thermocouple that opens behind a filter is no overheat; a pin that warms up fast is. Made up here; no source."""

import math
from collections.abc import Callable

import pytest

from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import TableReplay
from scuffwatch.service.replay_settings import load_replay_settings

RIG = "[limits]\npin_temperature_degc = 80.0\n"
RANGED = "[channels.pin_temperature_degc]\nrange = [-20.0, 1000.0]\n"
OPENS_S = 20.0
Degc = Callable[[float], float]


def told(
    degc_after: Degc, rate_hz: float, ranged: str = "", *, lasts_s: float = 10.0, each_s: float = 0.0
) -> list[Finding]:
    """Give what is found of a pin at 45 °C that goes on as given from 20 s on, in rows that may be held."""
    replay = TableReplay(("pin_temperature_degc",), load_replay_settings(RIG + ranged))
    found: list[Finding] = []
    for k in range(round((OPENS_S + lasts_s) * rate_hz)):
        t_s = k / rate_hz
        read_s = t_s if not each_s else math.floor(t_s / each_s + 1e-9) * each_s
        degc = degc_after(read_s - OPENS_S) if read_s > OPENS_S else 45.0
        flips = k if not each_s else round(read_s / each_s)
        found += replay.take(t_s, [round(degc + 0.1 * (flips % 2), 1)])
    return found


def overheats_s(found: list[Finding]) -> list[float]:
    """Give the times of overheat trips."""
    return [one.t_rig_s for one in found if one.kind is FindingKind.OVERHEAT and one.level is Level.TRIP]


@pytest.mark.parametrize("rate_hz", [10.0, 20.0, 100.0, 1000.0])
@pytest.mark.parametrize("memory_s", [0.05, 0.3, 1.0, 3.0])
def test_a_thermocouple_that_opens_is_named_and_no_overheat(memory_s: float, rate_hz: float) -> None:
    found = told(lambda s: 1_300.0 - 1_255.0 * math.exp(-s / memory_s), rate_hz, RANGED)
    assert overheats_s(found) == []
    assert FindingKind.SENSOR_FAULT in {one.kind for one in found}


def test_the_words_say_what_is_not_believed() -> None:
    (one,) = [one for one in told(lambda s: 381.0, 100.0, RANGED) if one.kind is FindingKind.SENSOR_FAULT]
    assert one.says == (
        "Sensor fault: pin temperature 381.0 °C, where it came faster than anything warms up; it is not believed."
    )


@pytest.mark.parametrize("rate_k_s", [2.0, 10.0, 30.0, 60.0])
@pytest.mark.parametrize("each_s", [0.0, 0.2, 1.0])
def test_a_pin_that_warms_up_fast_is_overheated(rate_k_s: float, each_s: float) -> None:
    trips_s = overheats_s(told(lambda s: 45.0 + min(rate_k_s * s, 100.0), 100.0, lasts_s=30.0, each_s=each_s))
    assert trips_s[0] - OPENS_S <= 35.0 / rate_k_s + 0.4 + 2.0 * each_s


@pytest.mark.parametrize("memory_s", [0.01, 0.3, 1.0])
def test_one_that_ends_within_its_range_is_named_and_then_believed(memory_s: float) -> None:
    """Nobody can know that it is none of heat: it is safer to stop."""
    found = told(lambda s: 381.0 - 336.0 * math.exp(-s / memory_s), 100.0, RANGED)
    named_s = [one.t_rig_s for one in found if one.kind is FindingKind.SENSOR_FAULT]
    (trip_s, *_) = overheats_s(found)
    assert OPENS_S < named_s[0] < trip_s < OPENS_S + 8.0


@pytest.mark.parametrize(("low_degc", "lasts_s"), [(30.0, 0.01), (0.0, 0.05), (-20.0, 0.5), (33.0, 30.0), (0.0, 300.0)])
def test_what_was_away_below_is_believed_when_it_comes_back(low_degc: float, lasts_s: float) -> None:
    """A wire that is loose for a moment, and a pin that is overheated long after it."""

    def course(s: float) -> float:
        if s < lasts_s:
            return low_degc
        return 45.0 + 0.1 * max(0.0, s - lasts_s - 20.0)

    found = told(course, 100.0, RANGED, lasts_s=lasts_s + 400.0)
    trip_s = overheats_s(found)[-1] - OPENS_S - lasts_s
    assert 320.0 < trip_s < 380.0
    named = [one.says for one in found if "faster than anything warms up" in one.says]
    assert len(named) == (lasts_s > 120.0), "after two minutes nobody knows any more where it was"


def test_what_has_come_back_is_believed_again() -> None:
    def broken_for_2_s(s: float) -> float:
        return 381.0 if s < 2.0 else 45.0 + 10.0 * (s - 2.0)

    trips_s = overheats_s(told(broken_for_2_s, 100.0, RANGED))
    assert trips_s[0] - OPENS_S == pytest.approx(5.5, abs=0.4)
