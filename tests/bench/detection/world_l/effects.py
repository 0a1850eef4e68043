"""What healthy happenings do to friction, load and supply. Reads `plan`, `rig`; gives factors on the fast clock."""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Floats

from world_l.growth import wander
from world_l.plan import Act, Happening, Plan
from world_l.rig import Rig


@dataclass(frozen=True, slots=True)
class Effects:
    """(n,) factors, 1 where nothing happens."""

    friction: Floats
    load: Floats
    supply: Floats


def effects(rig: Rig, plan: Plan, t_s: Floats, rng: np.random.Generator) -> Effects:
    """Give all effects together: happenings, a new seat of the pin at every start, and the contact's own unrest."""
    friction = np.exp(rig.unrest_ratio * wander(rng, t_s, rig.unrest_s))
    slow_s, slow = rng.uniform(60.0, 300.0), rng.uniform(0.0, 0.04)
    friction *= np.exp(slow * wander(rng, t_s, slow_s))
    load, supply = np.ones_like(t_s), 1.0 + rig.supply_wander_ratio * wander(rng, t_s, 15.0)
    _seat_anew(plan, t_s, friction, rng)
    for happening in plan.happenings:
        begin, end = np.searchsorted(t_s, [happening.t_s, happening.t_s + happening.lasts_s])
        x = (t_s - happening.t_s) / happening.lasts_s
        if happening.act is Act.BUMP:
            _bump(rig, happening, t_s, load)
        elif happening.act is Act.LEAN:
            load[begin:end] *= 1.0 + happening.size * np.sin(math.pi * x[begin:end]) ** 0.3
        elif happening.act is Act.DIP:
            supply[begin:end] *= 1.0 - happening.size
        else:
            _at_the_contact(rig, happening, t_s, x, slice(int(begin), int(end)), friction)
    return Effects(friction, load, supply)


def _seat_anew(plan: Plan, t_s: Floats, friction: Floats, rng: np.random.Generator) -> None:
    """Let friction after each start differ by some per cent, fading as the pin beds in again."""
    for on_s, _ in plan.switched:
        seat, fades_s = math.exp(rng.normal(0.0, 0.07)), rng.uniform(15.0, 240.0)
        begin = int(np.searchsorted(t_s, on_s))
        friction[begin:] *= 1.0 + (seat - 1.0) * np.exp(-(t_s[begin:] - on_s) / fades_s)


def _bump(rig: Rig, happening: Happening, t_s: Floats, load: Floats) -> None:
    omega = 2.0 * math.pi * rig.bounce_hz
    begin, end = np.searchsorted(t_s, [happening.t_s, happening.t_s + 30.0 / (rig.bounce_damping * omega)])
    tau_s = t_s[begin:end] - happening.t_s
    load[begin:end] *= 1.0 + happening.size * np.exp(-rig.bounce_damping * omega * tau_s) * np.sin(omega * tau_s)


def _at_the_contact(rig: Rig, happening: Happening, t_s: Floats, x: Floats, within: slice, friction: Floats) -> None:
    rng = np.random.default_rng(happening.seed)
    size, inside = happening.size, x[within]
    if happening.act is Act.FILM:
        there = np.clip(x, 0.0, 1.0)
        change = there * there * (3.0 - 2.0 * there)
        kind = rng.random()
        if kind < 0.3:  # the film cannot decide: it goes back and forth between two states, each change in seconds
            back_and_forth = 0.5 + 0.5 * np.tanh(8.0 * wander(rng, t_s, rng.uniform(10.0, 60.0)))
            change = back_and_forth * np.clip(np.minimum(there, 1.0 - there) * 10.0, 0.0, 1.0)
        elif kind < 0.65:  # and back again, at its own pace
            back = np.clip((x - rng.uniform(1.0, 2.0)) / rng.uniform(0.4, 2.0), 0.0, 1.0)
            change = change * (1.0 - back)
        friction *= 1.0 + size * change
    elif happening.act is Act.DEBRIS:
        friction[within] *= 1.0 + size * np.minimum(inside / 0.2, 1.0) * np.minimum((1.0 - inside) / 0.4, 1.0)
    elif happening.act is Act.WIPE:
        strokes = np.abs(np.sin(math.pi * inside * rng.integers(2, 7)))
        friction[within] *= 1.0 + size * strokes
        gone = np.maximum(t_s[within.stop :] - happening.t_s - happening.lasts_s, 0.0)
        friction[within.stop :] *= 1.0 + rng.uniform(-0.08, 0.15) * np.exp(-gone / rng.uniform(3.0, 40.0))
    elif happening.act is Act.STARVE:
        dry = np.clip(x, 0.0, 1.0) ** rng.uniform(1.0, 3.0)
        wet = np.exp(-np.maximum(t_s - happening.t_s - happening.lasts_s, 0.0) / rng.uniform(0.5, 8.0))
        friction *= 1.0 + size * dry * wet
    elif happening.act is Act.FOAM:
        hump = np.sin(math.pi * np.clip(inside, 0.0, 1.0)) ** 2
        friction[within] *= 1.0 + size * hump * (1.0 + 0.4 * wander(rng, t_s, 0.7)[within])
    elif happening.act is Act.DROP:
        friction[within] *= 1.0 + size * np.minimum(inside / 0.05, 1.0) * (1.0 - inside) ** 2
    elif happening.act is Act.STICK_SLIP:
        _stick_slip(rig, happening, rng, t_s, within, friction)


def _stick_slip(
    rig: Rig, happening: Happening, rng: np.random.Generator, t_s: Floats, within: slice, friction: Floats
) -> None:
    """Lay a relaxation oscillation on friction: it climbs while the pin sticks and drops as it slips.

    Climb is the lever's stiffness times the ring's travel, so the period goes with amplitude over speed; each slip
    is a little different, and the mean shifts up as static friction takes part.
    """
    if within.stop - within.start < 2:
        return
    top_hz = min(14.0, 0.35 / (t_s[1] - t_s[0]))
    period_s = 1.0 / float(np.clip(rng.uniform(1.0, 6.0) * rig.sliding_m_s / 0.2, 0.8, top_hz))
    count = int(happening.lasts_s / period_s * 1.5) + 3
    slips_s = happening.t_s + np.concatenate(([0.0], np.cumsum(period_s * np.exp(rng.normal(0.0, 0.15, count)))))
    high = happening.size * np.exp(rng.normal(0.0, 0.25, count + 1))
    now_s = t_s[within]
    cycle = np.clip(np.searchsorted(slips_s, now_s, side="right") - 1, 0, count - 1)
    phase = (now_s - slips_s[cycle]) / (slips_s[cycle + 1] - slips_s[cycle])
    climb = np.where(phase < 0.85, phase / 0.85, 1.0 - (phase - 0.85) / 0.15)
    there = (now_s - happening.t_s) / happening.lasts_s
    envelope = np.minimum(1.0, np.minimum(there, 1.0 - there) * 8.0)
    friction[within] *= 1.0 + envelope * high[cycle] * (climb - rng.uniform(0.2, 0.5))
