"""Writes what is made from tables: the files of config/ and the marked parts of README.md and DEVELOPERS.md.

Run as `python -m scuffwatch.cli.write_docs` in the project's root; a test compares every part with what is there.
"""

import re
from pathlib import Path
from typing import Any

from scuffwatch.cli.demo_rig import HEADING, rig_values
from scuffwatch.guard.alarm_table import ALARMS
from scuffwatch.guard.diagram import diagram
from scuffwatch.service.settings_doc import annotated_toml, reference_table
from scuffwatch.uplink.settings import UplinkSettings

PORT = "/dev/serial/by-id/usb-rig_box_rig2-if00"


def rig_toml() -> str:
    """Give the annotated example of a rig file."""
    values = rig_values(PORT, "rig2")
    values["rig"]["simulated"] = False
    return annotated_toml(values, HEADING)


def alarm_table() -> str:
    """Give the table of alarms as the README carries it."""
    rows = ["| alarm | | means | do |", "|---|---|---|---|"]
    rows += [f"| {a.short_name} | {a.priority.value} | {a.cause} | {a.action} |" for a in ALARMS]
    return "\n".join(rows)


UPLINK_HEADING = """Settings of the uplink of one rig: `scuffwatch uplink --settings uplink.toml --data DIR`.
A section that is left out is off. Secrets are in files of their own, mode 0600. Prove it: `scuffwatch alert --test`."""
UPLINK_EXAMPLE: dict[str, Any] = {
    "uplink": {"rig": "rig 2"},
    "timeseries": {"url": "http://127.0.0.1:8428"},
    "mqtt": {"host": "broker.workshop.example", "credentials_file": "/etc/scuffwatch/broker.secret"},
    "alerts": {},
    "channels": {
        "mail": {"url_file": "/etc/scuffwatch/mail.secret"},
        "phone": {"url_file": "/etc/scuffwatch/phone.secret", "priorities": "T", "after_s": 120.0},
    },
}


def uplink_toml() -> str:
    """Give the annotated example of an uplink file."""
    return annotated_toml(UPLINK_EXAMPLE, UPLINK_HEADING, UplinkSettings)


def uplink_table() -> str:
    """Give the table of the uplink's settings."""
    return reference_table(UplinkSettings)


PARTS = {
    ("README.md", "alarm-table"): alarm_table,
    ("DEVELOPERS.md", "guard-diagram"): diagram,
    ("DEVELOPERS.md", "settings-table"): reference_table,
    ("DEVELOPERS.md", "uplink-table"): uplink_table,
}


def with_part(text: str, marker: str, part: str) -> str:
    """Give a text with what stands between two markers replaced.

    Raises:
        ValueError: the markers are not there.
    """
    begin, end = f"<!-- {marker} -->", f"<!-- /{marker} -->"
    if begin not in text or end not in text:
        raise ValueError(f"the markers {begin} and {end} are not there")
    pattern = re.compile(re.escape(begin) + ".*?" + re.escape(end), re.DOTALL)
    return pattern.sub(lambda _: f"{begin}\n{part.strip()}\n{end}", text)


def main() -> None:
    """Write everything anew."""
    Path("config/rig.toml").write_text(rig_toml(), encoding="utf-8")
    Path("config/uplink.toml").write_text(uplink_toml(), encoding="utf-8")
    for (name, marker), make in PARTS.items():
        path = Path(name)
        path.write_text(with_part(path.read_text(encoding="utf-8"), marker, make()), encoding="utf-8")


if __name__ == "__main__":
    main()
