"""What the simulated rig is made of: every physical number in one frozen place.

Reads nothing. Physics, scenarios and a campaign over many rigs take their numbers from here.
"""

from dataclasses import dataclass, replace
from random import Random


@dataclass(frozen=True, slots=True)
class RigParams:
    """A pin-on-ring rig with a dead-weight lever, a small induction motor and a 15 mL bath.

    Sizes and speed are the demonstration rig's. Where no source is named the value is plausible, invented, and chosen
    so that a healthy staircase stays at a friction coefficient of 0.08-0.13 and a pin below 100 °C.

    Attributes:
        ring_diameter_mm, contact_length_mm: ring and the length of the line contact.
        lever_arm_mm, pivot_height_mm: arm of the pin, and how far the friction force passes the pivot; the friction
            force loads the lever by their ratio (moments about the pivot).
        synchronous_speed_rpm: ring speed without slip; about 600 r/min are left under load.
        breakdown_torque_nm, breakdown_slip: top of the torque-speed curve, at the ring.
        inertia_kg_m2: ring, rotor and belt, at the ring.
        drag_nm, drag_nm_s: bearing torque, and its share growing with speed.
        magnetising_current_a, locked_current_a: no-load and standstill current; about 3 times the running current.
        current_lag_s: time constant of the current transducer.
        viscosity_40_cst, viscosity_100_cst, density_kg_m3: the oil; ISO VG 46.
        film_ratio, film_power: the film parameter eta v L / W at which half the load is on asperities, and how fast
            that share falls.
        boundary_coefficient, fluid_coefficient: friction of the two shares.
        run_in_gain, run_in_limit, run_in_distance_m: friction excess after a load step and the distance it decays on.
        friction_noise, friction_noise_s, runout: relative correlated noise, its correlation time, and the
            once-a-revolution part.
        body_j_k, bath_j_k: heat capacities of pin and ring with shaft end, and of 15 mL of oil with its cup.
        body_loss_w_k, coupling_w_k, bath_loss_w_k: conductances to the room and between the two.
        room_degc, bath_set_degc, heater_w, heater_gain_w_k: room, thermostat and heater of the bath.
        pin_lag_s, bath_lag_s: first-order lags of the thermocouples.
        background_db, motor_db, friction_db_at_10w, scuffed_db: sound of the room, of the motor at speed, of 10 W of
            healthy friction, and what scuffing adds to the friction's share.
        sounder_db: the rig's own sounder.
        pulses_per_rev: of the tachometer.
        dry_s: time constant of losing the film once the bath is down.
    """

    ring_diameter_mm: float = 35.0
    contact_length_mm: float = 8.0
    lever_arm_mm: float = 100.0
    pivot_height_mm: float = 4.0
    synchronous_speed_rpm: float = 618.0
    breakdown_torque_nm: float = 3.2
    breakdown_slip: float = 0.16
    inertia_kg_m2: float = 0.02
    drag_nm: float = 0.05
    drag_nm_s: float = 0.0008
    magnetising_current_a: float = 0.6
    locked_current_a: float = 5.5
    current_lag_s: float = 0.010
    viscosity_40_cst: float = 46.0
    viscosity_100_cst: float = 6.8
    density_kg_m3: float = 870.0
    film_ratio: float = 1.3e-5
    film_power: float = 0.68
    boundary_coefficient: float = 0.118
    fluid_coefficient: float = 0.03
    run_in_gain: float = 0.35
    run_in_limit: float = 0.25
    run_in_distance_m: float = 9.0
    friction_noise: float = 0.015
    friction_noise_s: float = 0.06
    runout: float = 0.015
    body_j_k: float = 60.0
    bath_j_k: float = 96.0
    body_loss_w_k: float = 0.6
    coupling_w_k: float = 4.0
    bath_loss_w_k: float = 1.45
    room_degc: float = 23.0
    bath_set_degc: float = 40.0
    heater_w: float = 350.0
    heater_gain_w_k: float = 20.0
    pin_lag_s: float = 1.2
    bath_lag_s: float = 5.0
    background_db: float = 56.0
    motor_db: float = 64.0
    friction_db_at_10w: float = 60.0
    scuffed_db: float = 14.0
    sounder_db: float = 88.0
    pulses_per_rev: int = 60
    dry_s: float = 25.0

    @property
    def ring_radius_m(self) -> float:
        """Give the ring radius, m."""
        return self.ring_diameter_mm / 2000.0

    def varied(self, seed: int) -> "RigParams":
        """Give the same rig as it is on another day: oil, surfaces, noise and motor a few per cent apart."""
        day = Random(f"params/{seed}")
        return replace(
            self,
            boundary_coefficient=self.boundary_coefficient * day.uniform(0.95, 1.06),
            film_ratio=self.film_ratio * day.uniform(0.85, 1.15),
            viscosity_40_cst=self.viscosity_40_cst * day.uniform(0.95, 1.05),
            run_in_gain=self.run_in_gain * day.uniform(0.6, 1.4),
            friction_noise=self.friction_noise * day.uniform(0.8, 1.6),
            runout=self.runout * day.uniform(0.4, 1.6),
            breakdown_torque_nm=self.breakdown_torque_nm * day.uniform(0.97, 1.05),
            background_db=self.background_db + day.uniform(-3.0, 4.0),
            friction_db_at_10w=self.friction_db_at_10w + day.uniform(-2.0, 2.0),
            room_degc=self.room_degc + day.uniform(-3.0, 4.0),
        )


OIL_HEAT_CAPACITY_J_KG_K = 1950.0
"""Mineral oil near 40 °C; from memory, 1,900-2,100 in handbooks."""
CUP_J_K = 70.5
"""About 78 g of aluminium at 0.90 J/(g K)."""
