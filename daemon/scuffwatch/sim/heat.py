"""Heat of the simulated rig: pin and ring on one node, the bath on the other, and lagging thermocouples.

Reads friction and heater power, gives temperatures.
"""

import math

from scuffwatch.sim.params import RigParams


class HeatBalance:
    """Two heat capacities, a conductance between them and one each to the room; explicit Euler steps.

    What survives a call: both temperatures. Starts where the thermostat holds the standing rig.
    """

    __slots__ = ("_params", "bath_degc", "bath_j_k", "body_degc", "heater_stuck", "heater_w")

    def __init__(self, params: RigParams, bath_degc: float | None = None) -> None:
        self._params = params
        self.bath_degc = params.bath_set_degc if bath_degc is None else bath_degc
        self.bath_j_k = params.bath_j_k
        self.body_degc = standing_body_degc(params, self.bath_degc)
        self.heater_w = 0.0
        self.heater_stuck = False

    def step(self, dt_s: float, friction_w: float, powered: bool) -> None:
        """Let `dt_s` pass with this friction power, all of it into pin and ring; the permit powers the heater too."""
        params = self._params
        body, bath = self.body_degc, self.bath_degc
        heater_w = 0.0
        if powered:
            wanted_w = (params.bath_set_degc - bath) * params.heater_gain_w_k
            heater_w = params.heater_w if self.heater_stuck else min(max(wanted_w, 0.0), params.heater_w)
        self.heater_w = heater_w
        across_w = (body - bath) * params.coupling_w_k
        room = params.room_degc
        self.body_degc = body + (friction_w - across_w - (body - room) * params.body_loss_w_k) * dt_s / params.body_j_k
        self.bath_degc = bath + (heater_w + across_w - (bath - room) * params.bath_loss_w_k) * dt_s / self.bath_j_k


def standing_body_degc(params: RigParams, bath_degc: float) -> float:
    """Give the temperature pin and ring take over a bath that is held, with nothing turning."""
    total_w_k = params.coupling_w_k + params.body_loss_w_k
    return (params.coupling_w_k * bath_degc + params.body_loss_w_k * params.room_degc) / total_w_k


class Lag:
    """First-order lag of a thermocouple or transducer.

    Args:
        lag_s: time constant, > 0; 63 % of a step is seen after it.
        period_s: sampling period, > 0.
        value: what it starts from.
    """

    __slots__ = ("_share", "value")

    def __init__(self, lag_s: float, period_s: float, value: float) -> None:
        self._share = -math.expm1(-period_s / lag_s)
        self.value = value

    def step(self, value: float) -> float:
        """Take the true value of one sampling period, give what the sensor shows."""
        self.value += (value - self.value) * self._share
        return self.value
