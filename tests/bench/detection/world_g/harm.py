"""How a contact fails: signs before it, cells that scuff their neighbours, healing and welding.

Reads a `HarmPlan`, gives courses on the inner clock. The scuffed share is a birth process: each scuffed cell of the
scar scuffs others at a rate, as far as cells are left, so it grows by jerks.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Floats, Precursor

from .chance import STEP_S, Dice, between, eased, spread, wandering
from .plan import HarmPlan


@dataclass(frozen=True, slots=True)
class Harm:
    """Courses of a failing contact, each (n,).

    Attributes:
        scuffed: share of the scar, 0..1.
        rough: factor on the friction of what is scuffed.
        gain: factor on the healthy friction.
        spot: friction added by a hot patch as it passes, as a share of the healthy one.
        weld: factor on all friction.
    """

    scuffed: Floats
    rough: Floats
    gain: Floats
    spot: Floats
    weld: Floats


def no_harm(count: int) -> Harm:
    """Give the courses of a contact that stays well."""
    none, one = np.zeros(count), np.ones(count)
    return Harm(none, one, one, none, one)


def harmed(dice: Dice, plan: HarmPlan, t_s: Floats, excess: float) -> Harm:
    """Give the courses of a failing contact.

    Args:
        dice: of the event.
        plan: what fails and when.
        t_s: (n,) inner clock.
        excess: friction of scuffed metal over that of the healthy contact, less one; > 0.
    """
    sign, gain, spot = np.zeros(len(t_s)), np.ones(len(t_s)), np.zeros(len(t_s))
    if plan.precursor is Precursor.BURSTS:
        sign = _bursts(dice, plan, t_s) / excess
    elif plan.precursor is Precursor.MICRO_SCUFF:
        sign = _micro_scuffs(dice, plan, t_s) / excess
    elif plan.precursor is Precursor.CREEP:
        gain = _creep(dice, plan, t_s)
    elif plan.precursor is Precursor.ONCE_PER_TURN:
        ahead = np.clip((t_s - plan.first_s) / (plan.onset_s - plan.first_s), 0.0, 1.0)
        spot = between(dice, 0.5, 1.2) * ahead ** between(dice, 0.3, 1.0)
    rough = 1.0 + spread(dice, 0.03, 0.16) * wandering(dice, len(t_s), spread(dice, 0.01, 0.1), STEP_S)
    scuffed = np.clip(np.maximum(_cells(dice, plan, t_s), sign), 0.0, 1.0)
    weld = np.ones(len(t_s))
    if plan.welds_s > 0.0:
        since = np.clip(t_s - plan.onset_s - 0.7 * plan.grows_s, 0.0, None) / plan.welds_s
        weld = np.minimum(1.0 + since**1.5, 60.0)
    return Harm(scuffed, np.clip(rough, 0.4, 1.8), gain, spot, weld)


def _cells(dice: Dice, plan: HarmPlan, t_s: Floats) -> Floats:
    """Give the share of cells that are scuffed."""
    cells = int(dice.integers(40, 160))
    capacity = plan.final_share * cells
    scuffed = float(dice.integers(1, 4))
    rate = math.log(0.7 / 0.3 * max(capacity - scuffed, 2.0) / scuffed) / plan.grows_s
    holds = sorted(between(dice, 0.15, 0.7) * capacity for _ in range(plan.stages))
    share, held_until_s = np.zeros(len(t_s)), -math.inf
    begin = int(np.searchsorted(t_s, plan.onset_s))
    for i in range(begin, len(t_s)):
        if t_s[i] >= held_until_s and scuffed < capacity:
            scuffed += float(dice.poisson(rate * scuffed * (1.0 - scuffed / capacity) * STEP_S))
            if holds and scuffed > holds[0]:
                holds.pop(0)
                held_until_s = t_s[i] + spread(dice, 0.4, 5.0)
        share[i] = min(scuffed, capacity) / cells
    if plan.eases_s > 0.0:
        begins_s = plan.onset_s + plan.grows_s + between(dice, 6.0, 12.0)
        share *= 0.45 + 0.55 * np.exp(-np.clip(t_s - begins_s, 0.0, None) / plan.eases_s)
    return share


def _bursts(dice: Dice, plan: HarmPlan, t_s: Floats) -> Floats:
    """Give bursts that come sooner and sooner, as a share of the healthy friction; the first at the first sign."""
    out, at_s, ahead_s = np.zeros(len(t_s)), plan.first_s, plan.onset_s - plan.first_s
    mean_gap_s = min(ahead_s / 4.0, between(dice, 3.0, 15.0))
    while at_s < plan.onset_s:
        lasts_s, height = spread(dice, 0.05, 0.8), spread(dice, 0.15, 0.6)
        part = slice(*np.searchsorted(t_s, [at_s, at_s + lasts_s]))
        out[part] = np.maximum(out[part], height * np.sin(np.pi * (t_s[part] - at_s) / lasts_s) ** 0.5)
        done = (at_s - plan.first_s) / ahead_s
        at_s += lasts_s + float(dice.exponential(mean_gap_s)) * (1.2 - done)
    return np.nan_to_num(out)


def _micro_scuffs(dice: Dice, plan: HarmPlan, t_s: Floats) -> Floats:
    """Give one to three small scuffs that heal, as a share of the healthy friction."""
    ahead_s = plan.onset_s - plan.first_s
    count = 1 if ahead_s < 15.0 else int(dice.integers(1, 4))
    out = np.zeros(len(t_s))
    for i in range(count):
        at_s = plan.first_s + (ahead_s * 0.8 * (i + between(dice, -0.3, 0.3)) / count if i else 0.0)
        heals_s = min(spread(dice, 0.8, 5.0), 0.3 * ahead_s)
        rise_s = spread(dice, 0.08, 0.5)
        healing = np.exp(-np.clip(t_s - at_s - rise_s, 0.0, None) / heals_s)
        out = np.maximum(out, between(dice, 0.35, 0.8) * eased(t_s, at_s, rise_s) * healing)
    return np.where(t_s >= plan.first_s, out, 0.0)


def _creep(dice: Dice, plan: HarmPlan, t_s: Floats) -> Floats:
    """Give a slow rise with growing unrest, as a factor on the healthy friction."""
    ahead = np.clip((t_s - plan.first_s) / (plan.onset_s - plan.first_s), 0.0, 1.0)
    unrest = wandering(dice, len(t_s), spread(dice, 0.05, 0.4), STEP_S) * between(dice, 0.04, 0.12)
    return np.asarray(np.maximum(1.0 + ahead * (between(dice, 0.15, 0.5) + unrest), 0.5), dtype=np.float64)
