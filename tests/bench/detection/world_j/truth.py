"""Reads what happened off the course, and whether it keeps the promise of its class."""

import numpy as np
from world_b import values as v
from world_b.values import NAN, SCUFFINGS, TRIP_WORTHY, Flags, Floats, Klass, Nuisance, Truth

from .filters import lag
from .instruments import Panel
from .physics import STEP_S, Course
from .rigs import Rig
from .rows import SensorFault
from .scripts import Event, Script

Numbers = dict[str, float]
MOMENTS = ("earliest_s", "onset_s", "severe_s", "stall_s", "jam_s", "overheat_s", "supply_s")


def first_s(t_s: Floats, flags: Flags, after_s: float) -> float:
    """Give when flags are first set at or after after_s, s; NaN where never."""
    hits = flags & (t_s >= after_s)
    return float(t_s[int(np.argmax(hits))]) if hits.any() else NAN


def read_times(rig: Rig, event: Event, course: Course, limits: Numbers, channels: tuple[str, ...]) -> dict[str, float]:
    """Give the moments of a `Truth` on the clock without breaks, s; without thermocouples the pin's is taken."""
    severe_s = stall_s = NAN
    if np.isfinite(event.onset_s):
        severe_s = first_s(course.t_s, course.friction_n >= 3.0 * before_n(event, course), event.onset_s)
    if np.isfinite(event.trouble_s):
        still = course.on & (course.ring_rad_s < 0.02 * rig.drive.free_speed_rad_s)
        stall_s = first_s(course.t_s, still, event.trouble_s)
    true = {v.PIN_TEMPERATURE: course.pin_degc, v.BATH_TEMPERATURE: course.bath_degc}
    fitted = [name for name in true if name in channels] or [v.PIN_TEMPERATURE]
    passed = [first_s(course.t_s, true[name] > limits[name], 0.0) for name in fitted]
    overheat_s = min((p for p in passed if np.isfinite(p)), default=NAN)
    earliest_s = max(event.heat_s, overheat_s - 180.0) if np.isfinite(event.heat_s) else event.sign_s
    moments = (earliest_s, event.onset_s, severe_s, stall_s, event.jam_s, overheat_s, event.supply_s)
    return dict(zip(MOMENTS, moments, strict=True))


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


def keeps_promise(rig: Rig, klass: Klass, event: Event, course: Course, limits: Numbers) -> bool:
    """Check that the class's event happened, on a ring that turned under load, as its name says."""
    t_s = course.t_s
    at = (t_s >= event.sign_s - 6.0) & (t_s < event.sign_s)
    turning = course.on[at] & (course.ring_rad_s[at] > 0.5 * rig.drive.free_speed_rad_s)
    if not (turning.all() and np.all(course.load_n[at] > 0.05 * rig.top_load_n)):
        return False
    times = read_times(rig, event, course, limits, (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE))
    if klass in SCUFFINGS:
        soon = (t_s >= event.onset_s) & (t_s < event.onset_s + 10.0)
        return float(np.max(lag(course.friction_n, STEP_S, 0.1)[soon])) > 2.0 * before_n(event, course)
    if klass in (Klass.SEIZURE, Klass.JAM):
        return times["stall_s"] - event.trouble_s < (30.0 if klass is Klass.SEIZURE else 8.0)
    if klass is Klass.OVERHEAT:
        pin_s = first_s(t_s, course.pin_degc > limits[v.PIN_TEMPERATURE], 0.0)
        return event.heat_s + 5.0 < times["overheat_s"] and pin_s < t_s[-1] - 5.0
    return True


def seen_by(event: Event, script: Script, row_s: Floats, readings: dict[str, Floats], panel: Panel) -> tuple[str, ...]:
    """Give the channels that move by more than five times their own unrest within ten seconds, by means of 0.1 s."""
    if np.isfinite(event.heat_s):
        return tuple(name for name in (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE) if name in readings)
    if not np.isfinite(event.trouble_s):
        return ()
    begin_s = max(script.quiet_s + 2.0, event.sign_s - 30.0)
    tenths = np.floor(row_s / 0.1 + 1e-6).astype(np.int64)
    at_s = np.arange(tenths[-1] + 1) * 0.1
    seen = []
    for name, reading in readings.items():
        good = np.isfinite(reading)
        counts = np.bincount(tenths[good], minlength=at_s.size)
        means = np.bincount(tenths[good], weights=reading[good], minlength=at_s.size) / np.maximum(counts, 1)
        before = means[(at_s >= begin_s) & (at_s < event.sign_s - 0.1) & (counts > 0)]
        after = means[(at_s >= event.trouble_s) & (at_s < event.trouble_s + 10.0) & (counts > 0)]
        if before.size > 10 and after.size > 5:
            unrest = max(float(np.std(before)), 0.5 * panel.by_channel[name].step)
            if np.max(np.abs(after - np.median(before))) > 5.0 * unrest:
                seen.append(name)
    return tuple(seen)


def write_truth(
    klass: Klass, event: Event, script: Script, times: Numbers, fault: SensorFault | None, seen: tuple[str, ...]
) -> Truth:
    """Give the truth on the clock of the stamps."""

    def stamped(t_s: float) -> float:
        return t_s + script.day_gap_s if t_s >= script.day_s else t_s

    told = [Nuisance(n.kind, stamped(n.t_s), n.duration_s) for n in script.nuisances if n.t_s < script.duration_s]
    told.sort(key=lambda nuisance: nuisance.t_s)
    moments = [stamped(t_s) for t_s in times.values()]
    wrong = (stamped(fault.t_s), fault.fault, fault.channel) if fault else (NAN, None, "")
    return Truth(klass in TRIP_WORTHY, *moments, *wrong, event.precursor, seen, tuple(told))
