"""Sound level of the simulated rig: exponential weighting of acoustic power, as a sound level meter does it.

Reads power relative to the reference, gives the level in dB.
"""

import math

FAST_S = 0.125
"""Time weighting F of IEC 61672-1."""


def power_of_level(level_db: float) -> float:
    """Give the power, relative to the reference, of a level in dB."""
    return float(10.0 ** (level_db / 10.0))


class SoundMeter:
    """Weights power exponentially in time and gives the level.

    Args:
        period_s: sampling period, > 0.
        power: the steady power it starts from, relative to the reference, > 0.

    What survives a call: the weighted power. Source: IEC 61672-1.
    """

    __slots__ = ("_share", "power")

    def __init__(self, period_s: float, power: float) -> None:
        self._share = -math.expm1(-period_s / FAST_S)
        self.power = power

    def step(self, power: float) -> float:
        """Take the power of one sampling period and give the level at its end, dB."""
        self.power += (power - self.power) * self._share
        return 10.0 * math.log10(self.power)
