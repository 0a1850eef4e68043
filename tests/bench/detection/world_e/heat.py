"""Bath and pin: where the friction heat goes, a heater with its thermostat, and the ways in which it gets too hot.

Reads friction power and a plan, gives temperatures and the balance of heat.
"""

from dataclasses import dataclass
from math import exp

import numpy as np
from world_b.values import Floats, Kind

from .chance import STEP_S, Dice, between, happens, lagged
from .plan import Plan
from .rig import Rig, Warmth

HEAT_S = 0.5
_EACH = round(HEAT_S / STEP_S)
_BAND_K = 0.8
_OIL_J_K_ML = 1.7
"""A millilitre of mineral oil: 0.87 g at 1.95 J/(g·K)."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """What goes wrong with the heat from `begin_s` on: the thermostat welds, the cooling stops, or the oil is gone."""

    begin_s: float
    heater_w: float = 0.0
    loss_share: float = 1.0
    pin_share: float = 1.0


@dataclass(frozen=True, slots=True)
class Heat:
    """Temperatures, (n,) on the inner clock; heat put in and heat lost, (k,) W, one value for each `HEAT_S`."""

    bath_degc: Floats
    pin_degc: Floats
    in_w: Floats
    lost_w: Floats

    def put_in_and_kept_j(self, lasts_s: float) -> tuple[float, float]:
        """Give the heat put in, and of it the heat kept, from the beginning for so long, J."""
        steps = round(lasts_s / HEAT_S)
        put_in_j = float(self.in_w[:steps].sum()) * HEAT_S
        return put_in_j, put_in_j - float(self.lost_w[:steps].sum()) * HEAT_S


def draw_trouble(
    dice: Dice, rig: Rig, plan: Plan, first_degc: float, power_w: Floats, limit_degc: float
) -> Trouble | None:
    """Draw why a rig overheats: the first of a dozen draws that brings the pin over its limit; None for no heating."""
    if plan.event is None or not plan.event.heating_s > 0.0:
        return None
    for _ in range(12):
        trouble = _trouble(dice, rig.warmth, plan.event.heating_s)
        if temperatures(rig.warmth, plan, first_degc, power_w, trouble).pin_degc[-1] > limit_degc + 2.0:
            break
    return trouble


def _trouble(dice: Dice, warmth: Warmth, begin_s: float) -> Trouble:
    if warmth.heater_w > 0.0 and happens(dice, 0.7):
        return Trouble(begin_s, heater_w=warmth.heater_w * between(dice, 1.0, 2.0))
    if happens(dice, 0.4):
        return Trouble(begin_s, loss_share=between(dice, 0.0, 0.1))
    return Trouble(begin_s, loss_share=0.6, pin_share=between(dice, 0.08, 0.3))


def temperatures(warmth: Warmth, plan: Plan, begin_degc: float, power_w: Floats, trouble: Trouble | None) -> Heat:
    """Give the temperatures that a friction power brings.

    Args:
        warmth: see `Warmth`.
        plan: for oil topped up, which takes heat away, and a night, after which the bath is as at the beginning.
        begin_degc: of the bath.
        power_w: (n,) of friction, on the inner clock.
        trouble: see `Trouble`.
    """
    count = len(power_w)
    bins = np.add.reduceat(power_w, np.arange(0, count, _EACH)) * STEP_S / HEAT_S
    bath, bath_degc, heater_on = [begin_degc], begin_degc, False
    carry, step_in = exp(-HEAT_S / warmth.pin_s), bins.tolist()
    rise_k = step_in[0] * warmth.pin_share / warmth.pin_w_k
    rises, flows = [rise_k], []
    for k, power in enumerate(step_in):
        t_s = k * HEAT_S
        wrong = trouble if trouble is not None and t_s >= trouble.begin_s else None
        if plan.night_s <= t_s < plan.night_s + HEAT_S:
            bath_degc, rise_k = begin_degc, 0.0
        heater_w, heater_on = _heater_w(warmth, bath_degc, heater_on)
        heater_w = max(heater_w, wrong.heater_w if wrong else 0.0)
        loss_w = warmth.bath_w_k * (bath_degc - warmth.ambient_degc) * (wrong.loss_share if wrong else 1.0)
        cold_w = sum(_cold_w(warmth, oil.duration_s) for oil in plan.of(Kind.OIL_TOP_UP)
                     if oil.t_s <= t_s < oil.t_s + oil.duration_s)  # fmt: skip
        pin_w_k = warmth.pin_w_k * (wrong.pin_share if wrong else 1.0)
        goal_k = power * warmth.pin_share / pin_w_k
        rise_k = goal_k + (rise_k - goal_k) * (carry if wrong is None else carry**wrong.pin_share)
        bath_degc += (power + heater_w - loss_w - cold_w) * HEAT_S / warmth.bath_j_k
        flows.append((power + heater_w, loss_w + cold_w))
        bath.append(bath_degc)
        rises.append(rise_k)
    slow, fast = np.arange(len(bath)) * HEAT_S, np.arange(count) * STEP_S
    still = lagged(np.interp(fast, slow, rises), HEAT_S)
    bath_course = np.interp(fast, slow, bath)
    return Heat(bath_course, bath_course + still, *np.array(flows).T)


def begin_degc(dice: Dice, rig: Rig, expected_w: float) -> float:
    """Draw the bath's temperature at the beginning: held by its heater, warm in mid run, or that of the room."""
    warmth = rig.warmth
    if warmth.heater_w > 0.0:
        return warmth.held_degc + between(dice, -0.8, 0.3)
    warm = between(dice, 0.3, 0.9) if rig.mid_run else between(dice, 0.0, 0.15)
    return warmth.ambient_degc + warm * expected_w / warmth.bath_w_k


def _heater_w(warmth: Warmth, bath_degc: float, was_on: bool) -> tuple[float, bool]:
    """Give heater power and whether the thermostat is closed."""
    if warmth.heater_w <= 0.0:
        return 0.0, False
    below_k = warmth.held_degc - bath_degc
    if not warmth.on_off:
        return warmth.heater_w * min(max(0.5 * below_k + 0.3, 0.0), 1.0), False
    closed = below_k > -_BAND_K / 2.0 if was_on else below_k > _BAND_K / 2.0
    return (warmth.heater_w if closed else 0.0), closed


def _cold_w(warmth: Warmth, lasts_s: float) -> float:
    """Give what a top-up of a tenth of the bath takes: oil of the room warmed by what the bath is above it, W."""
    oil_j_k = min(0.1 * warmth.bath_j_k, 30.0 * _OIL_J_K_ML)
    above_k = max(warmth.held_degc - warmth.ambient_degc, 6.0)
    return oil_j_k * above_k / lasts_s
