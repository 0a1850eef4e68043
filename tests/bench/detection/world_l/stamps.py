"""Spikes, missing samples, lost rows, and stamps that repeat or run backward. Reads and changes rows as logged."""

import numpy as np
from world_b.values import FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, RING_SPEED, Floats, Kind

from world_l.plan import Plan


def stamped(
    plan: Plan,
    t_s: Floats,
    channels: dict[str, Floats],
    ranges: dict[str, tuple[float, float]],
    rng: np.random.Generator,
) -> tuple[Floats, dict[str, Floats]]:
    """Give the stamps and the channels as they come out of the logger."""
    rows = {name: values.copy() for name, values in channels.items()}
    if Kind.SPIKES in plan.kinds_of_stamps:
        _spike(rng, rows, ranges, len(t_s))
    if Kind.SHORT_DROPOUTS in plan.kinds_of_stamps:
        _drop(rng, rows, t_s)
    stamp_s = plan.start_stamp_s + t_s
    if not np.isnan(plan.day_at_s):
        stamp_s = stamp_s + plan.day_jump_s * (t_s >= plan.day_at_s)
    dt_s = float(t_s[1] - t_s[0])
    if Kind.DUPLICATE_STAMPS in plan.kinds_of_stamps:
        at = rng.integers(1, len(t_s), int(rng.integers(3, 40)))
        stamp_s[at] = stamp_s[at - 1]
    if Kind.BACKWARD_STAMPS in plan.kinds_of_stamps:
        for at in rng.integers(10, len(t_s) - 10, int(rng.integers(1, 8))):
            stamp_s[at] -= dt_s * rng.uniform(1.0, 5.0)
    if Kind.HOLES in plan.kinds_of_stamps:
        keep = np.ones(len(t_s), dtype=bool)
        for _ in range(int(rng.integers(1, 6))):
            begin_s = rng.uniform(2.0, t_s[-1])
            keep[(t_s >= begin_s) & (t_s < begin_s + np.exp(rng.uniform(np.log(0.05), np.log(2.5))))] = False
        stamp_s = stamp_s[keep]
        rows = {name: values[keep] for name, values in rows.items()}
    return stamp_s, rows


def _spike(
    rng: np.random.Generator, rows: dict[str, Floats], ranges: dict[str, tuple[float, float]], count: int
) -> None:
    wired = [name for name in (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, RING_SPEED) if name in rows]
    for _ in range(int(rng.integers(2, 25))):
        name = wired[int(rng.integers(len(wired)))]
        begin, lasts = int(rng.integers(count)), int(rng.integers(1, 4))
        low, high = ranges[name]
        size = rng.uniform(-0.5, 1.0) * high
        rows[name][begin : begin + lasts] = np.clip(rows[name][begin : begin + lasts] + size, low, high)


def _drop(rng: np.random.Generator, rows: dict[str, Floats], t_s: Floats) -> None:
    names = sorted(rows)
    for _ in range(int(rng.integers(2, 15))):
        name = names[int(rng.integers(len(names)))]
        begin_s, lasts_s = rng.uniform(0.0, t_s[-1]), np.exp(rng.uniform(np.log(0.01), np.log(1.5)))
        i, j = np.searchsorted(t_s, [begin_s, begin_s + lasts_s])
        rows[name][i : max(j, i + 1)] = np.nan
