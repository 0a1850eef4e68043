"""The course of the evidence before a finding, as the core keeps it in the finding's event: lines over node time.

Reads what an event holds, gives plain lists. Records made before the core kept it have none; what is not understood is
left out.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeGuard

Points = list[list[float | None]]
SHOWN_MOST = 4.0
"""A line ends at so many times its limit: beyond that it would press all others flat."""
_VALUES_MOST, _SLACK = 1_000, 1.5


def points_of(course: object) -> dict[str, Points]:
    """Give for each kind of evidence its [node time in s, share of its limit] in order; None where it was not known."""
    if not isinstance(course, Mapping):
        return {}
    every_s, end_s, shares = course.get("every_s"), course.get("t_end_rig_s"), course.get("share_percent")
    if not _is_number(every_s) or not _is_number(end_s) or not isinstance(shares, Mapping):
        return {}
    return {
        str(name): list(_points(values, float(every_s), float(end_s)))
        for name, values in shares.items()
        if isinstance(values, list) and len(values) <= _VALUES_MOST
    }


def _points(values: Sequence[object], every_s: float, end_s: float) -> Iterator[list[float | None]]:
    for back, value in zip(range(len(values) - 1, -1, -1), values, strict=True):
        share = min(SHOWN_MOST, max(0.0, float(value) / 100.0)) if _is_number(value) else None
        yield [round(end_s - back * every_s, 3), share]


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def merged(courses: Iterable[Mapping[str, Points]]) -> dict[str, Points]:
    """Give one line a kind out of the courses of several findings, given in order of time.

    Where two overlap the earlier is kept; where they do not touch a point without value stands between them, so that
    the line breaks there.
    """
    made: dict[str, Points] = {}
    for course in courses:
        for name, points in course.items():
            line = made.setdefault(name, [])
            last_s = line[-1][0] if line else None
            fresh = [point for point in points if last_s is None or (point[0] or 0.0) > last_s]
            if fresh and last_s is not None and (fresh[0][0] or 0.0) - last_s > _SLACK * _step_s(points):
                line.append([last_s, None])
            line += fresh
    return made


def _step_s(points: Points) -> float:
    return (points[1][0] or 0.0) - (points[0][0] or 0.0) if len(points) > 1 else 0.0


def heights(lines: Iterable[Mapping[str, Any]]) -> list[float]:
    """Give the highest share of each line that has one."""
    found = ([share for _, share in line["points"] if share is not None] for line in lines)
    return [max(shares) for shares in found if shares]
