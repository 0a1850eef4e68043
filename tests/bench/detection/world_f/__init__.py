"""The sixth simulated world of pin-on-ring rigs, sealed: whoever changes a detector does not read it."""

from .simulate import generate, simulate

__all__ = ["generate", "simulate"]
