"""A tenth simulated world of pin-on-ring rigs: an average workshop. See README.md."""

from .world import generate, simulate

__all__ = ["generate", "simulate"]
