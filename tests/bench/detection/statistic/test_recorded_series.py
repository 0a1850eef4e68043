"""Recorded series from open packages: what is true of them, the statistic must say.

RunLog, Occupancy and WaterFlow: PyPI river 0.26.1 (BSD-3-Clause), read as files; the steps of RunLog are where its
annotators agree. Nile: yearly flow at Aswan 1871-1970, as in PyPI statsmodels 0.15.0 (public domain), first analysed by
Cobb 1978, Biometrika 65 (2) 243: one change, near 1898.
"""

import csv
import math
import statistics
from importlib.util import find_spec
from pathlib import Path

import pytest

from scuffwatch.detect.cusum import CusumBank, CusumParams, bank_params

# fmt: off
NILE = (
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140,
    1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969,
    831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759,
    781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890,
    744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
)
# fmt: on
RUN_LOG_STEPS = (60, 96, 114, 174, 204, 240, 258, 317)


def column(path: str, name: str) -> list[float]:
    spec = find_spec("river")
    assert spec is not None
    assert spec.origin is not None
    with (Path(spec.origin).parent / path).open() as file:
        return [float(row[name]) for row in csv.DictReader(file)]


def changes(values: list[float], learn: int, settle: int = 0, spread: float = math.nan) -> list[int]:
    """Give the rows at which a change is told: level from some rows, then a bank upward and one downward.

    After a change as many rows as `settle` are passed over and the level is learned anew, as at a stage of a run.
    """
    found, start, params = [], settle, bank_params(1e6)
    while start + learn < len(values):
        healthy = values[start : start + learn]
        level = statistics.median(healthy)
        sigma = statistics.stdev(healthy) if math.isnan(spread) else spread
        up, down = CusumBank(params), CusumBank(params)
        for row in range(start + learn, len(values)):
            z = (values[row] - level) / sigma
            if max(up.update(z), down.update(-z)) > 1.0:
                found.append(row)
                start = row + settle
                break
        else:
            break
    return found


@pytest.mark.parametrize("learn", [15, 20, 25])
def test_nile_changes_once(learn: int) -> None:
    (row,) = changes(list(map(float, NILE)), learn)
    assert 28 <= row <= 28 + 6


@pytest.mark.parametrize(("learn", "spread"), [(8, 2.0), (10, 1.5)])
def test_run_log_has_eight_steps(learn: int, spread: float) -> None:
    # Pace wanders and takes some rows to settle: a step is 1.5-2 min/km and more, and 8 rows are passed over after one.
    found = changes(column("drift/datasets/run_log.csv", "Pace"), learn, 8, spread)
    assert len(found) == len(RUN_LOG_STEPS)
    assert all(abs(row - step) <= 5 for row, step in zip(found, RUN_LOG_STEPS, strict=True))


def highest(params: CusumParams, values: list[float], peak: int, learn: int, after: int) -> float:
    healthy = values[peak - learn : peak]
    level, sigma = statistics.fmean(healthy), statistics.stdev(healthy)
    bank = CusumBank(params)
    return max(bank.update((x - level) / sigma) for x in values[peak : peak + after])


@pytest.mark.parametrize(
    ("path", "name"), [("drift/datasets/occupancy.csv", "V3"), ("datasets/water-flow.csv", "Water flow [l/s]")]
)
def test_a_peak_of_one_sample_is_no_change_to_clipped_scores(path: str, name: str) -> None:
    values = column(path, name)
    peak = 329  # 149 among values of 8-40; 109.7 among 98-103
    assert highest(bank_params(1e6), values, peak, 25, 1) > 1.0
    clipped = bank_params(1e6, clip=2.0)
    assert highest(clipped, values, peak, 25, 1) < 0.15
    assert highest(clipped, values, peak, 25, 10) < 1.0


def test_a_lasting_change_is_one_to_clipped_scores_too() -> None:
    values = column("datasets/water-flow.csv", "Water flow [l/s]")
    closed = values.index(24.27)  # a valve is shut: 95 to 24 l/s
    assert highest(bank_params(1e6, clip=2.0), [-x for x in values], closed, 25, 15) > 1.0
