"""What goes wrong between sensor and file: sensor faults, spikes, dropouts, lost rows, broken stamps.

Reads channels, changes them in place or gives the rows that remain.
"""

import numpy as np

from .draws import Draw
from .events import FaultPlan, Story
from .rigs import Rig
from .sensors import ranges_of
from .values import NAN, Fault, Flags, Floats, Kind, Nuisance


def apply_fault(draw: Draw, plan: FaultPlan, rig: Rig, t_s: Floats, channels: dict[str, Floats]) -> None:
    """Spoil one channel from the fault's time to the end, in place."""
    read, (low, high) = channels[plan.channel], ranges_of(rig)[plan.channel]
    first = int(np.searchsorted(t_s, plan.t_s))
    rest, since_s = read[first:], t_s[first:] - plan.t_s
    if plan.fault is Fault.STUCK:
        rest[:] = read[max(first - 1, 0)] if np.isfinite(read[max(first - 1, 0)]) else 0.0
    elif plan.fault is Fault.SATURATED:
        beyond = 0.02 * (high - low)
        rest[:] = high + beyond if draw.chance(0.75) else low - beyond
    elif plan.fault is Fault.OPEN_THERMOCOUPLE:
        rest[:] = draw.pick([high + 0.02 * (high - low), 1372.0, NAN])
    elif plan.fault is Fault.DROPOUT:
        _drop_out(draw, rest, since_s)
    elif plan.fault is Fault.DRIFT:
        rest += plan.size * (high - max(low, 0.0)) * since_s * (1.0 if since_s.size else 0.0)
    elif plan.fault is Fault.SIGN_FLIP:
        rest *= -1.0
    else:
        rest[:] = 0.0


def _drop_out(draw: Draw, rest: Floats, since_s: Floats) -> None:
    value = draw.pick([NAN, NAN, 0.0])
    if draw.chance(0.5):
        rest[:] = value
        return
    at_s, end_s = 0.0, float(since_s[-1]) if len(since_s) else 0.0
    while at_s <= end_s:
        gone_s = draw.log_within(0.3, 15.0)
        first, last = np.searchsorted(since_s, (at_s, at_s + gone_s))
        rest[first:last] = value
        at_s += gone_s + draw.log_within(0.2, 8.0)


def add_spikes(draw: Draw, rig: Rig, t_s: Floats, channels: dict[str, Floats]) -> list[Nuisance]:
    """Add electrical spikes of one to three samples in place, in half of all recordings; give them as nuisances."""
    if not draw.chance(0.5):
        return []
    per_hour, shared, found = draw.log_within(1.0, 40.0), draw.chance(0.3), []
    for at_s in draw.times(per_hour, 0.0, float(t_s[-1])):
        first = int(np.searchsorted(t_s, at_s))
        names = list(channels) if shared else [draw.pick(list(channels))]
        for name in names:
            low, high = ranges_of(rig)[name]
            size = draw.log_within(0.02, 0.8) * (high - max(low, 0.0)) * draw.pick([-1.0, 1.0])
            channels[name][first : first + draw.whole(1, 3)] += size
        found.append(Nuisance(Kind.SPIKES, at_s))
    return found


def drop_samples(draw: Draw, t_s: Floats, channels: dict[str, Floats]) -> list[Nuisance]:
    """Blank a few samples of single channels in place, in a quarter of all recordings; give them as nuisances."""
    if not draw.chance(0.25):
        return []
    found = []
    for at_s in draw.times(draw.log_within(1.0, 60.0), 0.0, float(t_s[-1])):
        length_s = draw.log_within(0.01, 0.3)
        first, last = np.searchsorted(t_s, (at_s, at_s + length_s))
        channels[draw.pick(list(channels))][first : last + 1] = np.nan
        found.append(Nuisance(Kind.SHORT_DROPOUTS, at_s, length_s))
    return found


def stamp(draw: Draw, story: Story, t_s: Floats) -> tuple[Floats, Flags, list[Nuisance]]:
    """Give the stamps of the rows, which rows are left, and what was done to them.

    Args:
        draw: a stream of its own.
        story: days between and the end of the quiet; no hole comes near an event.
        t_s: (n,) true time.
    Returns:
        (n,) stamps, (n,) bool of rows that are left, nuisances at true times.
    """
    stamps, found = t_s.copy(), []
    left: Flags = np.ones(len(t_s), dtype=np.bool_)
    dt_s = float(t_s[1] - t_s[0])
    if draw.chance(0.3):
        stamps += dt_s * 0.3 * np.clip(draw.rng.standard_normal(len(t_s)), -1.5, 1.5)
    for break_s, length_s in story.script.breaks:
        stamps[np.searchsorted(t_s, break_s) :] += length_s
    quiet_s = min(story.quiet_s, float(t_s[-1])) - 12.0
    broken = draw.pick([(), (Kind.HOLES,), (Kind.DUPLICATE_STAMPS,), (Kind.BACKWARD_STAMPS,), _ALL], _BROKEN_SHARES)
    for kind in broken:
        for at_s in sorted(draw.within(5.0, max(quiet_s, 6.0)) for _ in range(draw.whole(1, 4))):
            first, spoiled = int(np.searchsorted(t_s, at_s)), draw.whole(1, 20)
            length_s = draw.log_within(0.03, 6.0)
            if first + spoiled >= len(t_s) or at_s + length_s > max(quiet_s, 6.0):
                continue
            if kind is Kind.HOLES:
                left[first : np.searchsorted(t_s, at_s + length_s)] = False
            elif kind is Kind.DUPLICATE_STAMPS:
                stamps[first : first + spoiled] = stamps[first]
            else:
                stamps[first : first + spoiled] -= draw.log_within(0.05, 3.0)
            found.append(Nuisance(kind, at_s, length_s if kind is Kind.HOLES else spoiled * dt_s))
    return stamps, left, found


_ALL = (Kind.HOLES, Kind.DUPLICATE_STAMPS, Kind.BACKWARD_STAMPS)
_BROKEN_SHARES = (0.7, 0.12, 0.06, 0.06, 0.06)


def stamped_s(story: Story, t_s: float) -> float:
    """Give the stamp a true time bears: later by every day left out before it."""
    return t_s + sum(length_s for break_s, length_s in story.script.breaks if break_s <= t_s)
