"""Friction beside the motor's current, and the film that a weight thins, on tables made here at 100 rows a second.

A healthy boundary film has a coefficient of 0.09 to 0.14 (Zhang, Ueda, Campen, Spikes 2021, Tribology Letters), a full
film less; sizes and times beside that are common practice, no source.
"""

import numpy as np
import pytest
from test_scuffing_tables import Columns, drive, findings, steady, trips

from scuffwatch.model.finding import FindingKind, Level

pytestmark = pytest.mark.slow

ONSET_S, END_S = 25.0, 32.0
NO_LOAD_A, A_PER_N = 0.8, 0.04
RANGE = "[channels.friction_force_n]\nrange = [-2000.0, 2000.0]\n"


def warned(found) -> list[FindingKind]:
    return [finding.kind for finding in found if finding.level is Level.WARN]


@pytest.mark.parametrize("per_s", [0.3, 0.5, 1.0])
def test_a_cell_that_drifts_fast_is_a_sensor_fault_and_friction_that_rises_so_is_scuffing(per_s: float) -> None:
    """The same rise of friction with and without the motor's current."""
    t_s, columns = steady(END_S)
    times = np.minimum(1.0 + per_s * np.clip(t_s - ONSET_S, 0.0, None), 4.0)
    drifted = columns | {"friction_force_n": columns["friction_force_n"] * times}
    found = findings(t_s, drifted)
    assert trips(found) == []
    assert warned(found).count(FindingKind.SENSOR_FAULT) == 1
    (fault,) = [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT]
    # Here the current has not moved: a rise of 1.57 and a second after it.
    assert ONSET_S + 0.57 / per_s < fault.t_rig_s < ONSET_S + 0.57 / per_s + 2.0
    assert "torque current 1.0" in fault.says
    drive(columns, times)
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    # At little more than twice, well before three times usual; a particle is given that long to pass.
    assert ONSET_S < first.t_rig_s < ONSET_S + 1.2 / per_s


def test_friction_that_rises_faster_than_a_motor_could_answer_trips_alone() -> None:
    """A cell that drifts to twice its value within 0.3 s cannot be told from scuffing in time."""
    t_s, columns = steady(END_S)
    columns["friction_force_n"] *= np.minimum(1.0 + 5.0 * np.clip(t_s - ONSET_S, 0.0, None), 4.0)
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert first.t_rig_s < ONSET_S + 0.5


def test_a_current_that_is_mostly_noise_denies_nothing() -> None:
    t_s, columns = steady(END_S)
    columns["motor_current_a"] += np.random.default_rng(4).normal(0.0, 0.5, len(t_s))
    columns["friction_force_n"] *= np.minimum(1.0 + np.clip(t_s - ONSET_S, 0.0, None), 4.0)
    found = findings(t_s, columns)
    assert trips(found)[0].kind is FindingKind.SCUFFING_ONSET
    assert FindingKind.SENSOR_FAULT not in warned(found)


def weight(
    from_n: float, to_n: float, from_mu: float, to_mu: float, linear: bool = False
) -> tuple[np.ndarray, Columns]:
    """Give a weight set down in 0.3 s under which the film goes to another coefficient.

    The motor adds torque and no-load current as vectors, as an induction motor does, or in line, as one with brushes.
    """
    t_s, columns = steady(END_S, 0.0)
    share = np.clip((t_s - ONSET_S) / 0.3, 0.0, 1.0)
    load_n = from_n + (to_n - from_n) * share
    columns["normal_load_n"] += load_n
    columns["friction_force_n"] += load_n * (from_mu + (to_mu - from_mu) * share)
    torque_a = A_PER_N * np.abs(columns["friction_force_n"]) * (1.0 if linear else 2.0)
    total_a = NO_LOAD_A + torque_a if linear else np.hypot(NO_LOAD_A, torque_a)
    columns["motor_current_a"] = total_a + np.random.default_rng(9).normal(0.0, 0.01, len(t_s))
    return t_s, columns


WEIGHTS = [(100.0, 150.0), (100.0, 200.0), (200.0, 250.0)]


@pytest.mark.parametrize(("from_mu", "to_mu"), [(0.03, 0.08), (0.03, 0.11), (0.05, 0.11), (0.08, 0.11)])
@pytest.mark.parametrize(("from_n", "to_n"), WEIGHTS)
def test_a_weight_that_only_thins_the_film_is_no_trip(from_n: float, to_n: float, from_mu: float, to_mu: float) -> None:
    found = findings(*weight(from_n, to_n, from_mu, to_mu))
    assert [finding.says for finding in found if finding.level is not Level.NOTICE] == []


@pytest.mark.parametrize(
    ("from_n", "to_n", "from_mu"),
    [
        *((*weights, from_mu) for weights in WEIGHTS for from_mu in (0.03, 0.05)),
        (100.0, 150.0, 0.08),
        (200.0, 250.0, 0.08),
    ],
)
def test_a_weight_under_which_the_contact_scuffs_is_one(from_n: float, to_n: float, from_mu: float) -> None:
    t_s, columns = weight(from_n, to_n, from_mu, 0.3)
    found = trips(findings(t_s, columns))
    assert [finding.kind for finding in found[:1]] == [FindingKind.SCUFFING_ONSET]
    assert ONSET_S < found[0].t_rig_s < ONSET_S + 0.6


def test_nor_is_it_a_sensor_fault_where_the_motor_shows_little_of_it() -> None:
    found = findings(*weight(100.0, 200.0, 0.03, 0.08, linear=True))
    assert trips(found) == []
    assert warned(found) == []


@pytest.mark.parametrize(("range_line", "more_n", "many"), [("", 1.0, 1), (RANGE, 1.0, 0), (RANGE, 6.0, 1)])
def test_a_cell_of_a_large_range_may_be_off_by_a_thousandth_of_it(range_line: str, more_n: float, many: int) -> None:
    """A newton more than half a one is a threefold force, and for a cell of 2,000 N less than its zero may creep."""
    t_s, columns = steady(END_S, 50.0, mu=0.0)
    noise_n = np.random.default_rng(3).normal(0.0, 0.02, len(t_s))
    columns["friction_force_n"] = 0.5 + noise_n + np.where(t_s > ONSET_S, more_n, 0.0)
    del columns["motor_current_a"]
    assert len(trips(findings(t_s, columns, f"[rig]\nring_speed_rpm = 600.0\n{range_line}"))) == many
