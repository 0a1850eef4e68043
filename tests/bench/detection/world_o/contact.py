"""The contact as a random dynamical system.  Reads tracks and damage, gives the log of friction over healthy friction.

The film state u has a healthy well near -1 and a scuffed one near +1: du/dt = (u - u^3 + tilt) / time.  At a tilt of
2 / (3 sqrt 3) the healthy well is gone (fold); before it, the return slows and the unrest grows of themselves.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.random import Generator
from scipy.signal import lfilter
from world_b.values import Floats

from world_o.parts import CORE_DT_S, Contact, Noise

FOLD = 2.0 / (3.0 * math.sqrt(3.0))
U_FOLD = -1.0 / math.sqrt(3.0)


def healthy_well(tilt: Floats) -> Floats:
    """Give the lowest root of u^3 - u - tilt = 0 (Viete's cosines, from memory); beyond the fold the fold's place."""
    angle = np.arccos(np.clip(tilt / FOLD, -1.0, 1.0))
    out: Floats = 2.0 / math.sqrt(3.0) * np.cos(angle / 3.0 - 4.0 * math.pi / 3.0)
    return out


def log_excess(span: float, u: Floats) -> Floats:
    """Give the log of friction over healthy friction of a film state; it levels off above the scuffed well."""
    share = (u + 1.0) / 2.0
    out: Floats = span * np.where(share > 0.9, 0.9 + 0.1 * np.tanh((share - 0.9) / 0.1), share)
    return out


def shaking(rng: Generator, noise: Noise, n: int, dt_s: float, scale: float) -> Floats:
    """Give increments of the state with a standard deviation of `scale` times the root of the step."""
    white = rng.normal(size=n)
    if noise is Noise.COLOURED:
        pole = math.exp(-dt_s / rng.uniform(0.05, 0.3))
        white = lfilter([1.0 - pole], [1.0, -pole], white)
    elif noise is Noise.HEAVY:
        white = np.clip(rng.standard_t(3.0, size=n) / math.sqrt(3.0), -8.0, 8.0)
    out: Floats = white * scale * math.sqrt(dt_s)
    return out


def renewal(rng: Generator, intensity_hz: Floats, dt_s: float, shape: float) -> list[int]:
    """Give steps at which events of a renewal process fall: gamma intervals on a clock that runs with intensity."""
    clock = np.cumsum(intensity_hz) * dt_s
    count = int(clock[-1] * 1.5 + 30.0)
    at = np.cumsum(rng.gamma(shape, 1.0 / shape, size=count))
    return [int(k) for k in np.searchsorted(clock, at[at < clock[-1]])]


def two_wells(
    start: float, tilt: Floats, pushes: Floats, times_s: tuple[float, float], growing: float = 0.0, heat: float = 0.0,
    dt_s: float = CORE_DT_S,
) -> Floats:  # fmt: skip
    """Give the film state by Euler and Maruyama.

    Args:
        start: first state.
        tilt: of the potential at each step.
        pushes: increments of noise and kicks at each step.
        times_s: below the middle (return) and above it (growth).
        growing: how much the noise grows with the state above the healthy well.
        heat: tilt per unit of state, through heat that follows within 3 s.
        dt_s: step.
    """
    u, warm = start, 0.0
    below, above = dt_s / times_s[0], dt_s / times_s[1]
    out: list[float] = []
    lag = dt_s / 3.0
    for c, push in zip(tilt.tolist(), pushes.tolist(), strict=True):
        high = u + 1.0 if u > -1.0 else 0.0
        if heat:
            warm += lag * (high - warm)
            c += heat * warm
        force = u - u * u * u + c
        u += force * (above if u > 0.0 and force > 0.0 else below) + push * (1.0 + growing * high)
        if u > 2.0:
            u = 2.0
        elif u < -2.0:
            u = -2.0
        out.append(u)
    return np.array(out)


def cascade(
    rng: Generator, background_hz: float, branching: Floats, keep_s: float, half: float, feedback: float,
    dt_s: float = CORE_DT_S,
) -> Floats:  # fmt: skip
    """Give the number of live asperity events of a process whose events beget events (Hawkes).

    A live event begets others at `branching / keep_s`; the hot share q / (q + half) adds `feedback` to the branching.
    """
    q, fade = 0.0, math.exp(-dt_s / keep_s)
    out: list[float] = []
    draws, normals = rng.random(branching.size).tolist(), rng.normal(size=branching.size).tolist()
    most = 25.0 * half
    for n, draw, z in zip(branching.tolist(), draws, normals, strict=True):
        expected = (background_hz + (n + feedback * q / (q + half)) * q / keep_s) * dt_s
        q *= fade
        if expected < 0.3:
            if draw < expected:
                q += 1.0
        else:
            more = expected + math.sqrt(expected) * z
            if more > 0.0:
                q += more
        if q > most:
            q = most
        out.append(q)
    return np.array(out)


def patches(
    rng: Generator, tilt: Sequence[Floats], time_s: float, unrest: float, coupling: tuple[float, float], dt_s: float
) -> Floats:
    """Give (steps, sectors) states of two-well patches that pull at their neighbours and at all.

    Args:
        rng: random stream.
        tilt: (steps,) of the ring as a whole, and (sectors,) by how much more the damage works in each.
        time_s: of a patch.
        unrest: scale of white noise.
        coupling: to the two neighbours, and to the mean of all.
        dt_s: step.
    """
    along, weak = tilt
    u = np.full(weak.size, -1.05)
    out = np.empty((along.size, weak.size))
    noise = rng.normal(size=out.shape) * unrest * math.sqrt(dt_s)
    near, far = coupling
    step = dt_s / time_s
    rest = along[0]
    for k, c in enumerate(along.tolist()):
        pulled = near * (np.roll(u, 1) + np.roll(u, -1) - 2.0 * u) + far * (u.mean() + 1.0)
        u = u + step * (u - u * u * u + rest + (c - rest) * weak + pulled) + noise[k]
        np.clip(u, -2.0, 2.0, out=u)
        out[k] = u
    return out


def passing(states: Floats, contact: Contact, turns: Floats, coarse_s: float, t_s: Floats) -> tuple[Floats, Floats]:
    """Give the log friction under the pin and of the ring's mean as patches pass it."""
    ratio = np.exp(log_excess(contact.span, states))
    count = ratio.shape[1]
    half = max(0, round(contact.pin_turns * count / 2.0))
    under = sum(np.roll(ratio, k, axis=1) for k in range(-half, half + 1)) / (2 * half + 1)
    at = np.minimum((t_s / coarse_s).astype(np.int64), ratio.shape[0] - 1)
    place = np.mod(turns, 1.0) * count
    left = place.astype(np.int64) % count
    part = place - np.floor(place)
    local = np.asarray(under)[at, left] * (1.0 - part) + np.asarray(under)[at, (left + 1) % count] * part
    mean = np.interp(t_s, np.arange(ratio.shape[0]) * coarse_s, ratio.mean(axis=1))
    return np.log(local), np.log(mean)
