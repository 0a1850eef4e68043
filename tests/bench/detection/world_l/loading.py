"""The normal load over time: each change as its loader makes it, the lever's bounce, and slow wander. Reads `plan`."""

import math

import numpy as np
from world_b.values import Floats

from world_l.plan import LoadMove, Manner
from world_l.rig import Loader, Rig


def load_trace_n(rig: Rig, moves: tuple[LoadMove, ...], t_s: Floats, rng: np.random.Generator) -> Floats:
    """Give the load at the contact, (n,) N, never below zero: a bouncing pin leaves the ring."""
    load_n = np.zeros_like(t_s)
    before_n = 0.0
    for move in moves:
        bounce = rng.uniform(0.03, 0.2), rng.uniform(0.3, 0.9), int(rng.integers(3, 9)), rng.uniform(0.0, 0.05)
        begin = int(np.searchsorted(t_s, move.t_s))
        tau_s = t_s[begin:] - move.t_s
        load_n[begin:] += (move.load_n - before_n) * _come_on(rig, move, tau_s, bounce)
        before_n = move.load_n
    load_n *= _wander(rig, moves, t_s, rng)
    clipped: Floats = np.maximum(load_n, 0.0)
    return clipped


def _come_on(rig: Rig, move: LoadMove, tau_s: Floats, bounce: tuple[float, float, int, float]) -> Floats:
    """Give how much of a change has come on, 0 to 1 with overshoot, at times after its begin."""
    lasts_s = max(move.lasts_s, 0.02)
    if move.manner is Manner.SLOW:
        return np.clip(tau_s / lasts_s, 0.0, 1.0)
    if move.manner is Manner.TURNS:
        turns = bounce[2]
        part = np.clip(tau_s / lasts_s, 0.0, 1.0) * turns
        whole = np.floor(part)
        stepped: Floats = (whole + np.clip((part - whole) * 2.0, 0.0, 1.0)) / turns
        return stepped
    if move.manner is Manner.AIR:
        aired: Floats = 1.0 - np.exp(-tau_s / lasts_s) * np.cos(tau_s / lasts_s)
        return aired
    if move.manner is Manner.HARD:
        return _ease(tau_s, lasts_s) + bounce[1] * _ringing(rig, tau_s)
    if move.manner is Manner.TWICE:
        up_s, again_s = lasts_s + 0.8, lasts_s + 2.0
        down = _ease(tau_s, lasts_s) + bounce[0] * _ringing(rig, tau_s)
        up, again = (
            _ease(tau_s - up_s, 0.3),
            _ease(tau_s - again_s, lasts_s) + bounce[0] * _ringing(rig, tau_s - again_s),
        )
        return down * (1.0 - up) + again
    size = bounce[0] if move.load_n > 0.0 else 0.0
    # the lever's bearing holds some of a change back until the running rig has shaken it loose
    held = bounce[3] * np.exp(-tau_s / 25.0)
    return _ease(tau_s, lasts_s) * (1.0 - held) + size * _ringing(rig, tau_s - 0.5 * lasts_s)


def _ease(tau_s: Floats, lasts_s: float) -> Floats:
    x = np.clip(tau_s / lasts_s, 0.0, 1.0)
    eased: Floats = x * x * (3.0 - 2.0 * x)
    return eased


def _ringing(rig: Rig, tau_s: Floats) -> Floats:
    """Give the free vibration of the lever after a knock."""
    omega = 2.0 * math.pi * rig.bounce_hz
    after = np.clip(tau_s, 0.0, 50.0 / (rig.bounce_damping * omega))
    ring: Floats = np.exp(-rig.bounce_damping * omega * after) * np.sin(omega * after)
    return ring


def _wander(rig: Rig, moves: tuple[LoadMove, ...], t_s: Floats, rng: np.random.Generator) -> Floats:
    """Give the slow factor of each loader: a spring relaxes, a regulator hunts with its compressor, weights stay."""
    size, period_s, phase = rng.uniform(0.002, 0.015), rng.uniform(40.0, 240.0), rng.uniform(0.0, 1.0)
    relax, tau_s = rng.uniform(0.0, 0.06), rng.uniform(60.0, 900.0)
    if rig.loader is Loader.AIR:
        saw = (t_s / period_s + phase) % 1.0
        hunting: Floats = 1.0 + size * (0.5 - saw)
        return hunting
    if rig.loader is Loader.SCREW:
        starts = np.array([move.t_s + move.lasts_s for move in moves])
        last = np.searchsorted(starts, t_s, side="right") - 1
        since_s = t_s - np.maximum(starts[np.maximum(last, 0)], -600.0)
        relaxed: Floats = 1.0 - relax * -np.expm1(-np.maximum(since_s, 0.0) / tau_s)
        return relaxed
    return np.ones_like(t_s)
