"""A tachometer that answers seldom, is lost, or says nothing from the start: what current, friction and load tell.

Sizes and times: common practice, no source. A ring that is held from outside no longer rubs on the pin; a weight takes
load, friction and current up together: derived here.
"""

import random
from collections.abc import Iterable

import numpy as np
import pytest
from slice_makers import bad, good, make

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind

SET_RPM, NO_LOAD_A, RUN_A, LOAD_N, MU = 600.0, 0.6, 2.0, 200.0, 0.1
START_SLICES = 650
Told = tuple[float, float, float | None, float]
"""Speed, r/min; current, A; friction coefficient, None where it is not fitted; load, N."""
RUNNING: Told = (595.0, RUN_A, MU, LOAD_N)


class Rig:
    """A watched motor whose tachometer answers only every `every` slices, at its own place among them."""

    def __init__(self, every: int = 1, phase: int = 0, seed: int = 1, noise: float = 0.02, **params: float) -> None:
        self.watch = MotorWatch(MotorParams(speed_set_rpm=SET_RPM, no_load_current_a=NO_LOAD_A, **params))
        self.found: list[tuple[int, Finding]] = []
        self._draw, self._noise_a = random.Random(seed), noise * RUN_A
        self._every, self._phase = every, phase
        self._index, self._shown_rpm = 0, 0.0

    def feed(self, rows: Iterable[Told]) -> None:
        """Take slices of 10 ms; findings are noted with how many of them had passed since the first."""
        noise = self._draw.gauss
        for k, (speed_rpm, current_a, mu, load_n) in enumerate(rows):
            since = (self._index + self._phase) % self._every
            self._shown_rpm = speed_rpm if since == 0 else self._shown_rpm
            row: dict[str, ChannelSlice | float] = {
                "ring_speed_rpm": good(self._shown_rpm, fresh=since == 0, age_s=(since + 1) / 100),
                "motor_current_a": current_a + noise(0.0, self._noise_a),
                "normal_load_n": load_n * (1.0 + noise(0.0, 0.003)),
            }
            if mu is not None:
                row["friction_coefficient"] = mu * (1.0 + noise(0.0, 0.02))
            self.found += [(k, finding) for finding in self.watch.update(make(self._index, row))]
            self._index += 1

    def start(self) -> None:
        """Start, and run for six seconds."""
        self.feed([(SET_RPM * min(1.0, k / 50), 6.0, MU, LOAD_N) for k in range(50)])
        self.feed([RUNNING] * (START_SLICES - 50))
        assert self.watch.state is MotorState.RUNNING
        assert self.found == []

    @property
    def kinds(self) -> list[FindingKind]:
        return [finding.kind for _, finding in self.found]


def started(every: int = 1, phase: int = 0, seed: int = 1, noise: float = 0.02, **params: float) -> Rig:
    rig = Rig(every, phase, seed, noise, **params)
    rig.start()
    return rig


def weight(times: float, count: int, lag: int = 0) -> list[Told]:
    """Give a weight set down within 0.2 s: load and current go up together, friction so many slices later."""
    rows = []
    for k in range(count):
        load_n = LOAD_N * (1.0 + (times - 1.0) * min(1.0, (k + 1) / 20))
        felt_n = LOAD_N * (1.0 + (times - 1.0) * min(1.0, max(0.0, (k + 1 - lag) / 20)))
        rows.append((590.0, NO_LOAD_A + (RUN_A - NO_LOAD_A) * load_n / LOAD_N, MU * felt_n / load_n, load_n))
    return rows


# --- a jam before the tachometer says so --------------------------------------------------------------------


@pytest.mark.parametrize("since", [1, 5, 9])
@pytest.mark.parametrize("every", [20, 30, 50])
def test_a_jam_is_found_as_soon_as_friction_has_gone_while_the_current_is_high(every: int, since: int) -> None:
    """The tachometer has answered so many slices ago, and does not before it is over."""
    rig = started(every, since - START_SLICES)
    rig.feed([(0.0, 4.5, MU, LOAD_N)] * 4)
    assert rig.found == []
    rig.feed([(0.0, 4.5, 0.01, LOAD_N)] * 60)
    ((index, finding),) = rig.found
    assert finding.kind is FindingKind.JAM
    assert index < 3
    assert finding.says.endswith(", while friction has fallen.")


def test_where_current_and_friction_go_at_once_the_current_must_be_high_for_three_slices_first() -> None:
    rig = started(50, 1 - START_SLICES)
    rig.feed([(0.0, 4.5, 0.01, LOAD_N)] * 10)
    ((index, finding),) = rig.found
    assert index == 3
    assert finding.evidence[0].value > finding.evidence[0].limit == pytest.approx(1.3 * RUN_A, rel=0.02)


@pytest.mark.parametrize("every", [20, 30, 50])
def test_a_jam_whose_current_nothing_explains_is_found_within_half_a_second(every: int) -> None:
    """Though the tachometer has given no other value: a drive that speeds its ring up would have shown it by then."""
    rig = started(every)
    rig.feed([(595.0, 4.6, MU, LOAD_N)] * 60)
    ((index, finding),) = rig.found
    assert finding.kind is FindingKind.JAM
    assert 35 <= index < 45
    assert finding.says.endswith("which friction does not explain.")


def test_a_jam_that_the_tachometer_has_answered_to_is_found_within_0_2_s() -> None:
    rig = started(5)
    rig.feed([(595.0 - 0.5 * k, 4.6, MU, LOAD_N) for k in range(60)])
    ((index, finding),) = rig.found
    assert finding.kind is FindingKind.JAM
    assert 10 <= index < 20


@pytest.mark.parametrize(
    "row",
    [
        (595.0, 3.5, MU, LOAD_N),  # not twice what it was
        (595.0, 4.6, 0.3, LOAD_N),  # friction explains it
        (595.0, 4.6, None, LOAD_N),  # nobody measures friction
        (595.0, 1.2 * RUN_A, 0.01, LOAD_N),  # a film that has come up takes friction away, and the current is not high
    ],
)
def test_at_speed_a_current_that_may_be_explained_is_no_jam(row: Told) -> None:
    rig = started(30)
    rig.feed([row] * 300)
    assert rig.found == []


@pytest.mark.parametrize("lag", [0, 5, 20, 50])
@pytest.mark.parametrize("times", [1.2, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("every", [1, 30])
def test_a_weight_that_comes_on_is_no_jam(every: int, times: float, lag: int) -> None:
    rig = started(every)
    rig.feed(weight(times, 300, lag))
    assert rig.found == []
    assert rig.watch.state is MotorState.RUNNING


# --- a tachometer that is lost ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("after", "times"),
    [
        (20, 1.2),
        (50, 1.2),
        (50, 1.5),
        (100, 1.5),
        (100, 2.0),
        (200, 2.0),
        (100, 3.0),
        (200, 3.0),
        (20, 1.5),
        (30, 1.5),
        (50, 2.0),
    ],
)
def test_a_tachometer_lost_right_after_a_weight_is_that_and_no_jam(after: int, times: float) -> None:
    rig = started()
    rows = weight(times, after + 100)
    rig.feed(rows[:after])
    rig.feed([(0.0, *row[1:]) for row in rows[after:]])
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]


@pytest.mark.parametrize("after_s", [5.0, 8.0, 20.0])
def test_a_tachometer_lost_after_a_weight_that_has_thinned_the_film_is_no_stall(after_s: float) -> None:
    """Friction went up by 2.7 times with the weight and stays there: it did not lead to anything."""
    rig = Rig()
    rig.feed([(SET_RPM * min(1.0, k / 50), 6.0, 0.04, LOAD_N) for k in range(50)])
    rig.feed([(595.0, RUN_A, 0.04, LOAD_N)] * 3_000)
    rig.feed([(595.0, 1.2 * RUN_A, 0.108, 1.5 * LOAD_N)] * round(100.0 * after_s))
    rig.feed([(0.0, 1.2 * RUN_A, 0.108, 1.5 * LOAD_N)] * 200)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]


@pytest.mark.parametrize("seed", range(8))
def test_a_tachometer_lost_beside_a_current_with_some_noise_is_that(seed: int) -> None:
    rig = started(seed=seed, noise=0.05)
    rig.feed([(0.0, *RUNNING[1:])] * 1_000)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]


@pytest.mark.parametrize("seed", range(8))
def test_a_tachometer_lost_beside_a_current_that_is_a_quarter_noise_is_no_stall(seed: int) -> None:
    rig = started(seed=seed, noise=0.25)
    rig.feed([(0.0, *RUNNING[1:])] * 1_000)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]


# --- a tachometer that says nothing from the start ----------------------------------------------------------


@pytest.mark.parametrize("current_a", [0.5, 0.6, 0.7])
def test_a_start_that_draws_no_more_than_without_load_has_lost_its_tachometer(current_a: float) -> None:
    rig = Rig()
    rig.feed([(0.0, current_a, MU, LOAD_N)] * 700)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]


@pytest.mark.parametrize(
    ("current_a", "kind"),
    [
        (1.2, FindingKind.SPEED_SENSOR_LOST),
        (RUN_A, FindingKind.SPEED_SENSOR_LOST),
        (2.0 * RUN_A, FindingKind.STALL),
        (3.0 * RUN_A, FindingKind.STALL),
    ],
)
def test_a_start_is_held_against_what_the_motor_drew_when_it_last_ran(current_a: float, kind: FindingKind) -> None:
    rig = started()
    rig.feed([(0.0, 0.0, MU, LOAD_N)] * 300)
    rig.feed([(0.0, current_a, MU, LOAD_N)] * 700)
    ((index, finding),) = rig.found
    assert finding.kind is kind
    if kind is FindingKind.STALL:
        assert index == pytest.approx(500, abs=5)
        assert finding.says.startswith("Stall at start")
    else:
        assert index == pytest.approx(200, abs=5)  # twice a second of a current that holds


def test_where_nothing_is_known_of_a_running_motors_current_a_start_without_speed_is_a_stall() -> None:
    rig = Rig()
    rig.feed([(0.0, RUN_A, MU, LOAD_N)] * 700)
    assert rig.kinds == [FindingKind.STALL]


# --- a drive at its current limit ---------------------------------------------------------------------------


def slowing(lasts_s: float, current_a: float, mu: float) -> list[Told]:
    n = round(100 * lasts_s)
    return [(595.0 * (1.0 - (k + 1) / n), current_a, mu, LOAD_N) for k in range(n)]


@pytest.mark.parametrize("limit_a", [3.0, None])
@pytest.mark.parametrize("lasts_s", [0.3, 1.0, 3.0])
def test_a_motor_that_slows_under_friction_is_stalled_before_it_stands(lasts_s: float, limit_a: float | None) -> None:
    rig = started(**({} if limit_a is None else {"current_limit_a": limit_a}))
    rig.feed([(595.0, 3.0 if limit_a else 2.6, 0.2, LOAD_N)] * 20)
    assert rig.found == []
    rig.feed(slowing(lasts_s, 3.0 if limit_a else 2.6, 0.2))
    ((index, finding),) = rig.found
    assert finding.kind is FindingKind.STALL
    assert index < 65 * lasts_s
    assert "ring speed 2" in finding.says  # 299 or less, and far from 0
    assert "friction coefficient 0." in finding.says


@pytest.mark.slow
@pytest.mark.parametrize(("current_a", "kinds"), [(1.3 * RUN_A, [FindingKind.STALL]), (0.85 * RUN_A, [])])
def test_friction_that_rises_only_with_the_fall_is_a_stall_where_the_motor_pulls(current_a: float, kinds) -> None:
    """Two fifths more friction are too little to have led; a drive's ramp down draws less than before."""
    rig = started()
    rig.feed([(595.0, RUN_A, 1.3 * MU, LOAD_N)] * 6_000)
    rig.feed(slowing(1.5, current_a, 1.8 * MU))
    rig.feed([(0.0, 0.0, MU, LOAD_N)] * 100)
    assert rig.kinds == kinds
    assert all(finding.says.endswith("beside it.") for _, finding in rig.found)


def test_friction_of_a_boundary_film_that_rises_with_the_fall_is_a_ramps() -> None:
    """A film thins as its ring slows down; the motor draws more for it until the ramp ends."""
    rig = started()
    rig.feed(slowing(1.5, 1.3 * RUN_A, 1.4 * MU))
    rig.feed([(0.0, 0.0, MU, LOAD_N)] * 100)
    assert rig.kinds == []


@pytest.mark.parametrize("lasts_s", [0.3, 0.5, 1.0, 3.0])
def test_a_normal_ramp_down_is_none(lasts_s: float) -> None:
    """Friction goes up a little towards standstill, current goes down with the speed."""
    rig = started(current_limit_a=3.0)
    for share in (row[0] / 595.0 for row in slowing(lasts_s, 0.0, 0.0)):
        rig.feed([(595.0 * share, RUN_A * (0.4 + 0.5 * share), MU * (1.6 - 0.6 * share), LOAD_N)])
    rig.feed([(0.0, 0.0, 0.16, LOAD_N)] * 300)
    assert rig.found == []


def test_a_weight_that_is_many_times_the_last_load_is_no_jam_by_current_alone() -> None:
    """A lifted lever that is set down with 1,500 N: 10 N drew nothing that stood out, so nobody could foretell it."""
    watch, found, noise = MotorWatch(MotorParams(no_load_current_a=NO_LOAD_A)), [], random.Random(4).gauss
    for k in range(1_800):
        down = min(1.0, max(0.0, (k - 1_200) / 30))
        current_a = 1.5 if k < 40 else 0.605 + 4.0 * down
        row = {
            "motor_current_a": current_a + noise(0.0, 0.02),
            "normal_load_n": 10.0 + 1_490.0 * down + noise(0.0, 1.0),
        }
        row["friction_coefficient"] = noise(MU, 0.002)
        found += watch.update(make(k, row))
    assert found == []


def test_a_current_seen_to_rise_to_the_end_of_its_range_is_a_jam_without_a_tachometer() -> None:
    watch, found, noise = MotorWatch(MotorParams(no_load_current_a=NO_LOAD_A)), [], random.Random(4).gauss
    for k in range(1_200):
        since = k - 1_000
        current_a = 6.0 if k < 40 else RUN_A if since < 0 else min(21.4, RUN_A + 4.0 * since)
        current = good(current_a + noise(0.0, 0.02)) if current_a < 21.4 else bad(Reason.OVER_RANGE, 21.4)
        row = {"motor_current_a": current, "normal_load_n": LOAD_N, "friction_coefficient": noise(MU, 0.002)}
        found += [(since, finding.kind) for finding in watch.update(make(k, row))]
    ((since, kind),) = found
    assert kind is FindingKind.JAM
    assert 0 < since <= 50


def test_a_weight_that_is_set_down_and_lifted_again_is_no_jam_however_late_the_current_follows() -> None:
    """930 N for a second on a ring that had run unloaded; friction goes before the load, the current 0.1 s later."""
    at_s = [0.0, 0.1, 0.2, 0.3, 0.5, 0.9, 0.94, 0.98, 1.02, 1.1, 1.2]
    load_n = [890.0, 880.0, 880.0, 900.0, 970.0, 930.0, 890.0, 670.0, 440.0, 250.0, 0.0]
    friction_n = [68.0, 60.0, 52.0, 49.0, 58.0, 56.0, 49.0, 30.0, 14.0, 6.0, 0.0]
    current_a = [0.22, 0.32, 0.41, 0.46, 0.51, 0.545, 0.55, 0.54, 0.52, 0.48, 0.32]
    for seed in range(5):
        draw = random.Random(seed)
        watch, found = MotorWatch(MotorParams(speed_set_rpm=250.0, no_load_current_a=0.17)), list[Finding]()
        for k in range(1_120):
            since_s = 0.01 * (k - 1_000)
            row: dict[str, ChannelSlice | float] = {
                "ring_speed_rpm": min(250.0, 5.0 * k) if since_s < 0.3 else 240.0,
                "motor_current_a": draw.gauss(0.19 if since_s < 0.0 else np.interp(since_s, at_s, current_a), 0.003),
                "normal_load_n": draw.gauss(0.0 if since_s < 0.0 else np.interp(since_s, at_s, load_n), 3.0),
            }
            if since_s >= 0.0:
                row["friction_coefficient"] = np.interp(since_s, at_s, friction_n) / max(
                    10.0, np.interp(since_s, at_s, load_n)
                )
            found += watch.update(make(k, row))
        assert found == []


@pytest.mark.parametrize(("slowed_rpm", "kinds"), [(500.0, [FindingKind.JAM]), (590.0, [])])
def test_a_current_beyond_its_range_is_a_jam_where_the_ring_slows(slowed_rpm: float, kinds: list[FindingKind]) -> None:
    """A belt slips on a ring that is held: the motor goes on at 84 %, and draws more than its transducer shows."""
    watch = MotorWatch(MotorParams(speed_set_rpm=SET_RPM, no_load_current_a=NO_LOAD_A))
    found, noise = list[FindingKind](), random.Random(4).gauss
    for k in range(1_060):
        is_held = k >= 1_000
        row: dict[str, ChannelSlice | float] = {
            "ring_speed_rpm": noise(slowed_rpm if is_held else min(595.0, 12.0 * k), 1.0),
            "motor_current_a": bad(Reason.OVER_RANGE, 5.0) if is_held else noise(4.0 if k < 50 else RUN_A, 0.02),
            "normal_load_n": noise(LOAD_N, 0.5),
            "friction_coefficient": noise(MU, 0.002),
        }
        found += [finding.kind for finding in watch.update(make(k, row))]
    assert found == kinds


@pytest.mark.parametrize("rubs", [True, False])
def test_a_lost_speed_under_a_load_that_does_not_rub_may_be_a_broken_belt(rubs: bool) -> None:
    """The motor runs on as if its pin were lifted, or as it did."""
    rig = started()
    rig.feed([(0.0, RUN_A if rubs else 1.0, MU if rubs else 0.0, LOAD_N)] * 1_000)
    (finding,) = [finding for _, finding in rig.found]
    assert finding.kind is FindingKind.SPEED_SENSOR_LOST
    assert finding.says.endswith("look at belt and coupling.") is not rubs
