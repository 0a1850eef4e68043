"""A fourth simulated world of pin-on-ring rigs; see README.md beside this file."""

from .making import generate, simulate

__all__ = ["generate", "simulate"]
