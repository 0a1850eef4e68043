"""Temperatures of pin and bath.

Reads a rig, a plan and the friction power, gives the true temperatures and the heat put in and kept. Two bodies: the
metal at the thermocouple's well over the bath over the room; a thermostat that switches or throttles; a cooling that
may fail, a heater that may stick, oil that may leave the pin (its way to the bath narrows).
"""

from dataclasses import dataclass
from math import exp, inf

import numpy as np
from world_b.values import Floats, Kind

from .chance import SLOW_STEP_S
from .plan import HeatTrouble, Overheat, Plan
from .rig import Rig, Warmth

_NIGHT_LAG_S = 5400.0
"""In which a rig that stands cools to the room."""
_TOP_UP_K = 5.0
"""Most that cold oil takes off the bath."""


@dataclass(frozen=True, slots=True)
class Heat:
    """Courses on the slow grid.

    Attributes:
        pin_degc, bath_degc, heater_w: (n,).
        put_in_j: friction and heater work.
        bath_kept_j: heat of the bath at the end less that at the beginning.
        lost_j: to the room, by cooling, in the night and into cold oil.
        pin_kept_j: as the bath's.
    """

    pin_degc: Floats
    bath_degc: Floats
    heater_w: Floats
    put_in_j: float
    bath_kept_j: float
    lost_j: float
    pin_kept_j: float


def temperatures(rig: Rig, plan: Plan, power_w: Floats) -> Heat:
    """Give the temperatures under a friction power on the slow grid, (n,) W."""
    warmth, count = rig.warmth, len(power_w)
    bath_loss, pin_way, stuck = _ways(warmth, plan.overheat, count)
    jumps = _cold_oil(plan, count)
    nights = {round(night_s / SLOW_STEP_S): lasts_s for night_s, lasts_s in plan.nights}
    bath = warmth.bath_set_degc if warmth.heater_w > 0.0 else warmth.room_degc
    if plan.running:
        mean_w = float(power_w[: round(30.0 / SLOW_STEP_S)].mean())
        bath = max(bath, warmth.room_degc + mean_w / warmth.bath_w_k * 0.9)
    pin = bath + (warmth.pin_share * float(power_w[0]) / warmth.pin_w_k if plan.running else 0.0)
    begin, heating, lost_j = (pin, bath), True, 0.0
    pins, baths, heaters = np.empty(count), np.empty(count), np.empty(count)
    for place, (power, loss, way, always) in enumerate(
        zip(power_w.tolist(), bath_loss.tolist(), pin_way.tolist(), stuck.tolist(), strict=True)
    ):
        if place in nights:
            left = exp(-nights[place] / _NIGHT_LAG_S)
            cooler = warmth.room_degc + (bath - warmth.room_degc) * left
            lost_j += warmth.bath_j_k * (bath - cooler) + warmth.pin_j_k * (pin - cooler)
            pin = bath = cooler
        heating = bath < warmth.bath_set_degc + (0.5 if heating else -0.5) * warmth.band_k
        throttle = min(max((warmth.bath_set_degc - bath) / warmth.band_k + 0.5, 0.0), 1.0)
        heater = warmth.heater_w * max(always, float(heating) if warmth.two_point else throttle)
        to_bath_w = way * (pin - bath)
        to_room_w = loss * (bath - warmth.room_degc)
        cold_j = jumps.get(place, 0.0) * warmth.bath_j_k
        pin += SLOW_STEP_S * (warmth.pin_share * power - to_bath_w) / warmth.pin_j_k
        bath += (SLOW_STEP_S * ((1.0 - warmth.pin_share) * power + heater + to_bath_w - to_room_w) - cold_j) / (
            warmth.bath_j_k
        )
        lost_j += SLOW_STEP_S * to_room_w + cold_j
        pins[place], baths[place], heaters[place] = pin, bath, heater
    return Heat(
        pin_degc=pins,
        bath_degc=baths,
        heater_w=heaters,
        put_in_j=float((power_w + heaters).sum()) * SLOW_STEP_S,
        bath_kept_j=warmth.bath_j_k * (bath - begin[1]),
        lost_j=lost_j,
        pin_kept_j=warmth.pin_j_k * (pin - begin[0]),
    )


def _ways(warmth: Warmth, trouble: Overheat | None, count: int) -> tuple[Floats, Floats, Floats]:
    """Give what carries heat off the bath and off the pin, W/K, and how far the heater is stuck on, (n,)."""
    at = round((trouble.t_s if trouble is not None else inf) / SLOW_STEP_S) if trouble is not None else count
    after = np.arange(count) >= at
    severity = trouble.severity if trouble is not None else 0.0
    kind = trouble.trouble if trouble is not None else None
    loss = np.full(count, warmth.bath_w_k)
    way = np.full(count, warmth.pin_w_k)
    if kind is HeatTrouble.COOLING_FAILS:
        loss[after] *= 1.0 - warmth.cooled_share * severity
    if kind is HeatTrouble.OIL_LOST:
        way[after] *= 1.0 - 0.95 * severity
    stuck = np.where(after, severity if kind is HeatTrouble.HEATER_STUCK else 0.0, 0.0)
    return loss, way, np.asarray(stuck, np.float64)


def _cold_oil(plan: Plan, count: int) -> dict[int, float]:
    """Give by how much cold oil cools the bath in each step, K."""
    jumps: dict[int, float] = {}
    for pour in plan.of(Kind.OIL_TOP_UP):
        first = round(pour.t_s / SLOW_STEP_S)
        steps = max(round(pour.duration_s / SLOW_STEP_S), 1)
        for place in range(first, min(first + steps, count)):
            jumps[place] = jumps.get(place, 0.0) + _TOP_UP_K * pour.size / steps
    return jumps
