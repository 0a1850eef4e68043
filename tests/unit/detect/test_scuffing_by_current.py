"""Scuffing without a friction cell: a torque current beside a floor as large as itself, and a pin that heats up."""

import random

import pytest
from slice_makers import make

from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Level

IDLE_A, ONSET_S = 0.755, 60.0


def trips(current_a: float, heating_k_s: float, louder_db: float = 0.0) -> list[float]:
    """Give when it trips: an invented rig whose motor draws 1.22 A under 135 N, and within half a second another."""
    draw, watch, found = random.Random(11), ScuffWatch(ScuffParams(MechanicsParams(no_load_current_a=IDLE_A))), []
    for k in range(8_000):
        since_s = max(0.0, 0.01 * k - ONSET_S)
        row = {
            "normal_load_n": draw.gauss(135.0, 0.4),
            "motor_current_a": draw.gauss(1.22 + (current_a - 1.22) * min(1.0, 2.0 * since_s), 0.02),
            "pin_temperature_degc": draw.gauss(60.0 + heating_k_s * min(since_s, 10.0), 0.03),
            "sound_level_db": draw.gauss(62.0 + louder_db * min(1.0, since_s), 0.3),
        }
        found += watch.update(make(k, row), running=True)
    return [item.t_rig_s - ONSET_S for item in found if item.level is Level.TRIP]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("current_a", "heating_k_s", "louder_db"),
    [(1.68, 2.0, 0.0), (1.54, 2.0, 8.0), (1.75, 0.0, 8.0)],
    ids=["steep heat", "heat and sound", "sound"],
)
def test_a_torque_two_fifths_larger_is_scuffing_where_the_pin_or_the_sound_says_so(
    current_a: float, heating_k_s: float, louder_db: float
) -> None:
    # Torque current, of the squares: 0.96 A before, 1.50, 1.34 and 1.58 A after; its floor is 0.24 A.
    (after_s,) = trips(current_a, heating_k_s, louder_db)
    assert after_s < 4.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("current_a", "heating_k_s", "louder_db"),
    [(1.32, 2.0, 8.0), (1.45, 0.5, 0.0), (1.60, 0.0, 0.0)],
    ids=["a sixth more", "a third and mild heat", "two fifths alone"],
)
def test_less_of_it_or_less_beside_it_is_none(current_a: float, heating_k_s: float, louder_db: float) -> None:
    assert trips(current_a, heating_k_s, louder_db) == []
