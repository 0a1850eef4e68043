"""Puts the folder of the worlds on the path, for world n; the worlds are no part of the installed package."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

from world_n import simulate

__all__ = ["simulate"]
