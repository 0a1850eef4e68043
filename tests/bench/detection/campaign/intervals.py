"""Exact intervals for shares and for rates of rare events.

Reads counts, gives bounds at 95 %.
"""

from collections.abc import Callable

import numpy as np

ALPHA = 0.05
_HALVINGS = 80


def clopper_pearson(hits: int, trials: int, alpha: float = ALPHA) -> tuple[float, float]:
    """Give the two-sided interval of a share; (0, 1) without trials.

    Args:
        hits, trials: 0 <= hits <= trials.
        alpha: what the interval misses, both sides together.
    Source:
        Clopper, Pearson, Biometrika 26 (1934) 404.
    """
    if trials == 0:
        return 0.0, 1.0
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, trials + 1)))])
    k = np.arange(trials + 1)
    ways = logs[-1] - logs - logs[::-1]

    def at_least(share: float) -> float:
        return float(np.exp(ways[hits:] + k[hits:] * np.log(share) + (trials - k[hits:]) * np.log1p(-share)).sum())

    def at_most(share: float) -> float:
        part = slice(0, hits + 1)
        return float(np.exp(ways[part] + k[part] * np.log(share) + (trials - k[part]) * np.log1p(-share)).sum())

    low = 0.0 if hits == 0 else _crossing(lambda share: at_least(share) > alpha / 2, 0.0, 1.0)
    high = 1.0 if hits == trials else _crossing(lambda share: at_most(share) < alpha / 2, 0.0, 1.0)
    return low, high


def poisson(count: int, alpha: float = ALPHA) -> tuple[float, float]:
    """Give the two-sided interval of the mean of a Poisson count.

    Source:
        Garwood, Biometrika 28 (1936) 437.
    """
    top = 2.0 * count + 20.0
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, count + 1)))])
    k = np.arange(count + 1)

    def at_most(mean: float, most: int) -> float:
        return float(np.exp(k[: most + 1] * np.log(mean) - mean - logs[: most + 1]).sum())

    low = 0.0 if count == 0 else _crossing(lambda mean: 1.0 - at_most(mean, count - 1) > alpha / 2, 0.0, top)
    return low, _crossing(lambda mean: at_most(mean, count) < alpha / 2, 0.0, top)


def _crossing(beyond: Callable[[float], bool], low: float, high: float) -> float:
    """Give where `beyond` turns true between `low` and `high`."""
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if beyond(middle):
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)
