"""A simulated world of pin-on-ring rigs, written blind of any other and of any detector; see README.md."""

from world_m.world import generate, simulate

__all__ = ["generate", "simulate"]
