"""Draws healthy nuisances and lays all outer tracks.  Reads a plan and a rig, gives `Tracks`."""

import numpy as np
from numpy.random import Generator
from scipy.signal import lfilter
from world_b.values import Floats, Kind, Klass, Nuisance

from world_o.parts import CORE_DT_S, Cause, Plan, Rig, Tracks, log_uniform

MECHANICAL = {
    Kind.SET_DOWN_TWICE: 1.0, Kind.HARD_SET_DOWN: 1.0, Kind.TAKEN_OFF_AGAIN: 0.6, Kind.LIFTED: 0.8, Kind.BUMP: 1.5,
    Kind.PAUSE: 0.7, Kind.RESTART_BEFORE_REST: 0.3, Kind.INCHING: 0.3, Kind.FILM_TRANSITION: 1.5, Kind.DEBRIS: 0.8,
    Kind.STICK_SLIP: 0.4, Kind.SQUEAL: 0.6, Kind.OIL_TOP_UP: 0.6, Kind.BRIEF_DIP: 0.5,
}  # fmt: skip
"""How often each comes on a bench, relative; all before the event."""

PASSIVE = {
    Kind.DOOR_SLAM: 2.0, Kind.NEIGHBOUR: 1.5, Kind.VOICES: 2.0, Kind.SPIKES: 1.0, Kind.SHORT_DROPOUTS: 0.8,
    Kind.HOLES: 0.7, Kind.DUPLICATE_STAMPS: 0.4, Kind.BACKWARD_STAMPS: 0.2, Kind.MAINS_HUM: 0.8,
    Kind.COARSE_TEMPERATURE: 0.6, Kind.CURRENT_RAIL: 0.6,
}  # fmt: skip
"""What leaves the contact alone, so that it may come at any time."""

WHOLE = (Kind.MAINS_HUM, Kind.COARSE_TEMPERATURE, Kind.CURRENT_RAIL)
LASTS_S = {
    Kind.NEIGHBOUR: (10.0, 120.0), Kind.VOICES: (3.0, 60.0), Kind.SQUEAL: (2.0, 60.0), Kind.STICK_SLIP: (5.0, 60.0),
    Kind.FILM_TRANSITION: (40.0, 250.0), Kind.OIL_TOP_UP: (5.0, 25.0), Kind.PAUSE: (4.0, 40.0),
    Kind.LIFTED: (2.0, 15.0),
    Kind.RESTART_BEFORE_REST: (0.15, 0.6), Kind.BRIEF_DIP: (0.04, 0.2), Kind.TAKEN_OFF_AGAIN: (1.0, 6.0),
    Kind.DEBRIS: (0.1, 0.6), Kind.INCHING: (3.0, 12.0), Kind.BUMP: (0.3, 1.2), Kind.SET_DOWN_TWICE: (0.5, 2.5),
    Kind.HARD_SET_DOWN: (1.0, 4.0),
}  # fmt: skip
ODDITIES = (
    "lean", "sag", "fan", "wipe", "crackle", "draught", "forklift", "phone", "reader", "splash", "compressor", "radio",
    "touch",
)  # fmt: skip
"""Somebody leans on the bench; slow mains; an extractor; a cloth on the ring; a loose plug; an open window; the floor
shakes; a mobile telephone by the amplifier; the sound meter is moved; cold oil splashes on the thermocouple; a
compressor that comes and goes; music; a hand on the friction arm."""


def draw_nuisances(rng: Generator, plan: Plan) -> None:
    """Add 1 to 5 nuisances and sometimes what nobody lists."""
    table = MECHANICAL | PASSIVE
    kinds, weights = list(table), np.array(list(table.values()))
    picks = rng.choice(len(kinds), size=int(rng.integers(1, 6)), replace=False, p=weights / weights.sum())
    first_s = plan.start_s + 8.0
    seen_s = plan.length_s if np.isnan(plan.event_s) else plan.event_s + 20.0
    for kind in (kinds[int(k)] for k in picks):
        last_s = plan.free_until_s if kind in MECHANICAL else seen_s - 10.0
        if rng.random() < 0.25 and not np.isnan(plan.event_s):
            at_s, lasts_s = plan.event_s - rng.uniform(3.0, 15.0), 0.0
        else:
            at_s, lasts_s = rng.uniform(first_s, max(last_s - 15.0, first_s + 1.0)), 0.0
        if kind in LASTS_S:
            lasts_s = float(rng.uniform(*LASTS_S[kind]))
        if kind in (Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.TAKEN_OFF_AGAIN):
            at_s = plan.steps[int(rng.integers(min(1, len(plan.steps) - 1), len(plan.steps)))][0]
        if kind in WHOLE:
            at_s, lasts_s = 0.0, 0.0
        elif kind in MECHANICAL:
            lasts_s = min(lasts_s, last_s - at_s)
            if lasts_s < 0.0 or (kind is Kind.FILM_TRANSITION and lasts_s < 40.0):
                continue
        plan.listed.append(Nuisance(kind, float(at_s), float(lasts_s)))
    if not plan.listed:
        plan.listed.append(
            Nuisance(Kind.VOICES, float(rng.uniform(first_s, 0.6 * plan.free_until_s)), float(rng.uniform(3.0, 30.0)))
        )
    if plan.start_s == 0.0:
        plan.listed.append(Nuisance(Kind.MID_RUN, 0.0))
    if plan.klass in (Klass.STICK_SLIP, Klass.SQUEAL):
        kind = Kind.STICK_SLIP if plan.klass is Klass.STICK_SLIP else Kind.SQUEAL
        for _ in range(int(rng.integers(1, 4))):
            at_s = rng.uniform(first_s + 20.0, plan.length_s - 60.0)
            plan.listed.append(Nuisance(kind, float(at_s), float(min(rng.uniform(15.0, 150.0), plan.length_s - at_s))))
    for name in ODDITIES:
        if rng.random() < 0.1:
            at_s = rng.uniform(first_s, max(plan.free_until_s - 20.0, first_s + 1.0))
            lasts_s = min(rng.uniform(3.0, 25.0), max(1.0, plan.free_until_s - at_s))
            plan.oddities.append((name, float(at_s), float(lasts_s), float(rng.uniform(0.3, 1.0))))
    for n in plan.listed:
        if n.kind in (Kind.PAUSE, Kind.RESTART_BEFORE_REST):
            plan.off.append((n.t_s, n.t_s + n.duration_s))
    if rng.random() < 0.03 and plan.fault is None:
        plan.night_s = float(rng.uniform(first_s + 15.0, 0.6 * plan.free_until_s))
        plan.night_lasts_s = float(np.round(rng.uniform(8.0, 16.0) * 3600.0))
        plan.off.append((plan.night_s - 4.0, plan.night_s + 6.0))
        plan.listed.append(Nuisance(Kind.DAY_BETWEEN, plan.night_s))
    plan.listed.sort(key=lambda n: n.t_s)


def window(t_s: Floats, at_s: float, lasts_s: float, edge_s: float) -> Floats:
    """Give 1 inside a span and 0 outside, with edges of raised cosine."""
    inner = np.clip(np.minimum(t_s - at_s, at_s + lasts_s - t_s) / edge_s, 0.0, 1.0)
    out: Floats = 0.5 - 0.5 * np.cos(np.pi * inner)
    return out


def _load(rng: Generator, plan: Plan, t_s: Floats, loaded_start: bool) -> Floats:
    """Give the load on the pin: weights set down by hand, bounces of the lever, lifts and bumps."""
    load_n, rest_n = np.zeros_like(t_s), 0.0
    lever_hz, decay_s = rng.uniform(2.0, 9.0), rng.uniform(0.3, 1.6)
    for k, (at_s, to_n) in enumerate(plan.steps):
        down_s = rng.uniform(0.1, 1.0)
        kinds = {n.kind for n in plan.listed if abs(n.t_s - at_s) < 1e-6}
        bounce = rng.uniform(0.02, 0.15) * (2.5 if Kind.HARD_SET_DOWN in kinds else 1.0)
        if k == 0 and loaded_start:
            load_n[:], rest_n = to_n, to_n
            continue
        since = t_s - at_s
        rise = np.clip(since / down_s, 0.0, 1.0)
        if Kind.SET_DOWN_TWICE in kinds:
            rise -= 0.7 * window(t_s, at_s + down_s + 0.4, 1.2, 0.25)
        load_n += (to_n - rest_n) * rise
        ring = np.where(
            since > down_s,
            np.exp(-np.maximum(since - down_s, 0.0) / decay_s) * np.sin(2 * np.pi * lever_hz * since),
            0.0,
        )
        load_n += bounce * abs(to_n - rest_n) * ring
        rest_n = to_n
    for n in plan.listed:
        gone = window(t_s, n.t_s + (2.0 if n.kind is Kind.TAKEN_OFF_AGAIN else 0.0), n.duration_s, 0.3)
        if n.kind in (Kind.LIFTED, Kind.TAKEN_OFF_AGAIN):
            load_n *= 1.0 - gone * (0.995 if n.kind is Kind.LIFTED else 0.5)
        elif n.kind is Kind.BUMP:
            load_n *= 1.0 + rng.uniform(0.1, 0.4) * gone * np.sin(2 * np.pi * lever_hz * (t_s - n.t_s))
    return np.maximum(load_n, 0.0)


def _wandering(rng: Generator, t_s: Floats, memory_s: float) -> Floats:
    """Give an Ornstein-Uhlenbeck process of unit variance and a memory, in steps of 0.1 s."""
    pole = np.exp(-0.1 / memory_s)
    coarse = np.arange(0.0, t_s[-1] + 0.2, 0.1)
    out: Floats = np.interp(t_s, coarse, lfilter([np.sqrt(1 - pole**2)], [1.0, -pole], rng.normal(size=coarse.size)))
    return out


def _bearings(rng: Generator, plan: Plan, rig: Rig, t_s: Floats) -> Floats:
    """Give what bearings and belt resist beyond their warm drag: cold grease, and a tight spot once or twice a turn."""
    turns = t_s * rig.speed_rpm / 60.0 * rng.choice([0.31, 1.0, 1.0, 2.0])
    tight = rng.uniform(0.0, 0.3) * np.sin(2 * np.pi * turns + rng.uniform(0.0, 6.0))
    cold = rng.uniform(0.0, 0.5) if plan.start_s > 0.0 else 0.0
    out: Floats = rig.drive.drag_nm * (tight + cold * np.exp(-t_s / log_uniform(rng, 50.0, 250.0)))
    return out


def _film(rng: Generator, plan: Plan, t_s: Floats) -> Floats:
    """Give the slow healthy changes of friction: wandering, running-in after each step, film transitions."""
    log = _wandering(rng, t_s, log_uniform(rng, 30.0, 200.0)) * rng.uniform(0.01, 0.03)
    extra, tau_s = rng.uniform(0.0, 0.12), log_uniform(rng, 5.0, 60.0)
    for at_s, _ in plan.steps:
        since = t_s - at_s
        log = log + np.where(since > 0.0, extra * np.exp(-since / tau_s), 0.0) * (
            1.0 - np.exp(-np.maximum(since, 0.0) / 0.5)
        )
    for n in plan.listed:
        rise = np.clip((t_s - n.t_s) / max(n.duration_s, 1.0), 0.0, 1.0)
        if n.kind is Kind.FILM_TRANSITION:
            log = log + rng.choice([-1.0, 1.0]) * rng.uniform(0.08, 0.25) * (3 * rise**2 - 2 * rise**3)
        elif n.kind is Kind.OIL_TOP_UP:
            log = log - rng.uniform(0.0, 0.06) * rise
    for name, at_s, lasts_s, size in plan.oddities:
        if name == "wipe":
            log = log - 0.15 * size * window(t_s, at_s, min(lasts_s, 5.0), 0.4)
    out: Floats = np.exp(log)
    return out


def _waves(rng: Generator, plan: Plan, rig: Rig, t_s: Floats) -> Floats:
    """Give what shakes friction at an unchanged mean: stick-slip and a ring out of true."""
    turns = t_s * rig.speed_rpm / 60.0
    wave = rig.contact.run_out_ratio * np.sin(2 * np.pi * turns + rng.uniform(0.0, 6.0))
    for n in plan.listed:
        if n.kind is Kind.STICK_SLIP:
            rate_hz, size = log_uniform(rng, 0.7, 9.0), rng.uniform(0.1, 0.4)
            jitter = np.cumsum(rng.normal(size=t_s.size)) * 0.03 * np.sqrt(CORE_DT_S * rate_hz)
            saw = 2.0 * np.mod(t_s * rate_hz + jitter, 1.0) - 1.0
            wave = wave + size * window(t_s, n.t_s, n.duration_s, min(2.0, n.duration_s / 3)) * saw
    return wave


def lay_tracks(rng: Generator, plan: Plan, rig: Rig) -> Tracks:
    """Give every outer track of a plan; the shop's noise is laid in `sound`."""
    t_s = np.arange(0.0, plan.length_s, CORE_DT_S)
    loaded = plan.start_s == 0.0 or bool(rng.random() < 0.12)
    if loaded and plan.start_s > 0.0:
        plan.listed.insert(0, Nuisance(Kind.LOADED_START, plan.start_s))
    on = (t_s >= plan.start_s).astype(np.float64)
    for begin_s, end_s in plan.off:
        on[(t_s >= begin_s) & (t_s < end_s)] = 0.0
    supply, flick, bath_w, lean_n = np.ones_like(t_s), np.zeros_like(t_s), np.zeros_like(t_s), np.zeros_like(t_s)
    load_n = _load(rng, plan, t_s, loaded)
    for n in plan.listed:
        inside = (t_s >= n.t_s) & (t_s < n.t_s + n.duration_s)
        if n.kind is Kind.BRIEF_DIP:
            supply[inside] = rng.uniform(0.0, 0.5)
        elif n.kind is Kind.INCHING:
            on[inside & (np.mod(t_s - n.t_s, 1.6) > 0.5)] = 0.0
        elif n.kind is Kind.DEBRIS:
            flick += rng.uniform(0.08, 0.33) * window(t_s, n.t_s, n.duration_s, n.duration_s / 3)
        elif n.kind is Kind.OIL_TOP_UP:
            bath_w[inside] -= rig.thermal.bath_j_per_k * rng.uniform(0.5, 4.0) / n.duration_s
    rub_n = max(s[1] for s in plan.steps) * rig.contact.mu_healthy
    for name, at_s, lasts_s, size in plan.oddities:
        if name == "lean":
            lean_n += size * 0.08 * rub_n * window(t_s, at_s, lasts_s, 0.5)
        elif name == "touch":
            lean_n += (size - 0.5) * 0.6 * rub_n * window(t_s, at_s, min(lasts_s, 0.9), 0.15)
        elif name == "sag":
            supply *= 1.0 - 0.05 * size * window(t_s, at_s, lasts_s, 1.0)
        elif name == "draught":
            bath_w -= size * rig.thermal.bath_w_per_k * 3.0 * window(t_s, at_s, lasts_s * 4, 5.0)
    film = _film(rng, plan, t_s)
    if plan.cause is Cause.OIL_LOW:
        film *= 1.0 + rng.uniform(0.0, 0.12) * np.clip((t_s - plan.event_s) / 60.0, 0.0, 1.0)
    outer_nm = _bearings(rng, plan, rig, t_s)
    supply *= 1.0 + 0.008 * rng.random() * _wandering(rng, t_s, log_uniform(rng, 3.0, 60.0))
    if plan.klass is Klass.JAM:
        most_nm = rig.drive.peak_nm * rng.uniform(2.0, 6.0)
        outer_nm += most_nm * np.clip((t_s - plan.event_s) / rng.uniform(0.01, 0.3), 0.0, 1.0)
    if plan.klass is Klass.SUPPLY_LOST:
        on[t_s >= plan.event_s] = 0.0
    wave = _waves(rng, plan, rig, t_s)
    return Tracks(t_s, load_n, on, supply, outer_nm, film, wave, flick, bath_w, lean_n)
