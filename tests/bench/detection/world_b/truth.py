"""What happened, read from the noise-free world and not from intentions.

Reads a story and the true course, gives the truth, or nothing where the event did not come about.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .damage import stamped_s
from .draws import lag
from .events import Story
from .sensors import Course
from .values import (
    BATH_TEMPERATURE,
    NAN,
    PIN_TEMPERATURE,
    TRIP_WORTHY,
    Floats,
    Klass,
    Nuisance,
    Precursor,
    RigFacts,
    Truth,
)

SEVERE_RATIO = 3.0
SEVERE_MEAN_S = 0.05
STALLED_SHARE = 0.02
FORECAST_S = 180.0

_TIMES = (
    "earliest_legitimate_trip_s",
    "onset_s",
    "severe_s",
    "stall_s",
    "jam_s",
    "overheat_s",
    "supply_lost_s",
    "fault_s",
)


@dataclass(frozen=True, slots=True)
class TrueTimes:
    """A truth on the clock without breaks."""

    truth: Truth

    def stamped(self, story: Story, nuisances: list[Nuisance]) -> Truth:
        """Give the truth on the clock of the stamps, with the nuisances."""
        times: dict[str, Any] = {name: stamped_s(story, getattr(self.truth, name)) for name in _TIMES}
        moved = tuple(replace(n, t_s=stamped_s(story, n.t_s)) for n in nuisances)
        return replace(self.truth, **times, nuisances=moved)


def read_truth(
    story: Story, course: Course, facts: RigFacts, channels: dict[str, Floats], rate_hz: float
) -> TrueTimes | None:
    """Give what happened, or None where a seizure or a jam did not stall or nothing overheated.

    Args:
        story: what was meant.
        course: what came of it, (n,) each.
        facts: for the technician's limits.
        channels: as read, to tell which of them show the event.
        rate_hz: rows a second.
    Returns:
        Times on the clock without breaks.
    """
    onset_s = story.scuff.onset_s if story.scuff is not None else NAN
    jam_s = story.jam.t_s if story.jam is not None else NAN
    stall_s = _stall_s(story, course)
    overheat_s = _overheat_s(story, course, facts)
    if story.klass in (Klass.SEIZURE, Klass.JAM) and not np.isfinite(stall_s):
        return None
    if story.klass is Klass.OVERHEAT and not np.isfinite(overheat_s):
        return None
    warned = story.precursor is not Precursor.NONE
    earliest = {
        Klass.JAM: jam_s,
        Klass.SUPPLY_LOST: story.supply_lost_s,
        Klass.OVERHEAT: max(story.overheat.t_s, overheat_s - FORECAST_S) if story.overheat is not None else NAN,
    }.get(story.klass, story.precursor_s if warned else onset_s)
    plan, hot = story.fault, [name for name in facts.limits if name.endswith("_degc")]
    begin_s = float(np.nanmin([onset_s, jam_s])) if story.scuff is not None or story.jam is not None else NAN
    return TrueTimes(
        Truth(
            trip_worthy=story.klass in TRIP_WORTHY,
            earliest_legitimate_trip_s=earliest,
            onset_s=onset_s,
            severe_s=_severe_s(story, course, rate_hz),
            stall_s=stall_s,
            jam_s=jam_s,
            overheat_s=overheat_s,
            supply_lost_s=story.supply_lost_s,
            fault_s=plan.t_s if plan is not None else NAN,
            fault=plan.fault if plan is not None else None,
            fault_channel=plan.channel if plan is not None else "",
            precursor=story.precursor,
            seen_by=tuple(hot) if story.overheat is not None else _seen_by(course.t_s, channels, begin_s),
        )
    )


def level_before_n(story: Story, course: Course) -> float:
    """Give the mean friction force before the onset, N: up to 3 s of it, since the last move of the load and 1 s more.

    Where a precursor runs over that span, the median stands for the mean.
    """
    if story.scuff is None:
        return NAN
    from_s = max(story.scuff.onset_s - 3.0, min(story.script.last_load_s + 1.0, story.scuff.onset_s - 0.5))
    first, last = np.searchsorted(course.t_s, (from_s, story.scuff.onset_s))
    return float(np.median(course.turning.friction_n[first : max(last, first + 1)]))


def _severe_s(story: Story, course: Course, rate_hz: float) -> float:
    if story.scuff is None:
        return NAN
    first = int(np.searchsorted(course.t_s, story.scuff.onset_s))
    smooth_n = lag(course.turning.friction_n[first:], SEVERE_MEAN_S, rate_hz)
    over = smooth_n >= SEVERE_RATIO * level_before_n(story, course)
    return float(course.t_s[first + int(np.argmax(over))]) if over.any() else NAN


def _stall_s(story: Story, course: Course) -> float:
    begin_s = story.scuff.onset_s if story.scuff is not None else story.jam.t_s if story.jam is not None else NAN
    if not np.isfinite(begin_s):
        return NAN
    first = int(np.searchsorted(course.t_s, begin_s))
    off_s = min([t for t, on in story.script.switches if not on and t > begin_s], default=float("inf"))
    slow = course.turning.ring_rad_s[first:] < STALLED_SHARE * story.rig.drive.set_rad_s
    slow &= course.t_s[first:] < off_s
    slow &= course.turning.torque_nm[first:] > 0.3 * story.rig.drive.full_torque_nm
    return float(course.t_s[first + int(np.argmax(slow))]) if slow.any() else NAN


def _overheat_s(story: Story, course: Course, facts: RigFacts) -> float:
    if story.overheat is None:
        return NAN
    over = np.zeros(len(course.t_s), dtype=np.bool_)
    for name, true in ((PIN_TEMPERATURE, course.pin_degc), (BATH_TEMPERATURE, course.bath_degc)):
        if name in facts.limits:
            over |= true > facts.limits[name]
    first = int(np.argmax(over))
    return float(course.t_s[first]) if over.any() and course.t_s[first] > story.overheat.t_s else NAN


def _seen_by(t_s: Floats, channels: dict[str, Floats], begin_s: float) -> tuple[str, ...]:
    if not np.isfinite(begin_s):
        return ()
    first, last, end = np.searchsorted(t_s, (begin_s - 4.0, begin_s, begin_s + 10.0))
    return tuple(name for name, read in channels.items() if _moves(read[first:last], read[last:end], t_s[1] - t_s[0]))


def _moves(before: Floats, later: Floats, dt_s: float) -> bool:
    before, later = before[np.isfinite(before)], later[np.isfinite(later)]
    if len(before) < 20 or len(later) < 20:
        return False
    steps = np.diff(np.unique(np.concatenate((before, later))))
    coarse = 0.5 * float(steps.min()) if len(steps) else 0.0
    half = len(before) // 2
    trend = abs(float(np.mean(before[half:]) - np.mean(before[:half]))) * len(later) / half
    unrest = max(float(np.std(before)), coarse, 1e-9)
    over = max(1, round(0.1 / dt_s))
    means = np.convolve(later, np.ones(over) / over, mode="valid")
    return float(np.abs(means - np.mean(before[half:])).max()) > 5.0 * unrest + trend
