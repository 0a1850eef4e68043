"""Even clocks. Reads nothing."""

import numpy as np
from world_b.values import Floats


def even_s(count: int, step_s: float) -> Floats:
    """Give `count` times from 0 on, (count,) s."""
    times_s: Floats = np.multiply(np.arange(count, dtype=np.float64), step_s)
    return times_s
