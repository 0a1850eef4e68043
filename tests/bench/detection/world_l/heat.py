"""Heat of pin and bath: two nodes, air, a heater with a thermostat, and what goes wrong with them. Reads nothing."""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Floats


@dataclass(frozen=True, slots=True)
class HeatPaths:
    """Heat capacities and conductances of a rig; `heater_set_degc` is NaN where there is no heater.

    `pin_share` of the friction power enters the pin, the rest the ring and with it the bath.
    """

    pin_j_per_k: float
    bath_j_per_k: float
    pin_to_bath_w_per_k: float
    pin_to_air_w_per_k: float
    bath_to_air_w_per_k: float
    pin_share: float
    ambient_degc: float
    ambient_k_per_h: float
    heater_w: float
    heater_set_degc: float
    heater_band_k: float


@dataclass(slots=True)
class HeatState:
    """Temperatures, the thermostat, and the joules counted so far: put in, and given to the air."""

    pin_degc: float
    bath_degc: float
    heater_on: bool = False
    put_in_j: float = 0.0
    given_off_j: float = 0.0


@dataclass(frozen=True, slots=True)
class HeatTrouble:
    """What is abnormal in a moment: watts stuck on in the bath, and the part of the pin's cooling that is left."""

    extra_bath_w: float = 0.0
    pin_cooling: float = 1.0


HEALTHY = HeatTrouble()


def step(
    state: HeatState, paths: HeatPaths, friction_w: float, ambient_degc: float, trouble: HeatTrouble, dt_s: float
) -> None:
    """Move both temperatures on by one step; the pin's by its exact exponential, the bath's by what then flowed."""
    if not math.isnan(paths.heater_set_degc):
        if state.bath_degc > paths.heater_set_degc + paths.heater_band_k / 2:
            state.heater_on = False
        elif state.bath_degc < paths.heater_set_degc - paths.heater_band_k / 2:
            state.heater_on = True
    heater_w = (paths.heater_w if state.heater_on else 0.0) + trouble.extra_bath_w
    to_bath = paths.pin_to_bath_w_per_k * trouble.pin_cooling
    to_air = paths.pin_to_air_w_per_k
    pin_w = paths.pin_share * friction_w
    rest_degc = (pin_w + to_bath * state.bath_degc + to_air * ambient_degc) / (to_bath + to_air)
    tau_s = paths.pin_j_per_k / (to_bath + to_air)
    gone = -math.expm1(-dt_s / tau_s)
    mean_pin_degc = rest_degc + (state.pin_degc - rest_degc) * gone * tau_s / dt_s
    state.pin_degc += (rest_degc - state.pin_degc) * gone
    air_w = to_air * (mean_pin_degc - ambient_degc) + paths.bath_to_air_w_per_k * (state.bath_degc - ambient_degc)
    into_bath_w = friction_w - pin_w + heater_w + to_bath * (mean_pin_degc - state.bath_degc)
    into_bath_w -= paths.bath_to_air_w_per_k * (state.bath_degc - ambient_degc)
    state.bath_degc += into_bath_w * dt_s / paths.bath_j_per_k
    state.put_in_j += (friction_w + heater_w) * dt_s
    state.given_off_j += air_w * dt_s


def ambient_degc(paths: HeatPaths, t_s: Floats) -> Floats:
    """Give the air's temperature: part of a day's swing, and the slow breath of a heated room (20 min, 0.3 K)."""
    swing: Floats = paths.ambient_degc + paths.ambient_k_per_h * t_s / 3600.0 + 0.3 * np.sin(t_s / 190.0)
    return swing
