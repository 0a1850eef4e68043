"""The sixth simulated world of pin-on-ring rigs; see README.md beside this file."""

from .simulate import generate, simulate

__all__ = ["generate", "simulate"]
