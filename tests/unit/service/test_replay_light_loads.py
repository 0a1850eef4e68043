"""A rig for light loads: a few newtons are a load on a small cell, and nothing on a large one. Made up here."""

import numpy as np
import pytest

from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.service.replay import replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

LOAD_N, ONSET_S = 4.0, 20.0


def cell_to(full_n: float) -> str:
    return f"[rig]\nring_speed_rpm = 600.0\n[channels.normal_load_n]\nrange = [-1.0, {full_n}]\n"


@pytest.mark.parametrize(("full_n", "least_n"), [(2000.0, 5.0), (60.0, 1.2), (8.0, 0.16), (0.1, 0.01)])
def test_a_fiftieth_of_the_load_cells_range_is_a_load_and_at_most_5_newtons(full_n: float, least_n: float) -> None:
    """Common practice, no source."""
    assert load_replay_settings(cell_to(full_n)).load_min_n == pytest.approx(least_n)


def test_of_a_range_that_is_not_known_it_is_1_newton_and_what_is_stated_goes_before_either() -> None:
    assert load_replay_settings().load_min_n == 1.0
    assert load_replay_settings(cell_to(60.0), ["load_min_n=3"]).load_min_n == 3.0


@pytest.mark.slow
@pytest.mark.parametrize(("full_n", "kinds"), [(60.0, [FindingKind.SCUFFING_ONSET]), (2000.0, [])])
def test_scuffing_under_4_newtons_is_seen_where_the_cell_can_tell_them(full_n: float, kinds: list[FindingKind]) -> None:
    random = np.random.default_rng(7)
    t_s = np.arange(3_000) / 100.0
    times = np.clip(2.0 ** ((t_s - ONSET_S) / 0.4), 1.0, 5.0)
    columns = {
        "normal_load_n": LOAD_N + random.normal(0.0, 0.02, len(t_s)),
        "friction_force_n": 0.1 * LOAD_N * times + random.normal(0.0, 0.01, len(t_s)),
        "ring_speed_rpm": 600.0 + random.normal(0.0, 1.0, len(t_s)),
    }
    result = replay_columns(t_s, columns, load_replay_settings(cell_to(full_n)))
    trips = [finding for finding in result.findings if finding.level is Level.TRIP]
    assert [finding.kind for finding in trips] == kinds
    assert all(ONSET_S < finding.t_rig_s < ONSET_S + 1.0 for finding in trips)


@pytest.mark.slow
def test_weights_of_a_seventh_of_a_newton_are_weights_to_a_cell_of_two() -> None:
    """Six weights, 20 s each, at the same coefficient of friction, beside a voice: six stages and nothing else."""
    random = np.random.default_rng(8)
    t_s = np.arange(15_000) / 100.0
    load_n = 0.15 * np.clip(np.floor((t_s - 5.0) / 20.0) + 1.0, 0.0, 6.0)
    columns = {
        "normal_load_n": load_n + random.normal(0.0, 0.003, len(t_s)),
        "friction_force_n": 0.06 * load_n - 0.02 + random.normal(0.0, 0.0005, len(t_s)),
        "sound_level_db": 62.0 + 12.0 * ((t_s > 87.0) & (t_s < 95.0)) + random.normal(0.0, 0.3, len(t_s)),
        "ring_speed_rpm": 600.0 + random.normal(0.0, 1.0, len(t_s)),
    }
    found = replay_columns(t_s, columns, load_replay_settings(cell_to(2.0))).findings
    assert [item.kind for item in found] == [FindingKind.STAGE] * 6
    assert found[0].says == "Stage 1: normal load 0.15 N."
