"""Writes config/rig.toml: the demonstration's values in the annotated form, port and identity as on a real bench.

Run as `python -m scuffwatch.cli.write_config FILE`; a test compares the result with what is in config/.
"""

import sys
from pathlib import Path

from scuffwatch.cli.demo_rig import HEADING, rig_values
from scuffwatch.service.settings_doc import annotated_toml

PORT = "/dev/serial/by-id/usb-rig_box_rig2-if00"


def text() -> str:
    """Give the annotated example."""
    values = rig_values(PORT, "rig2")
    values["rig"]["simulated"] = False
    return annotated_toml(values, HEADING)


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(text(), encoding="utf-8")
