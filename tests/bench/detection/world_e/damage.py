"""How a contact scuffs: what it shows before, how the damage spreads, what a scuffed contact is like.

Reads dice, a rig and a plan, gives courses that act on friction. Spread goes by jerks (a gamma process), because patch
after patch breaks through; three stages of hot spots are reported (DETECTION 1.1), numbers are plausible and invented.
"""

from dataclasses import dataclass
from math import exp, log

import numpy as np
from world_b.values import Floats, Kind, Precursor

from .chance import STEP_S, Dice, between, happens, one_of, scaled, wander
from .plan import Event, Plan
from .rig import Rig


@dataclass(slots=True)
class Harm:
    """What damage, and healthy things that look like it, do to friction; courses of (n,) on the inner clock.

    Attributes:
        spread: share of the contact that is scuffed, 0 to 1.
        scuffed_mu: friction coefficient of that share.
        lift: factor on the healthy share, 1 where nothing is.
        patch: extra friction once a turn, relative.
        rough: factor on the fast unrest.
        patch_rad: where on the ring the patch is.
    """

    spread: Floats
    scuffed_mu: Floats
    lift: Floats
    patch: Floats
    rough: Floats
    patch_rad: float

    def part(self, rows: slice) -> "Harm":
        """Give some of the samples."""
        return Harm(
            self.spread[rows],
            self.scuffed_mu[rows],
            self.lift[rows],
            self.patch[rows],
            self.rough[rows],
            self.patch_rad,
        )


def harm(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> tuple[Harm, Harm]:
    """Give what happens, and what would have happened without the event.

    Both draw the same, so that up to the first sign they are alike bit for bit.
    """
    count = len(t_s)
    calm = Harm(np.zeros(count), np.zeros(count), np.ones(count), np.zeros(count), np.ones(count), between(dice, 0, 6))
    for speck in plan.of(Kind.DEBRIS):
        calm.lift *= 1.0 + _hump(t_s, speck.t_s, speck.duration_s) * between(dice, 0.12, 0.5)
    for bout in plan.of(Kind.STICK_SLIP):
        calm.lift *= _saw(dice, t_s, bout.t_s, bout.duration_s)
    event = plan.event
    if event is None or not event.onset_s > 0.0:
        return calm, calm
    hurt = Harm(calm.spread, calm.scuffed_mu, calm.lift.copy(), np.zeros(count), np.ones(count), calm.patch_rad)
    _precursor(dice, rig, event, t_s, hurt)
    hurt.spread = np.maximum(hurt.spread, _spread(dice, event, t_s))
    hurt.scuffed_mu = _scuffed_mu(dice, rig, event, t_s, plan.loads[-1].load_n)
    return hurt, calm


def weld_mu(dice: Dice, rig: Rig, load_n: float) -> float:
    """Give a friction coefficient that the motor, or the belt, cannot turn."""
    motor = rig.motor
    least = (min(motor.most_torque_nm, motor.belt_torque_nm) - 0.6 * motor.drag_torque_nm) / (rig.radius_m * load_n)
    return max(least, 0.3) * between(dice, 1.15, 1.5)


def _precursor(dice: Dice, rig: Rig, event: Event, t_s: Floats, hurt: Harm) -> None:
    first_s, onset_s = event.first_s, event.onset_s
    along = np.clip((t_s - first_s) / max(onset_s - first_s, STEP_S), 0.0, 1.0)
    during = (t_s >= first_s).astype(np.float64)
    if event.precursor is Precursor.BURSTS:
        _bursts(dice, event, t_s, hurt)
    elif event.precursor is Precursor.ONCE_PER_TURN:
        hurt.patch += during * between(dice, 0.15, 0.6) * (0.25 + 0.75 * along ** between(dice, 0.5, 2.0))
    elif event.precursor is Precursor.CREEP:
        hurt.lift *= 1.0 + between(dice, 0.2, 0.6) * along ** between(dice, 0.7, 2.0)
        hurt.rough += between(dice, 1.0, 4.0) * along
    elif event.precursor is Precursor.MICRO_SCUFF:
        grow_s, hold_s = scaled(dice, 0.1, 0.8), scaled(dice, 0.2, 2.0)
        heal_s = scaled(dice, 1.0, 5.0)
        up = np.clip((t_s - first_s) / grow_s, 0.0, 1.0)
        down = np.exp(-np.clip(t_s - first_s - grow_s - hold_s, 0.0, None) / heal_s)
        mu = rig.contact.film_mu
        share = min(between(dice, 0.4, 1.3) * mu / (rig.contact.scuffed_mu - 0.8 * mu), 0.7)
        hurt.spread = share * up * down
        hurt.rough += during * 0.5


def _bursts(dice: Dice, event: Event, t_s: Floats, hurt: Harm) -> None:
    """Give bursts of 50 to 800 ms that come more and more often, the first at the first sign (DETECTION 1.1)."""
    moment_s, length_s = event.first_s, event.onset_s - event.first_s
    gap_s = between(dice, 0.1, 0.35) * length_s
    while moment_s < event.onset_s:
        lasts_s = scaled(dice, 0.05, 0.8)
        along = (moment_s - event.first_s) / length_s
        height = between(dice, 0.1, 0.35) + 0.25 * along
        hurt.lift *= 1.0 + height * _hump(t_s, moment_s, lasts_s)
        moment_s += max(dice.exponential(gap_s * (1.0 - 0.8 * along)), 0.1)
    hurt.rough += 0.8 * np.clip((t_s - event.first_s) / length_s, 0.0, 1.0)


def _spread(dice: Dice, event: Event, t_s: Floats) -> Floats:
    """Give the scuffed share: logistic in a time that runs by jerks; some contacts ease a little later."""
    count = int(np.searchsorted(t_s, event.onset_s))
    left = len(t_s) - count
    jerk_s = event.growth_s * scaled(dice, 0.01, 0.15)
    jerks = dice.gamma(STEP_S / jerk_s, jerk_s, left) if left else np.zeros(0)
    done = np.cumsum(jerks) / event.growth_s
    steep = scaled(dice, 3.0, 9.0)
    low = 1.0 / (1.0 + exp(0.5 * steep))
    share = (1.0 / (1.0 + np.exp(-steep * np.clip(done - 0.5, -1.0, 3.0))) - low) / (1.0 - low)
    if happens(dice, 0.35) and not event.weld:
        late_s = t_s[count:] - event.onset_s - event.growth_s - between(dice, 2.0, 10.0)
        share *= 1.0 - between(dice, 0.1, 0.4) * (1.0 - np.exp(-np.clip(late_s, 0.0, None) / between(dice, 1.0, 6.0)))
    return np.concatenate((np.zeros(count), share))


def _scuffed_mu(dice: Dice, rig: Rig, event: Event, t_s: Floats, load_n: float) -> Floats:
    """Give the friction of scuffed metal: wandering, torn by stick and slip; a weld grows until nothing turns it."""
    count = len(t_s)
    unrest = between(dice, 0.04, 0.15) * wander(dice, count, scaled(dice, 0.3, 3.0))
    unrest += between(dice, 0.05, 0.2) * wander(dice, count, scaled(dice, 0.01, 0.05))
    mu = rig.contact.scuffed_mu * np.exp(np.clip(unrest, -0.6, 0.6))
    if event.weld:
        late_s = t_s - event.onset_s - event.growth_s * between(dice, 0.3, 1.0)
        grown = np.clip(late_s / scaled(dice, 0.1, 5.0), 0.0, 1.0)
        weld = weld_mu(dice, rig, load_n)
        mu = np.exp(np.log(mu) * (1.0 - grown) + log(weld) * grown)
    return mu


def _hump(t_s: Floats, begin_s: float, lasts_s: float) -> Floats:
    """Give a hump of height 1 with a steep front and a longer tail."""
    x = np.clip((t_s - begin_s) / lasts_s, 0.0, 1.0)
    return np.asarray(np.sin(np.pi * x**0.6) ** 2)


def _saw(dice: Dice, t_s: Floats, begin_s: float, lasts_s: float) -> Floats:
    """Give stick-slip: slow rises and sudden falls about an unchanged mean, as a factor."""
    begin, end = np.searchsorted(t_s, (begin_s, begin_s + lasts_s))
    factor = np.ones(len(t_s))
    count = int(end - begin)
    if count < 3:
        return factor
    pace_hz = scaled(dice, 0.8, 25.0)
    phase = np.cumsum(pace_hz * STEP_S * np.exp(0.12 * wander(dice, count, 1.0 / pace_hz)))
    rise = one_of(dice, (0.8, 0.9, 0.95))
    turn = phase % 1.0
    shape = np.where(turn < rise, turn / rise, (1.0 - turn) / (1.0 - rise)) - 0.5
    size = between(dice, 0.15, 0.8) * np.exp(0.25 * wander(dice, count, 1.0))
    ends = np.minimum(np.linspace(0.0, 8.0, count), np.linspace(8.0, 0.0, count)).clip(0.0, 1.0)
    factor[begin:end] = np.maximum(1.0 + np.minimum(size, 1.4) * ends * shape, 0.1)
    return factor
