"""Backoff: how long to wait before the next try; longer each time, with a cap, never at the same beat as others.

Reads nothing. Full jitter over the upper half: a hundred rigs that lost one server do not come back together.
"""

import random


class Backoff:
    """Pauses of one destination.

    Args:
        first_s, longest_s: first pause and cap, s.
        noise: draws the jitter; seeded in tests.
    """

    def __init__(self, first_s: float, longest_s: float, noise: random.Random | None = None) -> None:
        self._first_s, self._longest_s = first_s, longest_s
        self._noise = noise or random.Random()
        self.tries = 0

    def next_s(self, at_least_s: float = 0.0) -> float:
        """Give the next pause, s: between half of and the whole of first_s * 2 ** tries, capped.

        Args:
            at_least_s: what the other side asked for, s; more than the cap is not granted.
        """
        full_s = min(self._longest_s, self._first_s * 2.0 ** min(self.tries, 32))
        self.tries += 1
        drawn_s = full_s * (0.5 + 0.5 * self._noise.random())
        return max(drawn_s, min(at_least_s, self._longest_s))

    def worked(self) -> None:
        """Begin anew with the first pause."""
        self.tries = 0
