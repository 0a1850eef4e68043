"""The first simulated world of rigs: recordings made from the project's own simulated physics; see README.md."""

from .simulate import generate

__all__ = ["generate"]
