"""The painted world: every channel of a pin-on-ring rig is a plain formula of time. See README.md."""

from world_n.world import generate, simulate

__all__ = ["generate", "simulate"]
