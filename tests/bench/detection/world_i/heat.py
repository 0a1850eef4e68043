"""Heat paths of one rig in W/K and J/K: the pin to the bath, the bath to the room, and the heater.

Reads the draws; a path is never thinner than what a thing of that size loses to oil and air.
"""

from dataclasses import dataclass

from .draws import Rng, chance, log_uniform, uniform


@dataclass(frozen=True, slots=True)
class Paths:
    """Heat paths and stores; a heater of 0 W is none. `rise_k`: of pin and bath over the room at usual power."""

    room_degc: float
    pin_share: float
    pin_w_k: float
    pin_j_k: float
    bath_w_k: float
    bath_j_k: float
    heater_w: float
    set_degc: float
    band_k: float
    start_degc: float
    rise_k: float


def draw_paths(rng: Rng, power_w: float, least_bath_w_k: float) -> Paths:
    """Draw paths by which the usual friction power warms pin and bath by some kelvin, less on a feeble rig."""
    pin_share, room_degc = uniform(rng, 0.25, 0.5), uniform(rng, 17.0, 29.0)
    pin_rise_k, bath_rise_k = log_uniform(rng, 5.0, 32.0), log_uniform(rng, 5.0, 40.0)
    pin_w_k = max(pin_share * power_w / pin_rise_k, 0.2 * least_bath_w_k)
    bath_w_k = max(power_w / bath_rise_k, least_bath_w_k)
    heated, warmed, set_degc = chance(rng, 0.4), chance(rng, 0.6), uniform(rng, 40.0, 90.0)
    return Paths(
        room_degc=room_degc, pin_share=pin_share, pin_w_k=pin_w_k, pin_j_k=pin_w_k * log_uniform(rng, 4.0, 40.0),
        bath_w_k=bath_w_k, bath_j_k=bath_w_k * log_uniform(rng, 300.0, 1800.0),
        heater_w=bath_w_k * uniform(rng, 90.0, 160.0) if heated else 0.0, set_degc=set_degc,
        band_k=uniform(rng, 0.2, 1.5), start_degc=set_degc - 0.5 if heated and warmed else room_degc,
        rise_k=pin_rise_k + bath_rise_k,
    )  # fmt: skip
