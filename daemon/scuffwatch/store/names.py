"""Names: runs and files are named by the program, never by hand.

Reads a day, a rig and the names that exist, gives the next name. A name is ASCII, so it can be typed, printed on a vial
and used as a file name; `printed` gives the form with dashes for labels and pages.
"""

import re
from collections.abc import Iterable

RUN_SUFFIX = ".sqlite"
JOURNAL = "journal.sqlite"
RUNS_FOLDER = "runs"
MERGE_SUFFIX = ".merge"
_NAME = re.compile(r"(\d{4}-\d{2}-\d{2})-([a-z0-9_]{1,32})-(\d{3,6})")


def rig_slug(rig: str) -> str:
    """Give the rig's name as it stands in a run's name: small ASCII letters, digits and `_`, at most 32."""
    slug = re.sub(r"[^a-z0-9_]", "", rig.lower())[:32]
    return slug or "rig"


def next_name(day: str, rig: str, taken: Iterable[str]) -> str:
    """Give the next run name of a day, for instance `2026-11-25-rig2-003`.

    Args:
        day: local date of the rig, `YYYY-MM-DD`.
        rig: the rig's name as it is configured, for instance `rig 2`.
        taken: names that exist, in any order.
    Returns:
        A name larger than every name of that day and rig; a number is never used twice, not even after a gap.
    """
    slug = rig_slug(rig)
    serials = [found[2] for found in map(parts, taken) if found is not None and found[:2] == (day, slug)]
    return f"{day}-{slug}-{max(serials, default=0) + 1:03d}"


def parts(name: str) -> tuple[str, str, int] | None:
    """Give day, rig and serial number of a run name, or None where it is none."""
    found = _NAME.fullmatch(plain(name))
    return None if found is None else (found[1], found[2], int(found[3]))


def plain(name: str) -> str:
    """Give the typed form of a name that may have been copied from a label."""
    return name.replace("–", "-")


def printed(name: str) -> str:
    """Give the form for labels and pages, for instance `2026-11-25–rig2–003`."""
    found = parts(name)
    return name if found is None else f"{found[0]}–{found[1]}–{name.rsplit('-', 1)[1]}"


def file_name(name: str) -> str:
    """Give the file name of a run.

    Raises:
        ValueError: not a name this program makes; nothing else may reach a path.
    """
    if parts(name) is None:
        raise ValueError(f"not a run name: {name!r}")
    return plain(name) + RUN_SUFFIX
