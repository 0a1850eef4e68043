"""The service's tests share the disks of the crash bench."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2] / "rig"))
