"""The same recordings under worse conditions: more noise, a channel less, rows lost.

Reads a recording, gives another one with the same truth.
"""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import FRICTION_FORCE, MOTOR_CURRENT, RING_SPEED, Floats, Recording

MECHANICAL = (FRICTION_FORCE, MOTOR_CURRENT, RING_SPEED)
ANY = "any"


@dataclass(frozen=True, slots=True)
class Variant:
    """What is made worse.

    Attributes:
        noise: factor on the fast noise of every channel, >= 1.
        without: a channel that is taken away; `any` takes one by the seed, so that a mechanical one is left.
        drop: share of rows that are lost, each by itself.
        all_fitted: whether every rig has all channels, else those its technician has.
    """

    noise: float = 1.0
    without: str = ""
    drop: float = 0.0
    all_fitted: bool = False

    def apply(self, recording: Recording, seed: int) -> Recording | None:
        """Give the worse recording; None where the rig does not have the channel, or nothing would be left."""
        draw = np.random.default_rng((seed, 31))
        if self.without:
            less = _without(recording, self.without, seed)
            if less is None:
                return None
            recording = less
        if self.noise > 1.0:
            noisier = {n: _noisier(v, recording.rig.ranges[n], self.noise, draw) for n, v in recording.channels.items()}
            recording = replace(recording, channels=noisier)
        if self.drop > 0.0:
            keep = draw.random(len(recording.time_s)) >= self.drop
            channels = {name: values[keep] for name, values in recording.channels.items()}
            recording = replace(recording, time_s=recording.time_s[keep], channels=channels)
        return recording


AS_IS = Variant()
"""Nothing is made worse."""


def _without(recording: Recording, name: str, seed: int) -> Recording | None:
    if name == ANY:
        fits = [n for n in recording.channels if any(other in MECHANICAL for other in recording.channels if other != n)]
        if not fits:
            return None
        name = fits[seed % len(fits)]
    left = {other: values for other, values in recording.channels.items() if other != name}
    if name not in recording.channels or not left:
        return None
    rig, truth = recording.rig, recording.truth
    fewer = replace(
        rig,
        ranges={other: span for other, span in rig.ranges.items() if other != name},
        limits={other: limit for other, limit in rig.limits.items() if other != name},
    )
    seen = tuple(other for other in truth.seen_by if other != name)
    return replace(recording, channels=left, rig=fewer, truth=replace(truth, seen_by=seen))


def _noisier(values: Floats, span: tuple[float, float], factor: float, draw: np.random.Generator) -> Floats:
    """Give a channel with its fast noise, as its first differences show it, so many times as large.

    Where a converter's steps hide the noise, nothing is added; values at a rail stay there.
    """
    steps = np.diff(values)
    steps = steps[np.isfinite(steps)]
    if not len(steps):
        return values
    sigma = 1.4826 * float(np.median(np.abs(steps - np.median(steps)))) / np.sqrt(2.0)
    inside = (values > span[0]) & (values < span[1])
    return np.where(inside, values + draw.standard_normal(len(values)) * sigma * np.sqrt(factor * factor - 1.0), values)
