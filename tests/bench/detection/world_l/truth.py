"""Reads the truth off the noise-free traces and the channels as made. Reads `plan`, `faults`."""

import math
from collections.abc import Mapping

import numpy as np
from scipy.ndimage import uniform_filter1d
from world_b.values import (
    BATH_TEMPERATURE,
    NAN,
    PIN_TEMPERATURE,
    TRIP_WORTHY,
    Floats,
    Inside,
    Klass,
    Nuisance,
    Precursor,
    Truth,
)

from world_l.faults import FaultMade
from world_l.plan import Plan

STALLED_RATIO = 0.02
SEVERE_RATIO = 3.0
WITHIN_S = 10.0
UNREST_TIMES = 5.0
HEATING_S = 180.0


def read_truth(
    klass: Klass,
    plan: Plan,
    inside: Inside,
    channels: Mapping[str, Floats],
    limits: Mapping[str, float],
    made: FaultMade | None,
    set_speed_rad_s: float,
    nuisances: tuple[Nuisance, ...],
) -> Truth:
    """Give the truth of a recording, with times as stamped."""
    onset_s = plan.scuff.onset_s if plan.scuff is not None else NAN
    first_s = plan.scuff.precursor_s if plan.scuff is not None else NAN
    jam_s = plan.jam.t_s if plan.jam is not None else NAN
    overheat_s = overheat_time_s(inside, limits)
    earliest_s = next((t for t in (first_s, jam_s, plan.supply_lost_s) if not math.isnan(t)), NAN)
    if plan.overheat is not None:
        earliest_s = max(plan.overheat.t_s, overheat_s - HEATING_S)
    seen_by: tuple[str, ...] = ()
    if plan.scuff is not None:
        seen_by = seen_channels(inside.t_s, channels, onset_s, first_s, plan.scuff.grows_s)
    elif plan.jam is not None:
        seen_by = seen_channels(inside.t_s, channels, jam_s, jam_s, plan.jam.grips_s)
    elif plan.overheat is not None:
        seen_by = tuple(name for name in (PIN_TEMPERATURE, BATH_TEMPERATURE) if name in channels and name in limits)
    stamp = plan.stamp_s
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=stamp(earliest_s),
        onset_s=stamp(onset_s),
        severe_s=stamp(severe_time_s(inside, onset_s, first_s)),
        stall_s=stamp(stall_time_s(inside, set_speed_rad_s)),
        jam_s=stamp(jam_s),
        overheat_s=stamp(overheat_s),
        supply_lost_s=stamp(plan.supply_lost_s),
        fault_s=stamp(plan.fault.t_s) if plan.fault is not None else NAN,
        fault=made.fault if made is not None else None,
        fault_channel=made.channel if made is not None else "",
        precursor=plan.scuff.precursor if plan.scuff is not None else Precursor.NONE,
        seen_by=seen_by,
        nuisances=tuple(Nuisance(n.kind, stamp(n.t_s), n.duration_s) for n in sorted(nuisances, key=lambda n: n.t_s)),
    )


def severe_time_s(inside: Inside, onset_s: float, first_s: float) -> float:
    """Give when friction, averaged over 0.1 s, reaches three times its median in the 6 s before anything began."""
    if math.isnan(onset_s):
        return NAN
    t_s, dt_s = inside.t_s, float(inside.t_s[1] - inside.t_s[0])
    before = (t_s >= first_s - 6.0) & (t_s < first_s)
    friction_n = uniform_filter1d(inside.friction_force_n, max(int(0.1 / dt_s) | 1, 1))
    severe = (friction_n >= SEVERE_RATIO * np.median(inside.friction_force_n[before])) & (t_s >= onset_s)
    return _first_s(t_s, severe)


def stall_time_s(inside: Inside, set_speed_rad_s: float) -> float:
    """Give when the ring falls below 2 % of its set speed with the motor on, after it had run since switched on."""
    slow = inside.ring_speed_rad_s < STALLED_RATIO * set_speed_rad_s
    running = (inside.ring_speed_rad_s > 0.5 * set_speed_rad_s) & inside.on
    rows = np.arange(len(slow))
    last_off = np.maximum.accumulate(np.where(~inside.on, rows, -1))
    last_running = np.maximum.accumulate(np.where(running, rows, -1))
    return _first_s(inside.t_s, slow & inside.on & (last_running > last_off))


def overheat_time_s(inside: Inside, limits: Mapping[str, float]) -> float:
    """Give when a true temperature first passes the technician's limit."""
    over = np.zeros(len(inside.t_s), dtype=bool)
    if PIN_TEMPERATURE in limits:
        over |= inside.pin_temperature_degc > limits[PIN_TEMPERATURE]
    if BATH_TEMPERATURE in limits:
        over |= inside.bath_temperature_degc > limits[BATH_TEMPERATURE]
    return _first_s(inside.t_s, over)


def seen_channels(
    t_s: Floats, channels: Mapping[str, Floats], onset_s: float, first_s: float, grows_s: float
) -> tuple[str, ...]:
    """Give the channels that move by more than five times their own unrest within some ten seconds of the event.

    The ten seconds begin at the onset or later while the event still grows. A channel's unrest is the spread of its
    half-second medians over the 20 s before anything began, or that of its rows over the root of their number.
    """
    dt_s = float(t_s[1] - t_s[0])
    block = max(round(0.5 / dt_s), 1)
    begin, first = int(np.searchsorted(t_s, onset_s)), int(np.searchsorted(t_s, first_s))
    end = min(int(np.searchsorted(t_s, onset_s + grows_s + WITHIN_S)), len(t_s))
    before_rows = min(first, round(20.0 / dt_s)) // block * block
    after_rows = (end - begin) // block * block
    span = round(WITHIN_S / dt_s) // block
    found = []
    for name, values in channels.items():
        before = _medians(values[first - before_rows : first], block)
        after = _medians(values[begin : begin + after_rows], block)
        if len(before) < 4 or len(after) == 0 or np.isnan(before).all():
            continue
        level, rows = float(np.nanmedian(before)), values[first - before_rows : first]
        unrest = max(float(np.nanstd(before)), float(np.nanstd(rows)) / math.sqrt(block))
        whole = np.concatenate((np.full(span, level), after))
        moved = np.abs(whole[span:] - whole[: len(after)])
        if np.nanmax(np.where(np.isnan(moved), 0.0, moved)) > UNREST_TIMES * unrest:
            found.append(name)
    return tuple(found)


def _medians(values: Floats, block: int) -> Floats:
    rows = values.reshape(-1, block)
    good = ~np.isnan(rows).all(axis=1)
    medians = np.full(len(rows), np.nan)
    medians[good] = np.nanmedian(rows[good], axis=1)
    return medians


def _first_s(t_s: Floats, true: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> float:
    return float(t_s[int(np.argmax(true))]) if bool(np.any(true)) else NAN
