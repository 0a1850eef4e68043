"""A fifth simulated world of pin-on-ring rigs; see README.md beside this file.

Its values are those of `world_b.values`, its files those of `world_b.files`, so that a campaign reads all worlds alike.
"""

from .simulate import generate, simulate

__all__ = ["generate", "simulate"]
