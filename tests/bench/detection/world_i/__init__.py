"""A simulated world of pin-on-ring rigs: see README.md."""

from .world import generate, simulate

__all__ = ["generate", "simulate"]
