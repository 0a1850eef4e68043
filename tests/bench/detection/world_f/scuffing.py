"""The failing contact: scuffed share, its signs before, its unrest, and the welds of a seizure.

Reads a rig, a plan and dice, gives courses on the fine grid. Scuffed metal spreads as a branching process: each patch
lights others, the more the more there are, so the k-th comes 1 / k^crowding later than the one before, by a draw of
the exponential law; patches are of unequal size.
"""

from dataclasses import dataclass
from math import isnan

import numpy as np
from world_b.values import Floats, Precursor

from .chance import Dice, lagged, smooth_step, spread, wander
from .plan import Plan, Scuffing
from .rig import Rig

_PATCHES = 60
_PATCH_S = 0.03
"""In which one patch scuffs."""


@dataclass(frozen=True, slots=True)
class Harm:
    """Courses on the fine grid, (n,).

    Attributes:
        share: of the load that scuffed metal bears.
        chatter: by what the friction of scuffed metal is multiplied; its mean is 1.
        lift: by what bursts and creep multiply the friction of what is not scuffed.
        hot: how much more a hot patch on the ring rubs, as a share.
        weld_share: of the force that holds the drive, borne by welds.
    """

    share: Floats
    chatter: Floats
    lift: Floats
    hot: Floats
    weld_share: Floats


def harm_of(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Harm:
    """Give the damage of a recording; none where the plan has none."""
    count = len(t_s)
    none = Harm(np.zeros(count), np.ones(count), np.ones(count), np.zeros(count), np.zeros(count))
    scuffing = plan.scuffing
    if scuffing is None:
        return none
    share = scuffing.share * _spread_share(dice, scuffing, t_s)
    lift, hot = none.lift, none.hot
    if scuffing.precursor is Precursor.BURSTS:
        lift = _bursts(dice, scuffing, t_s)
    if scuffing.precursor is Precursor.CREEP:
        lift = _creep(dice, scuffing, t_s)
    if scuffing.precursor is Precursor.ONCE_PER_TURN:
        rise = 0.35 + 0.65 * smooth_step(t_s, scuffing.sign_s, scuffing.onset_s - scuffing.sign_s)
        hot = np.where(t_s >= scuffing.sign_s, (0.6 + 1.0 * scuffing.size) * rise, 0.0)
    if scuffing.precursor is Precursor.MICRO_SCUFF:
        share = np.maximum(share, _small_scuff(dice, rig, scuffing, t_s))
    coarse = spread(dice, 0.03, 0.18) * wander(dice, count, 0.02) + spread(dice, 0.04, 0.18) * wander(dice, count, 0.25)
    return Harm(share, np.clip(1.0 + coarse, 0.4, 1.8), lift, hot, _welds(scuffing, t_s))


def _spread_share(dice: Dice, scuffing: Scuffing, t_s: Floats) -> Floats:
    """Give the scuffed share, 0 to 1, stage by stage, (n,)."""
    turn = np.arange(1, _PATCHES)
    waits = dice.exponential(1.0, _PATCHES - 1) / turn**scuffing.crowding
    births = np.concatenate([[0.0], np.cumsum(waits) / waits.sum()]) * scuffing.growth_s
    for stage in range(1, scuffing.stages):
        births[round(stage * _PATCHES / scuffing.stages) :] += float(dice.uniform(0.5, 4.0))
    sizes = dice.lognormal(0.0, 0.8, _PATCHES)
    sizes[0] = max(sizes[0], 0.05 * sizes.sum())
    done = np.zeros(len(t_s))
    places = np.minimum(np.searchsorted(t_s, scuffing.onset_s + births), len(t_s) - 1)
    np.add.at(done, places, sizes / sizes.sum())
    share = lagged(np.cumsum(done), min(_PATCH_S, 0.15 * scuffing.growth_s))
    eased = scuffing.eases_share * smooth_step(t_s, scuffing.onset_s + births[-1] + 2.0, scuffing.eases_s)
    return np.asarray(share * (1.0 - eased), np.float64)


def _bursts(dice: Dice, scuffing: Scuffing, t_s: Floats) -> Floats:
    """Give bursts of 50 to 800 ms that come ever more often, the first at the first sign, (n,)."""
    lead_s = scuffing.onset_s - scuffing.sign_s
    count = 4 + int(dice.poisson(lead_s / 5.0 if lead_s > 15.0 else lead_s / 0.9))
    begins = scuffing.sign_s + np.concatenate([[0.0], 0.97 * lead_s * np.sqrt(dice.random(count - 1))])
    lift = np.ones(len(t_s))
    for begin_s in begins.tolist():
        lasts_s = float(np.exp(dice.uniform(np.log(0.05), np.log(0.8))))
        height = (0.3 + 0.7 * scuffing.size) * float(dice.uniform(0.5, 1.0))
        part = slice(*np.searchsorted(t_s, [begin_s, begin_s + 1.5 * lasts_s]).tolist())
        shape = np.sin(np.pi * np.clip((t_s[part] - begin_s) / lasts_s, 0.0, 1.0)) ** 0.5
        lift[part] = np.maximum(lift[part], 1.0 + height * shape)
    return lift


def _creep(dice: Dice, scuffing: Scuffing, t_s: Floats) -> Floats:
    """Give a slow rise with growing unrest, (n,)."""
    rise = np.clip((t_s - scuffing.sign_s) / (scuffing.onset_s - scuffing.sign_s), 0.0, 1.0) ** 1.2
    unrest = 0.6 * wander(dice, len(t_s), 0.05) + 0.6 * wander(dice, len(t_s), 0.7)
    top = 0.25 + 0.4 * scuffing.size
    return np.asarray(np.maximum(1.0 + top * rise * (1.0 + 0.35 * unrest), 0.5), np.float64)


def _small_scuff(dice: Dice, rig: Rig, scuffing: Scuffing, t_s: Floats) -> Floats:
    """Give the share of a scuff that stays small and heals before the onset, (n,)."""
    lead_s = scuffing.onset_s - scuffing.sign_s
    rise_s = min(float(dice.uniform(0.1, 0.8)), 0.1 * lead_s)
    heals_s = min(float(dice.uniform(2.0, 15.0)), 0.3 * lead_s)
    contact = rig.contact
    height = (0.35 + 0.6 * scuffing.size) * contact.film_mu / (contact.scuffed_mu - contact.film_mu)
    healed = np.exp(-np.maximum(t_s - scuffing.sign_s - rise_s, 0.0) / heals_s)
    return np.asarray(height * smooth_step(t_s, scuffing.sign_s, rise_s) * healed, np.float64)


def _welds(scuffing: Scuffing, t_s: Floats) -> Floats:
    if isnan(scuffing.welds_in_s):
        return np.zeros(len(t_s))
    begin_s = scuffing.onset_s + 0.7 * scuffing.growth_s
    grown = np.clip((t_s - begin_s) / scuffing.welds_in_s, 0.0, 1.2)
    return np.asarray(np.expm1(3.0 * grown) / np.expm1(3.0), np.float64)
