"""A simulated world of pin-on-ring rigs: film by lambda, wear, three lumps of heat, four drives. See README.md."""

from world_k.world import generate, simulate

__all__ = ["generate", "simulate"]
