"""The hardware of one rig: how big, how fast, which drive, which oil, how it sheds its heat.

Reads the draws; gives a `Rig`, the same whatever channels are fitted and however fast they are read.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from world_b.values import DriveKind

from .draws import Rng, chance, log_uniform, uniform
from .fit_motor import MotorKind, fit_motor
from .friction import USUAL_FRICTION, Law, draw_law
from .heat import Paths, draw_paths
from .motors import Motor


class Size(Enum):
    """How big a rig is: top load in N and ring in mm from and to, friction power in W, least heat loss in W/K."""

    TINY = (0.7, 8.0, 6.0, 25.0, 4.0, 0.03)
    SMALL = (8.0, 80.0, 15.0, 50.0, 50.0, 0.1)
    MIDDLE = (80.0, 500.0, 25.0, 80.0, 220.0, 0.4)
    LARGE = (500.0, 2000.0, 35.0, 120.0, 500.0, 1.2)


NEAREST_DRIVE = {
    MotorKind.MAGNETS: DriveKind.BRUSHED_BARE,
    MotorKind.UNIVERSAL: DriveKind.BRUSHED_BARE,
    MotorKind.SPEED_LOOP: DriveKind.BRUSHED_LIMITED,
    MotorKind.THREE_PHASE: DriveKind.INDUCTION_DIRECT,
    MotorKind.CAPACITOR_RUN: DriveKind.INDUCTION_DIRECT,
    MotorKind.INVERTER: DriveKind.INDUCTION_INVERTER,
}
MOTORS_OF = {
    Size.TINY: (MotorKind.MAGNETS, MotorKind.SPEED_LOOP),
    Size.SMALL: (MotorKind.MAGNETS, MotorKind.SPEED_LOOP, MotorKind.UNIVERSAL, MotorKind.CAPACITOR_RUN),
    Size.MIDDLE: tuple(MotorKind)[1:],
    Size.LARGE: (MotorKind.THREE_PHASE, MotorKind.INVERTER, MotorKind.SPEED_LOOP, MotorKind.CAPACITOR_RUN),
}


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig. Torques and inertias as seen at the ring."""

    size: Size
    top_load_n: float
    ring_radius_m: float
    set_speed_rad_s: float
    no_load_current_a: float
    motor_kind: MotorKind
    motor: Motor
    motor_inertia_kg_m2: float
    ring_inertia_kg_m2: float
    drag_nm: float
    drag_coulomb_share: float
    cold_drag_share: float
    cold_drag_time_s: float
    worm: bool
    belt_grip_nm: float
    lever_hz: float
    lever_damping: float
    lever_hysteresis: float
    pull_in: float
    run_out: float
    run_out_load: float
    seam_ripple: float
    seam_ratio: float
    law: Law
    paths: Paths

    @property
    def drive(self) -> DriveKind:
        """Give the nearest of the drives that have a name."""
        return NEAREST_DRIVE[self.motor_kind]

    @property
    def belt(self) -> bool:
        """Say whether a belt can slip."""
        return self.belt_grip_nm > 0

    @property
    def slide_m_s(self) -> float:
        """Give the sliding speed at set speed."""
        return self.ring_radius_m * self.set_speed_rad_s

    @property
    def usual_power_w(self) -> float:
        """Give the friction power at top load and a friction coefficient of 0.1."""
        return USUAL_FRICTION * self.top_load_n * self.slide_m_s


def _draw_speed(rng: Rng, size: Size, radius_m: float, top_load_n: float) -> float:
    slide_m_s = log_uniform(rng, 0.06, 3.5)
    slide_m_s = min(slide_m_s, size.value[4] / (USUAL_FRICTION * top_load_n))
    speed_rpm = min(max(slide_m_s / radius_m * 60.0 / (2 * np.pi), 30.0), 3000.0)
    return speed_rpm * 2 * np.pi / 60.0


def draw_rig(rng: Rng) -> Rig:
    """Draw a whole rig."""
    size = list(Size)[int(rng.choice(4, p=[0.15, 0.3, 0.4, 0.15]))]
    low_n, high_n, low_mm, high_mm, _, least_w_k = size.value
    top_load_n = log_uniform(rng, low_n, high_n)
    radius_m = log_uniform(rng, low_mm, high_mm) / 2000.0
    speed_rad_s = _draw_speed(rng, size, radius_m, top_load_n)
    usual_nm = USUAL_FRICTION * top_load_n * radius_m
    kinds = MOTORS_OF[size]
    kind = kinds[int(rng.integers(len(kinds)))]
    drag_nm = usual_nm * (uniform(rng, 0.8, 2.2) if kind is MotorKind.UNIVERSAL else log_uniform(rng, 0.12, 1.2))
    fitted = fit_motor(rng, kind, size is Size.TINY, speed_rad_s, drag_nm, usual_nm)
    paths = draw_paths(rng, usual_nm * speed_rad_s, least_w_k)
    usual_degc = paths.set_degc if paths.heater_w else paths.room_degc + 0.3 * paths.rise_k
    worm = chance(rng, 0.2)
    belt = not worm and chance(rng, 0.3)
    return Rig(
        size=size, top_load_n=top_load_n, ring_radius_m=radius_m, set_speed_rad_s=fitted.set_speed_rad_s,
        no_load_current_a=fitted.no_load_current_a, motor_kind=kind, motor=fitted.motor,
        motor_inertia_kg_m2=fitted.inertia_kg_m2 * 0.6, ring_inertia_kg_m2=fitted.inertia_kg_m2 * 0.4,
        drag_nm=drag_nm, drag_coulomb_share=0.85 if worm else uniform(rng, 0.2, 0.7),
        cold_drag_share=uniform(rng, 0.02, 0.35), cold_drag_time_s=uniform(rng, 60.0, 300.0), worm=worm,
        belt_grip_nm=uniform(rng, 1.5, 3.5) * (drag_nm + 1.4 * usual_nm) if belt else 0.0,
        lever_hz=log_uniform(rng, 2.0, 9.0), lever_damping=log_uniform(rng, 0.03, 0.25),
        lever_hysteresis=uniform(rng, 0.0, 0.015), pull_in=uniform(rng, -0.12, 0.12),
        run_out=log_uniform(rng, 0.004, 0.06), run_out_load=log_uniform(rng, 0.002, 0.02),
        seam_ripple=log_uniform(rng, 0.002, 0.02) if belt or worm else 0.0,
        seam_ratio=uniform(rng, 0.2, 0.7) if belt else 20.0,
        law=draw_law(rng, usual_degc, paths.rise_k, speed_rad_s * radius_m, top_load_n), paths=paths,
    )  # fmt: skip
