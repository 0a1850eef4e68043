"""Reads what happened off the course, and whether it keeps the promise of its class."""

from dataclasses import dataclass

import numpy as np
from world_b import values as v
from world_b.values import CHANNELS_OF, NAN, SCUFFINGS, TRIP_WORTHY, ChannelSet, Flags, Floats, Klass, Nuisance, Truth

from .filters import lag
from .heat import STEP_S
from .instruments import Panel
from .physics import Course
from .rigs import Rig
from .rows import SensorFault
from .scripts import Event, Script


@dataclass(frozen=True, slots=True)
class Times:
    """Moments on the clock without breaks, s; NaN where there is none."""

    earliest_s: float
    severe_s: float
    stall_s: float
    overheat_s: float


def first_s(t_s: Floats, flags: Flags, after_s: float) -> float:
    """Give when flags are first set at or after after_s, s; NaN where never."""
    hits = flags & (t_s >= after_s)
    return float(t_s[int(np.argmax(hits))]) if hits.any() else NAN


def read_times(rig: Rig, event: Event, course: Course, limits: dict[str, float], channels: tuple[str, ...]) -> Times:
    """Give the moments of a recording."""
    t_s = course.t_s
    trouble_s = event.onset_s if np.isfinite(event.onset_s) else event.jam_s
    severe_s = stall_s = NAN
    if np.isfinite(event.onset_s):
        severe_s = first_s(t_s, course.friction_n >= 3.0 * before_n(event, course), event.onset_s)
    if np.isfinite(trouble_s):
        still = course.on & (course.ring_rad_s < 0.02 * rig.drive.free_speed_rad_s)
        stall_s = first_s(t_s, still, trouble_s)
    true = {v.PIN_TEMPERATURE: course.pin_degc, v.BATH_TEMPERATURE: course.bath_degc}
    fitted = [name for name in true if name in channels] or [v.PIN_TEMPERATURE]
    passed = [first_s(t_s, true[name] > limits[name], 0.0) for name in fitted]
    overheat_s = min((p for p in passed if np.isfinite(p)), default=NAN)
    earliest_s = next((s for s in (event.first_s, event.jam_s, event.supply_s) if np.isfinite(s)), NAN)
    if np.isfinite(event.heat_s):
        earliest_s = max(event.heat_s, overheat_s - 180.0)
    return Times(earliest_s, severe_s, stall_s, overheat_s)


def before_n(event: Event, course: Course) -> float:
    """Give the friction force before the first sign, N: median of 5 s."""
    before = (course.t_s >= event.first_s - 5.0) & (course.t_s < event.first_s)
    return float(np.median(course.friction_n[before]))


def healthy_enough(rig: Rig, course: Course) -> bool:
    """Check that a course without event starts, keeps turning, and has the friction of a lubricated contact."""
    free = rig.drive.free_speed_rad_s
    since_s = lag(course.on.astype(np.float64), STEP_S, 2.0)
    settled = course.on & (since_s > 0.97)
    if not settled.any() or np.any(course.ring_rad_s[settled] < 0.5 * free):
        return False
    loaded = settled & (course.load_n > 0.05 * rig.top_load_n)
    mu = lag(course.friction_n, STEP_S, 0.5)[loaded] / np.maximum(lag(course.load_n, STEP_S, 0.5)[loaded], 1e-6)
    return bool(mu.size > 2000 and 0.04 < np.median(mu) < 0.14 and np.quantile(mu, 0.995) < 0.15)


def keeps_promise(rig: Rig, klass: Klass, event: Event, course: Course, times: Times, limits: dict[str, float]) -> bool:
    """Check that the class's event happened, as its name says."""
    t_s = course.t_s
    moment_s = next((s for s in (event.first_s, event.jam_s, event.supply_s, event.heat_s) if np.isfinite(s)), NAN)
    if np.isfinite(moment_s):
        at = (t_s >= moment_s - 6.0) & (t_s < moment_s)
        turning = course.on[at] & (course.ring_rad_s[at] > 0.5 * rig.drive.free_speed_rad_s)
        if not (turning.all() and np.all(course.load_n[at] > 0.05 * rig.top_load_n)):
            return False
    if klass in SCUFFINGS:
        soon = (t_s >= event.onset_s) & (t_s < event.onset_s + 10.0)
        return float(np.max(lag(course.friction_n, STEP_S, 0.1)[soon])) > 2.0 * before_n(event, course)
    if klass is Klass.SEIZURE:
        return times.stall_s - event.onset_s < 30.0
    if klass is Klass.JAM:
        return times.stall_s - event.jam_s < 8.0
    if klass is Klass.OVERHEAT:
        pin_s = first_s(t_s, course.pin_degc > limits[v.PIN_TEMPERATURE], 0.0)
        return event.heat_s + 5.0 < times.overheat_s and pin_s < t_s[-1] - 5.0
    return True


def seen_by(
    klass: Klass,
    event: Event,
    script: Script,
    row_s: Floats,
    readings: dict[str, Floats],
    panel: Panel,
    limited: tuple[str, ...],
) -> tuple[str, ...]:
    """Give the channels that move by more than five times their own unrest within ten seconds."""
    if klass is Klass.OVERHEAT:
        return limited
    trouble_s = event.onset_s if np.isfinite(event.onset_s) else event.jam_s
    if not np.isfinite(trouble_s):
        return ()
    first = event.first_s if np.isfinite(event.first_s) else trouble_s
    begin_s = max(script.quiet_s + 2.0, first - 30.0)
    tenths = np.floor(row_s / 0.1).astype(np.int64)
    seen = []
    for name, reading in readings.items():
        good = np.isfinite(reading)
        counts = np.bincount(tenths[good], minlength=tenths[-1] + 1)
        sums = np.bincount(tenths[good], weights=reading[good], minlength=tenths[-1] + 1)
        means = np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
        at_s = np.arange(means.size) * 0.1
        before = means[(at_s >= begin_s) & (at_s < first - 0.1) & (counts > 0)]
        after = means[(at_s >= trouble_s) & (at_s < trouble_s + 10.0) & (counts > 0)]
        if before.size > 10 and after.size > 5:
            unrest = max(float(np.std(before)), 0.5 * panel.by_channel[name].step)
            if np.max(np.abs(after - np.median(before))) > 5.0 * unrest:
                seen.append(name)
    return tuple(seen)


def write_truth(
    klass: Klass, event: Event, script: Script, times: Times, fault: SensorFault | None, seen: tuple[str, ...]
) -> Truth:
    """Give the truth on the clock of the stamps."""

    def stamped(t_s: float) -> float:
        return t_s + script.day_gap_s if t_s >= script.day_s else t_s

    told = [Nuisance(n.kind, stamped(n.t_s), n.duration_s) for n in script.nuisances if n.t_s < script.duration_s]
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=stamped(times.earliest_s),
        onset_s=stamped(event.onset_s),
        severe_s=stamped(times.severe_s),
        stall_s=stamped(times.stall_s),
        jam_s=stamped(event.jam_s),
        overheat_s=stamped(times.overheat_s),
        supply_lost_s=stamped(event.supply_s),
        fault_s=stamped(fault.t_s) if fault else NAN,
        fault=fault.fault if fault else None,
        fault_channel=fault.channel if fault else "",
        precursor=event.precursor,
        seen_by=seen,
        nuisances=tuple(sorted(told, key=lambda n: n.t_s)),
    )


def fitted_channels(channel_set: ChannelSet) -> tuple[str, ...]:
    """Give the names of the channels of a set."""
    return CHANNELS_OF[channel_set]
