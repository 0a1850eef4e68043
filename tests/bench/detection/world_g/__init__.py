"""A seventh simulated world of pin-on-ring rigs, sealed; see README.md beside this file.

Its values are those of `world_b.values`, so that a campaign reads all worlds alike.
"""

from .simulate import generate, simulate

__all__ = ["generate", "simulate"]
