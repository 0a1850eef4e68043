"""A simulated world of pin-on-ring rigs, written without sight of any other."""

from world_l.world import generate, simulate

__all__ = ["generate", "simulate"]
