"""A third simulated world of pin-on-ring rigs, written blind: see README.md. Nobody tunes on it."""

from .world import Behind, generate, simulate

__all__ = ["Behind", "generate", "simulate"]
