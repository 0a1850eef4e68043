"""The store's tests share the made-up rig box of the crash bench."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2] / "rig"))
