"""First-order lags and noise with a memory, on evenly spaced samples. Reads arrays, gives arrays."""

import numpy as np
from world_b.values import Floats

BLOCK = 128


def lag(values: Floats, step_s: float, tau_s: float, start: float | None = None) -> Floats:
    """Give (n,) values after a first-order lag of tau_s, in their unit; start is what it shows before the first.

    Source: y' = (x - y) / tau, exact for values held over each step; by blocks, so that numpy does the work.
    """
    if tau_s <= 0.0 or values.size == 0:
        return values.copy()
    keep = float(np.exp(-step_s / tau_s))
    powers = keep ** np.arange(BLOCK + 1)
    rows, columns = np.indices((BLOCK, BLOCK))
    weights = np.where(rows >= columns, powers[np.abs(rows - columns)], 0.0) * (1.0 - keep)
    count = -(-values.size // BLOCK)
    padded = np.zeros(count * BLOCK)
    padded[: values.size] = values
    own = padded.reshape(count, BLOCK) @ weights.T
    carry = np.empty(count)
    last = float(values[0]) if start is None else start
    for i in range(count):
        carry[i] = last
        last = last * powers[BLOCK] + own[i, -1]
    return (own + carry[:, None] * powers[1:][None, :]).reshape(-1)[: values.size]


def wander(rng: np.random.Generator, count: int, step_s: float, tau_s: float) -> Floats:
    """Give (count,) noise of mean 0 and standard deviation 1 with a memory of tau_s seconds."""
    keep = float(np.exp(-step_s / max(tau_s, step_s * 0.05)))
    white = rng.standard_normal(count) * np.sqrt((1.0 + keep) / (1.0 - keep))
    return lag(white, step_s, -step_s / np.log(keep), start=float(rng.standard_normal()))


def smooth_step(t_s: Floats, begin_s: float, length_s: float) -> Floats:
    """Give (n,) a rise from 0 to 1 without corners, from begin_s over length_s seconds."""
    x = np.clip((t_s - begin_s) / max(length_s, 1e-6), 0.0, 1.0)
    return x * x * (3.0 - 2.0 * x)
