"""Heat paths of one rig in W/K and J/K: the pin to the bath, the bath to the room, and the heater.

Reads the rig; a path is never thinner than what a thing of that size loses to oil and air.
"""

from dataclasses import dataclass

from .rig import Rig, Size

LEAST_BATH_W_K = {Size.TINY: 0.03, Size.SMALL: 0.1, Size.MIDDLE: 0.4, Size.LARGE: 1.2}
LEAST_PIN_W_K = {Size.TINY: 0.008, Size.SMALL: 0.02, Size.MIDDLE: 0.08, Size.LARGE: 0.2}


@dataclass(frozen=True, slots=True)
class Paths:
    """Heat paths and stores; a heater of 0 W is none."""

    pin_share: float
    pin_w_k: float
    pin_j_k: float
    bath_w_k: float
    bath_j_k: float
    heater_w: float
    set_degc: float
    band_k: float
    start_degc: float


def heat_paths(rig: Rig) -> Paths:
    """Give the paths that make bath and pin rise as drawn at the usual friction power."""
    heat = rig.heat
    power_w = rig.usual_power_w
    pin_w_k = max(heat.pin_share * power_w / heat.pin_rise_k, LEAST_PIN_W_K[rig.size])
    bath_w_k = max(power_w / heat.bath_rise_k, LEAST_BATH_W_K[rig.size])
    heated = heat.heater_lift_k > 0
    return Paths(
        pin_share=heat.pin_share,
        pin_w_k=pin_w_k,
        pin_j_k=pin_w_k * heat.pin_time_s,
        bath_w_k=bath_w_k,
        bath_j_k=bath_w_k * heat.bath_time_s,
        heater_w=bath_w_k * heat.heater_lift_k,
        set_degc=heat.heater_set_degc,
        band_k=heat.thermostat_k,
        start_degc=heat.heater_set_degc - 0.5 if heated and heat.warmed else heat.room_degc,
    )
