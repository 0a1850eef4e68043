"""Choose a motor for a rig as its builder would: by the torque it has to give, with a margin.

Reads the torques of the rig; gives the motor, its inertia, and what it does with the pin lifted.
"""

from dataclasses import dataclass, replace
from enum import Enum
from math import sqrt

from .draws import Rng, chance, log_uniform, uniform
from .motors import Induction, Inverter, Motor, PermanentMagnet, SpeedLoop, Universal

LEAST_CAGE_W = 20.0
"""Rated power of the smallest cage motor one can buy, geared down."""


class MotorKind(Enum):
    """The six drives of this world."""

    MAGNETS = "permanent-magnet motor on a fixed voltage"
    SPEED_LOOP = "permanent-magnet motor with a PI speed loop"
    UNIVERSAL = "universal motor on the mains"
    THREE_PHASE = "three-phase cage motor on the mains"
    CAPACITOR_RUN = "single-phase capacitor-run motor on the mains"
    INVERTER = "cage motor on an inverter with slip compensation"


@dataclass(frozen=True, slots=True)
class Fitted:
    """A motor in its place; speeds and inertia at the ring."""

    motor: Motor
    inertia_kg_m2: float
    set_speed_rad_s: float
    no_load_current_a: float


def _magnets(rng: Rng, tiny: bool, speed_rad_s: float, drag_nm: float, run_nm: float) -> Motor:
    volts = uniform(rng, 3.0, 12.0) if tiny else uniform(rng, 12.0, 90.0)
    stall_nm = run_nm * uniform(rng, 3.0, 8.0)
    free_rad_s = speed_rad_s / (1.0 - drag_nm / stall_nm)
    return PermanentMagnet(stall_nm, free_rad_s, free_rad_s / (volts * uniform(rng, 0.55, 0.85)))


def _speed_loop(rng: Rng, tiny: bool, speed_rad_s: float, inertia: float, run_nm: float) -> Motor:
    volts = uniform(rng, 5.0, 24.0) if tiny else uniform(rng, 24.0, 180.0)
    bandwidth_rad_s = log_uniform(rng, 3.0, 20.0)
    return SpeedLoop(
        max_torque_nm=run_nm * uniform(rng, 1.8, 3.5),
        set_speed_rad_s=speed_rad_s,
        amps_per_nm=speed_rad_s * uniform(rng, 1.1, 1.4) / (volts * uniform(rng, 0.6, 0.85)),
        gain_nm_s=inertia * bandwidth_rad_s,
        integral_gain_nm=inertia * bandwidth_rad_s**2 * uniform(rng, 0.15, 0.4),
        ramp_s=log_uniform(rng, 0.2, 4.0),
    )


def _universal(rng: Rng, speed_rad_s: float, drag_nm: float, run_nm: float) -> Motor:
    stall_nm = run_nm * uniform(rng, 5.0, 10.0)
    half_rad_s = speed_rad_s / (sqrt(stall_nm / drag_nm) - 1.0)
    power_w = drag_nm * speed_rad_s
    run_current_a = power_w / (230.0 * uniform(rng, 0.3, 0.5))
    return Universal(stall_nm, half_rad_s, run_current_a * sqrt(stall_nm / drag_nm))


def _cage(rng: Rng, three_phase: bool, speed_rad_s: float, drag_nm: float, run_nm: float) -> Motor:
    rated_nm = max(run_nm * uniform(rng, 1.1, 2.0), LEAST_CAGE_W / speed_rad_s)
    breakdown_nm = rated_nm * (uniform(rng, 2.0, 2.8) if three_phase else uniform(rng, 1.7, 2.2))
    slip = uniform(rng, 0.1, 0.25) if three_phase else uniform(rng, 0.15, 0.35)
    synchronous_rad_s = speed_rad_s / (1.0 - drag_nm * slip / (2.0 * breakdown_nm))
    volts_amps = sqrt(3.0) * 400.0 if three_phase else 230.0
    breakdown_a = breakdown_nm * synchronous_rad_s / (volts_amps * uniform(rng, 0.45, 0.65))
    magnetising_a = breakdown_a / 3.0 * (uniform(rng, 0.35, 0.7) if three_phase else uniform(rng, 0.4, 0.8))
    return Induction(breakdown_nm, synchronous_rad_s, slip, magnetising_a, breakdown_a, uniform(rng, 1.0, 3.0))


def _inverter(rng: Rng, speed_rad_s: float, run_nm: float) -> Motor:
    rated_nm = max(run_nm * uniform(rng, 1.1, 2.0), LEAST_CAGE_W / speed_rad_s)
    amps_per_nm = speed_rad_s / (sqrt(3.0) * 230.0 * uniform(rng, 0.5, 0.75))
    return Inverter(
        max_torque_nm=rated_nm * uniform(rng, 1.3, 1.9), set_speed_rad_s=speed_rad_s,
        slip_per_nm_rad_s=uniform(rng, 0.02, 0.07) * speed_rad_s / rated_nm,
        magnetising_a=amps_per_nm * rated_nm * uniform(rng, 0.3, 0.65), amps_per_nm=amps_per_nm,
        ramp_s=log_uniform(rng, 0.5, 6.0), compensation=uniform(rng, 0.0, 0.85) if chance(rng, 0.7) else 0.0,
        delay_s=log_uniform(rng, 0.1, 1.0),
    )  # fmt: skip


def _run_unloaded(motor: Motor, drag_nm: float, speed_rad_s: float, inertia: float) -> tuple[float, float]:
    running, speed, current = replace(motor), speed_rad_s, 0.0
    for _ in range(8000):
        torque, slope, current = running.pull(speed, 0.005, 1.0)
        speed = max(speed + 0.005 * (torque - drag_nm) / (inertia - 0.005 * slope), 0.0)
    return speed, current


def fit_motor(rng: Rng, kind: MotorKind, tiny: bool, speed_rad_s: float, drag_nm: float, usual_nm: float) -> Fitted:
    """Give a motor that turns the ring at that speed against the drag, with torque to spare for the contact."""
    run_nm = drag_nm + 1.3 * usual_nm
    inertia = log_uniform(rng, 0.08, 0.8) * 2.0 * run_nm / speed_rad_s
    match kind:
        case MotorKind.MAGNETS:
            motor = _magnets(rng, tiny, speed_rad_s, drag_nm, run_nm)
        case MotorKind.SPEED_LOOP:
            motor = _speed_loop(rng, tiny, speed_rad_s, inertia, run_nm)
        case MotorKind.UNIVERSAL:
            motor = _universal(rng, speed_rad_s, drag_nm, run_nm)
        case MotorKind.INVERTER:
            motor = _inverter(rng, speed_rad_s, run_nm)
        case _:
            motor = _cage(rng, kind is MotorKind.THREE_PHASE, speed_rad_s, drag_nm, run_nm)
    set_speed_rad_s, current_a = _run_unloaded(motor, drag_nm, speed_rad_s, inertia)
    return Fitted(motor, inertia, set_speed_rad_s, current_a)
