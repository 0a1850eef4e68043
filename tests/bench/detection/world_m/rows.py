"""Trouble with the rows of the file: spikes, samples and rows missing, stamps that repeat or run backward.

Reads `world_m.plan`. Works on rows as converted; gives what is written.
"""

import numpy as np
from world_b.values import FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, RING_SPEED, Floats, Kind, Nuisance

from world_m.gauges import Gauges
from world_m.plan import Plan
from world_m.streams import Stream, between

SPIKED = (FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, RING_SPEED)


def stamps_s(plan: Plan, row_s: Floats) -> Floats:
    """Give the stamps, (n,): the lost day within, repeats and backward runs, written to the tenth of a millisecond."""
    stamps = row_s + plan.day_gap_s * (row_s >= plan.night_s)
    for repeat in plan.of(Kind.DUPLICATE_STAMPS):
        where = np.flatnonzero((row_s >= repeat.t_s) & (row_s < repeat.t_s + repeat.duration_s))
        stamps[where[1::2]] = stamps[where[: where.size // 2 * 2 : 2]]
    for back in plan.of(Kind.BACKWARD_STAMPS):
        stamps[(row_s >= back.t_s) & (row_s < back.t_s + back.duration_s)] -= 0.6 * back.duration_s
    return np.asarray(np.round(stamps, 4))


def spoil(rng: Stream, plan: Plan, row_s: Floats, shown: dict[str, Floats], gauges: Gauges) -> None:
    """Add spikes and lose samples, in place."""
    names = list(shown)
    for spell in plan.of(Kind.SPIKES):
        able = [name for name in SPIKED if name in shown]
        name = able[int(rng.integers(len(able)))]
        rows = _some_rows(rng, row_s, spell, int(rng.integers(2, 25)))
        gauge = gauges.of[name]
        kick = (gauge.high - gauge.low) * rng.uniform(0.08, 0.7, rows.size) * rng.choice([-1.0, 1.0], rows.size)
        shown[name][rows] = np.clip(shown[name][rows] + kick, gauge.low, gauge.high)
    for spell in plan.of(Kind.SHORT_DROPOUTS):
        name = names[int(rng.integers(len(names)))]
        for row in _some_rows(rng, row_s, spell, int(rng.integers(2, 20))):
            shown[name][row : row + max(1, int(rng.exponential(6.0)))] = np.nan


def kept(plan: Plan, row_s: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Give which rows are written at all, (n,)."""
    keep = np.ones(row_s.size, dtype=np.bool_)
    for hole in plan.of(Kind.HOLES):
        keep[(row_s >= hole.t_s) & (row_s < hole.t_s + hole.duration_s)] = False
    return keep


def _some_rows(rng: Stream, row_s: Floats, spell: Nuisance, count: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    at_s = [between(rng, spell.t_s, spell.t_s + spell.duration_s) for _ in range(count)]
    return np.unique(np.clip(np.searchsorted(row_s, at_s), 0, row_s.size - 1))
