"""Weights on their way down, seen through cells of different speed: no scuffing. Made up here."""

import random

from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding


def set_down(draw: random.Random, from_n: float, to_n: float, load_lags_s: float) -> list[Finding]:
    """Give what is found in a weight that comes down within 0.25 s, 20 s after the start.

    The friction cell answers at once; at the first load it reads a zero of 0.3 N and nothing else.
    """
    watch, found, read_n = ScuffWatch(ScuffParams()), list[Finding](), from_n
    for k in range(3_000):
        share = min(1.0, max(0.0, (k - 2_000) / 25))
        load_n = from_n + (to_n - from_n) * share
        read_n += (load_n - read_n) * 0.01 / (load_lags_s + 0.01)
        friction_n = 0.3 if share == 0.0 else 0.105 * load_n
        row = {"normal_load_n": draw.gauss(read_n, 0.3), "friction_force_n": draw.gauss(friction_n, 0.05)}
        found += watch.update(make(k, row), running=True)
    return found


def test_the_first_weight_after_a_hanger_is_no_scuffing_however_late_the_load_cell() -> None:
    for seed in range(5):
        assert set_down(random.Random(seed), 11.6, 150.0, load_lags_s=0.06) == []
