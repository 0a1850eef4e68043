"""Recordings as files: a table of values with a header, and the smallest description of a rig.

Reads a recording, writes text.
"""

from math import isnan
from pathlib import Path

import numpy as np

from .values import Recording


def write_csv(recording: Recording, path: Path) -> None:
    """Write `time_s` and every channel, one row a sample, comma and point; a missing value is an empty cell.

    Args:
        recording: to be written.
        path: of the file; what stood there is replaced.
    """
    columns = [recording.time_s.tolist(), *(read.tolist() for read in recording.channels.values())]
    with path.open("w", encoding="ascii", newline="") as file:
        file.write(",".join(["time_s", *recording.channels]) + "\n")
        for time_s, *values in zip(*columns, strict=True):
            cells = ["" if isnan(value) else f"{value:.7g}" for value in values]
            file.write(f"{time_s:.6f}," + ",".join(cells) + "\n")


def rig_toml(recording: Recording) -> str:
    """Give the smallest rig file that states what the technician knows.

    Args:
        recording: any.
    Returns:
        TOML: rig sizes, no-load current, the range of each channel, the limits.
    """
    rig = recording.rig
    lines = ["[rig]", f"ring_diameter_mm = {_number(rig.ring_diameter_mm)}"]
    lines += [f"ring_speed_rpm = {_number(rig.ring_speed_rpm)}", ""]
    lines += ["[motor]", f"no_load_current_a = {_number(rig.no_load_current_a)}", ""]
    for name, (low, high) in rig.ranges.items():
        lines += [f"[channels.{name}]", f"range = [{_number(low)}, {_number(high)}]", ""]
    if rig.limits:
        lines += ["[limits]", *(f"{name} = {_number(value)}" for name, value in rig.limits.items()), ""]
    return "\n".join(lines)


def _number(value: float) -> str:
    return np.format_float_positional(value, trim="0", precision=6, fractional=False, unique=True)
