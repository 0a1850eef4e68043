"""Heat to come: the straight line, the time left, and what makes it be silent."""

import math
import random

import numpy as np
import pytest
from slice_makers import bad, make, sequence

from scuffwatch.detect.heat import HeatForecast, HeatParams
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

PIN = "pin_temperature_degc"
PARAMS = HeatParams(PIN, 120.0)


def run(forecast: HeatForecast, values, first: int = 0) -> list[tuple[int, Finding]]:
    return [(s.index, finding) for s in sequence(({PIN: v} for v in values), first) for finding in forecast.update(s)]


def ramp(from_degc: float, rate_k_s: float, lasts_s: float) -> list[float]:
    return [from_degc + rate_k_s * k * 0.01 for k in range(round(lasts_s * 100))]


def test_it_warns_with_the_time_left() -> None:
    ((index, finding),) = run(HeatForecast(PARAMS), ramp(20.0, 0.0, 70.0) + ramp(20.0, 1.0, 91.0))
    now_degc = 20.0 + 0.01 * (index - 7_000)
    assert (finding.kind, finding.level) == (FindingKind.OVERHEAT, Level.WARN)
    left_s = finding.evidence[1].value
    assert left_s == pytest.approx(120.0 - now_degc, abs=0.01)
    assert 58.0 < left_s <= 60.0
    assert finding.says == (
        f"Overheat ahead: pin temperature {now_degc:.1f} °C, rising 1.00 K/s, reaches 120.0 °C in {left_s:.0f} s."
    )


def test_the_rate_is_the_least_squares_rate() -> None:
    # Checked against numpy's own least squares (numpy.polyfit) over the same window.
    draw = random.Random(5)
    values = [60.0 + 0.02 * k + draw.gauss(0, 0.5) for k in range(1100)]
    ((index, finding),) = run(HeatForecast(HeatParams(PIN, 120.0, on_delay_s=0.1)), values)
    window = np.array(values[index - 990 : index + 1 : 10])
    slope, _ = np.polyfit(np.arange(100) * 0.1, window, 1)
    fitted = float(np.polyval(np.polyfit(np.arange(100) * 0.1, window, 1), 9.9))
    assert len(window) == 100
    assert finding.evidence[0].value == pytest.approx(fitted, rel=1e-9)
    assert finding.evidence[1].value == pytest.approx((120.0 - fitted) / slope, rel=1e-9)


@pytest.mark.parametrize("values", [ramp(40.0, 0.2, 120.0), ramp(119.0, 0.0, 60.0), ramp(119.0, -1.0, 60.0)])
def test_what_will_not_get_there_soon_is_no_warning(values: list[float]) -> None:
    assert run(HeatForecast(PARAMS), values) == []


def test_wander_and_quantisation_are_no_rise() -> None:
    # this project's detection design: 0.2-0.8 °C wander with no fault, 0.5 °C quantisation.
    values = [round((110.0 + 0.8 * math.sin(k / 500)) * 2) / 2 for k in range(60_000)]
    assert run(HeatForecast(PARAMS), values) == []


def warming(from_degc: float, by_k: float, memory_s: float, lasts_s: float) -> list[float]:
    return [from_degc + by_k * (1.0 - math.exp(-k * 0.01 / memory_s)) for k in range(round(lasts_s * 100))]


@pytest.mark.parametrize("memory_s", [40.0, 60.0, 120.0])
@pytest.mark.parametrize("rest_s", [0.0, 60.0])
def test_a_specimen_that_warms_up_to_below_the_limit_is_no_warning(memory_s: float, rest_s: float) -> None:
    """By a straight line it would reach 120 °C within the minute, at 1 K/s and more; it settles 10 K below."""
    values = ramp(40.0, 0.0, rest_s) + warming(40.0, 70.0, memory_s, 300.0)
    assert run(HeatForecast(PARAMS), values) == []


def test_a_specimen_that_warms_up_to_above_the_limit_is_warned_of_in_time() -> None:
    values = warming(40.0, 110.0, 60.0, 100.0)
    passes = next(k for k, value in enumerate(values) if value >= 120.0)
    first = run(HeatForecast(PARAMS), values)[0]
    assert first[1].level is Level.WARN
    assert 20.0 <= (passes - first[0]) * 0.01 <= 60.0


def test_a_rise_that_has_only_just_begun_is_warned_of_twenty_seconds_ahead() -> None:
    ((index, finding), *_) = run(HeatForecast(PARAMS), ramp(60.0, 0.0, 40.0) + ramp(60.0, 4.0, 14.5))
    assert finding.level is Level.WARN
    assert finding.evidence[1].value <= 20.0
    assert 120.0 - (60.0 + 4.0 * (index * 0.01 - 40.0)) > 15.0


@pytest.mark.parametrize("spike_degc", [250.0, 400.0])
def test_an_electrical_spike_near_the_limit_is_no_trip(spike_degc: float) -> None:
    # 60 ms hit one of the ten values a second; at 400 °C it would add 2 K/s to the straight line for seconds.
    values = [114.0] * 3_000
    values[1_505:1_511] = [spike_degc] * 6
    assert run(HeatForecast(PARAMS), values) == []


def test_a_rise_that_goes_on_trips_eight_seconds_before_the_limit_however_steep() -> None:
    """A thermocouple that follows 10 s late is 30 K behind at 3 K/s: 5 K before the limit would be too late."""
    found = run(HeatForecast(PARAMS), ramp(20.0, 3.0, 34.0))
    assert [finding.level for _, finding in found] == [Level.WARN, Level.TRIP]
    index, trip = found[1]
    assert 20.0 + 0.03 * index == pytest.approx(120.0 - 3.0 * 7.0, abs=1.0)  # 8 s, and the on-delay of 1 s
    assert trip.evidence[1].value == pytest.approx(7.0, abs=0.3)


def test_a_start_that_warms_a_specimen_fast_is_no_trip_before_the_limit() -> None:
    """By 60 K with a time constant of 4 s, to 14 K below the limit: the line over 10 s would be there in 3 s."""
    values = [46.0] * 1_500 + [46.0 + 60.0 * (1.0 - math.exp(-k / 400)) for k in range(6_000)]
    assert [f for _, f in run(HeatForecast(PARAMS), values) if f.level is Level.TRIP] == []


def test_a_jump_that_lasts_is_believed() -> None:
    values = [60.0] * 1_500 + ramp(80.0, 2.0, 18.0)
    assert run(HeatForecast(PARAMS), values) != []


def test_a_specimen_that_has_warmed_up_since_is_no_warning() -> None:
    # A start under load: 36 K with a time constant of 3 s. Eight seconds later the line over 10 s still rises by 4 K/s
    # and would be at the limit in 15 s, while its last third rises by less than half of that.
    values = [47.0] * 1_500 + [47.0 + 36.0 * (1.0 - math.exp(-k / 300)) for k in range(6_000)]
    assert run(HeatForecast(HeatParams(PIN, 150.0)), values) == []


@pytest.mark.slow
@pytest.mark.parametrize("memory_s", [3.0, 6.0, 10.0, 15.0])
@pytest.mark.parametrize("left_share", [0.25, 0.5])
def test_starts_that_warm_a_pin_to_below_its_limit_are_no_warning(memory_s: float, left_share: float) -> None:
    """Eight starts from 40 °C by 30 K, with a quarter or a half as much left to the limit at the end."""
    rise = [40.0 + 30.0 * (1.0 - math.exp(-k / 100.0 / memory_s)) for k in range(9_000)]
    rest = [40.0 + (rise[-1] - 40.0) * math.exp(-k / 2_000.0) for k in range(9_000)]
    limit_degc = 70.0 + 30.0 * left_share
    assert run(HeatForecast(HeatParams(PIN, limit_degc)), ([40.0] * 1_500 + rise + rest) * 8) == []


@pytest.mark.parametrize(("to_degc", "is_warned"), [(68.0, False), (84.0, True)])
def test_on_its_way_back_to_what_it_has_held_a_temperature_is_no_warning(to_degc: float, is_warned: bool) -> None:
    """70 °C was held for a while; the next morning a heater brings the bath there at 0.6 K/s, or on and beyond it."""
    forecast = HeatForecast(HeatParams(PIN, 90.0))
    held = ramp(70.0, 0.0, 60.0)
    again = ramp(25.0, 0.6, (to_degc - 25.0) / 0.6)
    assert run(forecast, held) == []
    found = run(forecast, again, len(held) + 100_000)
    assert [finding.level for _, finding in found] == [Level.WARN] * is_warned
    assert all(finding.evidence[0].value > 70.0 for _, finding in found)


@pytest.mark.parametrize("before", [[], ramp(22.0, 0.0, 20.0)], ids=["at once", "after twenty seconds"])
def test_a_heater_that_brings_the_bath_up_for_the_first_time_is_no_warning(before: list[float]) -> None:
    """At 1.3 K/s from 22 to 82 °C, 30 K below the limit, and on from there by a stuck heater once that was held."""
    forecast = HeatForecast(HeatParams(PIN, 112.0))
    way = before + ramp(22.0, 1.3, 44.0) + [82.0 - 2.0 * math.exp(-k / 300.0) for k in range(4_000)]
    assert run(forecast, way) == []
    found = run(forecast, ramp(82.0, 0.5, 40.0), len(way))
    assert [finding.level for _, finding in found] == [Level.WARN]
    assert found[0][1].evidence[1].value > 30.0


def test_a_first_way_up_that_goes_on_is_warned_of_twenty_seconds_ahead() -> None:
    ((_, finding),) = run(HeatForecast(PARAMS), ramp(20.0, 1.0, 90.0))
    assert finding.level is Level.WARN
    assert 18.0 < finding.evidence[1].value <= 20.0


def test_a_pin_that_a_heavy_weight_warms_is_no_warning_before_its_rise_shows_how_it_ends() -> None:
    # The pin temperature of an invented rig, second by second: 20 K within 20 s, a limit 19 K above.
    seconds = [86.3, 86.3, 86.5, 87.6, 89.3, 91.4, 93.6, 95.6, 97.4, 99.0, 100.4, 101.5, 102.6, 103.4, 104.1, 104.7]
    rise = np.interp(np.arange(0, 1_500) / 100.0, np.arange(16), seconds).tolist()
    assert run(HeatForecast(HeatParams(PIN, 125.0)), [86.3] * 2_000 + rise + [105.0] * 1_000) == []


def test_a_rise_that_a_short_stop_broke_off_has_begun_anew() -> None:
    """A pin on its way to 33 °C cools for 5 s and warms up again: it rose 20 s before too, and fell in between."""
    up = [33.0 - 10.0 * math.exp(-k / 1_000) for k in range(1_500)]
    down = [20.0 + (up[-1] - 20.0) * math.exp(-k / 800) for k in range(500)]
    again = [33.0 - (33.0 - down[-1]) * math.exp(-k / 1_000) for k in range(6_000)]
    assert run(HeatForecast(HeatParams(PIN, 50.0)), up + down + again) == []


def test_nothing_is_said_across_a_hole() -> None:
    forecast = HeatForecast(PARAMS)
    run(forecast, ramp(70.0, 0.0, 9.0))
    jump = make(2000, {PIN: 110.0}, gap_before_s=11.0)
    assert forecast.update(jump) == ()
    assert run(forecast, ramp(110.0, 0.0, 30.0), first=2001) == []


def test_a_hole_or_a_bad_value_empties_the_window() -> None:
    forecast = HeatForecast(PARAMS)
    run(forecast, ramp(80.0, 1.0, 9.95))
    forecast.update(make(999, {PIN: bad(Reason.SATURATED, 800.0)}))
    assert run(forecast, ramp(90.0, 1.0, 9.9), first=1000) == []
    assert len(run(forecast, ramp(99.9, 1.0, 3.0), first=1990)) == 1


def test_it_clears_when_the_rise_ends_and_not_at_the_limit() -> None:
    forecast = HeatForecast(PARAMS)
    run(forecast, ramp(80.0, 1.0, 30.0))
    assert forecast.standing
    run(forecast, ramp(110.0, 1.0, 30.0), first=3000)
    assert forecast.standing
    run(forecast, ramp(100.0, 0.0, 30.0), first=6000)
    assert not forecast.standing


def test_a_restart_of_the_node_empties_the_window() -> None:
    forecast = HeatForecast(PARAMS)
    run(forecast, ramp(80.0, 1.0, 9.95))
    found = [
        finding
        for k, value in enumerate(ramp(90.0, 1.0, 9.0))
        for finding in forecast.update(make(995 + k, {PIN: value}, epoch=1))
    ]
    assert found == []


def test_reset_lets_nothing_stand_and_keeps_what_was_measured() -> None:
    forecast = HeatForecast(PARAMS)
    run(forecast, ramp(80.0, 1.0, 20.0))
    forecast.reset()
    assert forecast.standing == ()
    assert len(run(forecast, ramp(100.0, 1.0, 2.0), first=2000)) == 1


def test_a_slow_rise_that_goes_on_for_a_minute_trips_forty_seconds_ahead() -> None:
    """A bath loses its cooling: 0.05 K/s. Its thermocouple may be 2 K behind, which is 40 s."""
    found = run(HeatForecast(PARAMS), ramp(100.0, 0.05, 395.0))
    trip = next(finding for _, finding in found if finding.level is Level.TRIP)
    assert 38.0 < trip.evidence[1].value <= 40.0
    assert trip.evidence[1].limit == 40.0


def test_a_slow_rise_near_the_limit_is_told_once() -> None:
    """Too slow to be warned of, 0.05 K/s does not clear the trip that stands until it reaches the limit."""
    forecast = HeatForecast(PARAMS)
    (trip,) = [finding for _, finding in run(forecast, ramp(100.0, 0.05, 395.0)) if finding.level is Level.TRIP]
    assert forecast.standing == (trip,)


@pytest.mark.slow
@pytest.mark.parametrize("memory_s", [60.0, 120.0, 300.0])
def test_a_slow_rise_that_ends_two_kelvins_below_its_limit_is_no_trip(memory_s: float) -> None:
    values = [118.0 - 20.0 * math.exp(-0.01 * k / memory_s) for k in range(round(600.0 * memory_s))]
    assert [finding for _, finding in run(HeatForecast(PARAMS), values) if finding.level is Level.TRIP] == []


@pytest.mark.slow
@pytest.mark.parametrize(("swing_k", "period_s"), [(2.0, 60.0), (3.0, 40.0), (1.0, 120.0)])
def test_a_thermostat_that_swings_below_the_limit_is_no_trip(swing_k: float, period_s: float) -> None:
    swing = [115.0 + swing_k * math.sin(2.0 * math.pi * k * 0.01 / period_s) for k in range(30_000)]
    # Of its first swing nobody knows yet that it is one.
    known = len(warming(20.0, 95.0, 60.0, 500.0)) + round(100 * period_s)
    told = run(HeatForecast(PARAMS), warming(20.0, 95.0, 60.0, 500.0) + swing)
    assert [finding.says for at, finding in told if at > known] == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noise_of_a_kelvin_two_below_the_limit_is_no_trip(seed: int) -> None:
    draw = random.Random(seed)
    values = [118.0 + draw.gauss(0.0, 1.0) for _ in range(30_000)]
    assert run(HeatForecast(PARAMS), values) == []


@pytest.mark.parametrize("memory_s", [6.0, 8.0, 12.0])
def test_a_weight_that_warms_a_pin_fast_to_three_below_the_limit_is_no_trip(memory_s: float) -> None:
    draw = random.Random(4)
    warm = ramp(90.0, 0.0, 60.0) + warming(90.0, 27.0, memory_s, 120.0)
    values = [round(degc + draw.gauss(0.0, 0.05), 1) for degc in warm]
    assert [finding.says for _, finding in run(HeatForecast(PARAMS), values) if finding.level is Level.TRIP] == []
