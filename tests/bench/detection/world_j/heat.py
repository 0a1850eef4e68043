"""Temperatures of pin, ring and bath. Reads friction work as it is done, keeps three temperatures."""

from dataclasses import dataclass

import numpy as np
from world_b.values import Floats

from .friction_story import FrictionStory
from .rigs import Rig
from .scripts import Script

STEP_S = 0.005
HEAT_EVERY = 20


@dataclass(frozen=True, slots=True)
class Extra:
    """What comes from outside: (n,) jam torque at the ring in N m, heat into the bath in W, pin conductance factor."""

    jam_nm: Floats
    bath_w: Floats
    pin_factor: Floats


class HeatState:
    """Temperatures of pin, ring and bath, in degC, moved on every HEAT_EVERY steps."""

    def __init__(self, rig: Rig, script: Script, story: FrictionStory, extra: Extra, warm: float) -> None:
        self.rig, self.extra = rig, extra
        heat, top_w = rig.heat, 0.08 * rig.top_load_n * rig.radius_m * rig.drive.free_speed_rad_s
        goal = heat.set_degc if heat.heater_w > 0.0 else heat.ambient_degc + 0.7 * top_w / heat.bath_w_k
        start = warm if heat.heater_w > 0.0 or script.mid_run else 0.1 * warm
        self.bath = heat.ambient_degc + start * (goal - heat.ambient_degc)
        self.pin = self.ring = self.bath
        self.heat_in_j = 0.0
        self.baths, self.pins = list[float](), list[float]()
        self.steps_k = [(int(t / STEP_S), kelvin) for t, kelvin in story.oil_step_k]
        self.night = int(script.day_s / STEP_S) if np.isfinite(script.day_s) else -1
        self.reference_degc = goal

    def viscosity(self) -> float:
        """Give the oil's viscosity against that at the usual temperature, -."""
        return float(np.exp(-0.022 * (self.bath - self.reference_degc)))

    def drag_factor(self) -> float:
        """Give the drag of seals and bearings against that of the warm rig, -."""
        return 1.0 + self.rig.cold_drag_share * float(np.clip((60.0 - self.bath) / 40.0, 0.0, 1.0))

    def advance(self, k: int, energy_j: float) -> None:
        """Move on to step k with the friction work done since the last call."""
        heat, dt = self.rig.heat, STEP_S * HEAT_EVERY
        if k > 0:
            heater_w = self.extra.bath_w[k]
            if heat.heater_w > 0.0:
                heater_w += min(max((heat.set_degc - self.bath) / 4.0, 0.0), 1.0) * heat.heater_w
            from_pin = heat.pin_w_k * self.extra.pin_factor[k] * (self.pin - self.bath)
            from_ring = heat.ring_w_k * (self.ring - self.bath)
            self.pin += (heat.pin_share * energy_j - from_pin * dt) / heat.pin_j_k
            self.ring += ((1.0 - heat.pin_share) * energy_j - from_ring * dt) / heat.ring_j_k
            lost = heat.bath_w_k * (self.bath - heat.ambient_degc)
            self.bath += (from_pin + from_ring + heater_w - lost) * dt / heat.bath_j_k
            self.heat_in_j += energy_j + heater_w * dt
            for at, kelvin in self.steps_k:
                if k - HEAT_EVERY < at <= k:
                    self.bath += kelvin
            if k - HEAT_EVERY < self.night <= k:
                cold = heat.ambient_degc + (0.9 * (heat.set_degc - heat.ambient_degc) if heat.heater_w > 0.0 else 0.0)
                self.bath = self.pin = self.ring = cold
        self.baths.append(self.bath)
        self.pins.append(self.pin)
