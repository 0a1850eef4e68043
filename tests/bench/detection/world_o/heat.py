"""Heat balance of bath and pin.  Reads friction power and rig, gives true temperatures on the core's clock."""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Floats

from world_o.parts import CORE_DT_S, Cause, Thermal

COARSE_STEPS = 10
COARSE_DT_S = COARSE_STEPS * CORE_DT_S
WARM_PIN_K = 120.0
"""A pin this far above the bath loses twice as much heat for each K, by boiling oil and along its holder."""


@dataclass(frozen=True, slots=True)
class Warmth:
    """True temperatures, and where the heat went."""

    bath_degc: Floats
    pin_degc: Floats
    heat_in_j: float
    bath_j: float
    lost_j: float


@dataclass(frozen=True, slots=True)
class Abnormal:
    """Heating that ought not to be: why, from when, how strong (W at the bath, or times as hot at the pin)."""

    cause: Cause
    from_s: float
    strength: float
    within_s: float


def warm(
    thermal: Thermal, power_w: Floats, extra_w: Floats, abnormal: Abnormal | None = None, night_s: float = math.nan
) -> Warmth:
    """Give temperatures by Euler's steps of 0.1 s: bath from friction, heater and loss, pin lagging above the bath.

    Over a night all that is above the room's temperature is lost.
    """
    n = power_w.size
    power = np.add.reduceat(power_w, np.arange(0, n, COARSE_STEPS)) / COARSE_STEPS
    extra = extra_w[::COARSE_STEPS].tolist()
    bath, heating = thermal.start_degc, True
    above = float(power[:20].mean()) * thermal.pin_k_per_w if n else 0.0
    baths, pins, heat_in, lost = [], [], 0.0, 0.0
    dt, per_k = COARSE_DT_S, thermal.bath_j_per_k
    night = -1 if math.isnan(night_s) else math.ceil(night_s / dt)
    for k, watt in enumerate(power.tolist()):
        if k == night:
            lost += per_k * (bath - thermal.ambient_degc)
            bath, above = thermal.ambient_degc, 0.0
        resistance, more_w, stuck = thermal.pin_k_per_w, 0.0, False
        if abnormal is not None and k * dt >= abnormal.from_s:
            grown = min(1.0, (k * dt - abnormal.from_s) / abnormal.within_s)
            if abnormal.cause is Cause.OIL_LOW:
                resistance *= 1.0 + (abnormal.strength - 1.0) * grown
            else:
                more_w, stuck = abnormal.strength * grown, abnormal.cause is Cause.HEATER_STUCK
        heating = bath < thermal.set_degc + (0.5 if heating else -0.5)
        heater_w = thermal.heater_w if heating and not stuck else 0.0
        gain_w = watt + heater_w + more_w + extra[k]
        loss_w = thermal.bath_w_per_k * (bath - thermal.ambient_degc)
        heat_in += gain_w * dt
        lost += loss_w * dt
        baths.append(bath)
        pins.append(bath + above)
        bath += (gain_w - loss_w) * dt / per_k
        above += (watt * resistance / (1.0 + above / WARM_PIN_K) - above) * dt / thermal.pin_s
    at, core = np.arange(len(baths)) * dt, np.arange(n) * CORE_DT_S
    kept = per_k * (bath - thermal.start_degc)
    return Warmth(np.interp(core, at, baths), np.interp(core, at, pins), heat_in, kept, lost)


def find_abnormal(
    thermal: Thermal,
    power_w: Floats,
    extra_w: Floats,
    cause: Cause,
    plan_s: tuple[float, float],
    limit_degc: float,
    pin: bool,
    night_s: float = math.nan,
) -> Abnormal:
    """Give a fault of cooling strong enough to pass a limit; its strength is raised until it does."""
    from_s, within_s = plan_s
    at = min(int(from_s / CORE_DT_S), power_w.size - 1)
    calm = warm(thermal, power_w[: at + COARSE_STEPS], extra_w, None, night_s)
    gap_k = max(2.0, limit_degc - float((calm.pin_degc if pin else calm.bath_degc)[-1]))
    watt = max(float(power_w[max(0, at - 2000) : at].mean()), 0.05)
    if cause is Cause.OIL_LOW:
        strength = 1.0 + 1.4 * gap_k / (watt * thermal.pin_k_per_w)
    else:
        strength = gap_k * thermal.bath_j_per_k / 150.0 + thermal.bath_w_per_k * gap_k * 0.7
    out = Abnormal(cause, from_s, strength, within_s)
    for _ in range(4):
        found = warm(thermal, power_w, extra_w, out, night_s)
        if float((found.pin_degc if pin else found.bath_degc).max()) > limit_degc + 1.5:
            break
        out = Abnormal(cause, from_s, out.strength * 1.8, within_s)
    return out
