"""How a scuff grows: multiples of the usual friction by the time since its onset.

Reads a generator, gives a `Growth`, and its values on any times. Laws of this world's own choosing.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.random import Generator
from world_b.values import Floats

from .chance import chance, log_between, one_of


class Law(Enum):
    """Closed set of ways to grow."""

    SETTLING = "fast at first, then settling"
    SIGMOID = "slow, fast, settling"
    RUNAWAY = "heat feeds it until the whole contact has gone"
    STEPS = "one weld after another"
    SEIZING = "doubling until something gives"


@dataclass(frozen=True, slots=True)
class Growth:
    """One scuff.

    Attributes:
        law: see `Law`.
        final: multiple of the usual friction it grows to.
        scale_s: how fast.
        creep_per_s: relative rise afterwards, up to a quarter more.
        steps: (time since the onset in s, share of the rise), for `Law.STEPS`.
    """

    law: Law
    final: float
    scale_s: float
    creep_per_s: float
    steps: tuple[tuple[float, float], ...] = ()

    def multiple(self, after_s: Floats) -> Floats:
        """Give the multiple of the usual friction, (n,) float64, 1 before the onset."""
        t_s = np.clip(after_s, 0.0, None)
        if self.law is Law.SEIZING:
            return np.exp(np.minimum(t_s / self.scale_s, np.log(self.final)))
        grown = self._share(t_s)
        crept = np.minimum(1.25, 1.0 + self.creep_per_s * t_s) if self.creep_per_s > 0.0 else 1.0
        return (1.0 + (self.final - 1.0) * grown) * np.where(grown > 0.0, crept, 1.0)

    def _share(self, t_s: Floats) -> Floats:
        if self.law is Law.SETTLING:
            return 1.0 - np.exp(-t_s / self.scale_s)
        if self.law is Law.SIGMOID:
            return (t_s / self.scale_s) ** 3 / (1.0 + (t_s / self.scale_s) ** 3)
        if self.law is Law.RUNAWAY:
            end_s = 2.5 * self.scale_s
            early = 0.08 * (1.0 / np.maximum(1.0 - t_s / end_s, 0.074) - 1.0)
            return np.where(t_s < end_s, np.minimum(early, 1.0), 1.0)
        found = np.zeros_like(t_s)
        for at_s, share in self.steps:
            found += share * np.clip((t_s - at_s) / 0.08, 0.0, 1.0) * (t_s > 0.0)
        return found


def draw_growth(rng: Generator, seizing: bool) -> Growth:
    """Draw a scuff; one that is seizing doubles until the motor stands."""
    if seizing:
        return Growth(Law.SEIZING, 60.0, log_between(rng, 0.25, 6.0), 0.0)
    law = one_of(rng, ((Law.SETTLING, 0.35), (Law.SIGMOID, 0.2), (Law.RUNAWAY, 0.25), (Law.STEPS, 0.2)))
    final = rng.uniform(1.68, 2.0) if chance(rng, 0.1) else log_between(rng, 2.15, 8.0)
    steps: list[tuple[float, float]] = []
    scale_s = log_between(rng, 0.08, 5.0)
    if law is Law.STEPS:
        count = int(rng.integers(2, 7))
        times_s = np.concatenate([[0.0], np.sort(rng.uniform(0.1, 2.4 * scale_s, count - 1))])
        parts = rng.dirichlet(np.full(count, 2.0))
        steps = [(float(at), float(part)) for at, part in zip(times_s, parts, strict=True)]
    return Growth(law, final, scale_s, rng.uniform(0.0, 0.02) * chance(rng, 0.6), tuple(steps))
