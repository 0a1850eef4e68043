"""A simulated world of tipping points: pin-on-ring rigs whose contact is a random dynamical system.  See README.md."""

from world_b.values import ChannelSet, Inside, Klass, Recording

from world_o.report import record


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:  # fmt: skip
    """Give a recording and the noise-free world behind it.

    Args:
        seed: with the class it settles everything but the rate; >= 0.
        klass: what is to happen.
        rate_hz: rows a second, 10 to 1000.
        channel_set: channels of the rig; None draws one on which the class can be seen.
    Raises:
        ValueError: rate outside the range above, or a seed below 0.
    """
    return record(seed, klass, rate_hz, channel_set)


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording; arguments as of `simulate`."""
    return record(seed, klass, rate_hz, channel_set)[0]


__all__ = ["generate", "simulate"]
