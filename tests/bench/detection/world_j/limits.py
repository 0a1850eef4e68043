"""What the technician knows: idle speed and current, ranges, limits. Reads a rig and its healthy running."""

import numpy as np
from world_b import values as v
from world_b.values import CHANNELS_OF, ChannelSet, Floats, RigFacts

from .drives import DriveState, current_a
from .instruments import Panel, start_current_a
from .rigs import Rig


def idle(rig: Rig) -> tuple[float, float]:
    """Give the ring's speed with the pin lifted, rad/s, and the motor current then, A."""
    drive = rig.drive
    high = drive.free_speed_rad_s
    low = high if drive.reset_s > 0.0 else 0.3 * high
    for _ in range(40):
        middle = 0.5 * (low + high)
        wanted_nm = rig.drag_torque_nm * (0.4 + 0.6 * middle / drive.free_speed_rad_s)
        if DriveState(drive, True, 0.0, 0.0).pull(middle, True) > wanted_nm:
            low = middle
        else:
            high = middle
    share = low / drive.free_speed_rad_s
    torque_nm = rig.drag_torque_nm * (0.4 + 0.6 * share)
    slip = np.array([drive.free_speed_rad_s - low])
    amperes = current_a(drive, np.array([torque_nm]), slip, np.ones(1), np.array([share]))
    return low, float(amperes[0])


def set_limits(
    rng: np.random.Generator, rig: Rig, healthy: dict[str, Floats], true_degc: dict[str, float]
) -> dict[str, float]:
    """Give the technician's limits, in their channels' units, from readings and true temperatures when well."""
    highest = {name: float(np.nanmax(readings)) for name, readings in healthy.items()}
    load, force, amperes, pin_k, bath_k = rng.uniform((1.15, 1.2, 1.15, 8.0, 8.0), (1.4, 1.7, 1.4, 25.0, 20.0)).tolist()
    start_n = 1.1 * rig.contact.boundary_coefficient * (1.0 + rig.contact.static_extra) * highest[v.NORMAL_LOAD]
    force_n = max(highest[v.FRICTION_FORCE] * force, start_n)  # nor may a start under the top load pass it
    limits = {v.NORMAL_LOAD: highest[v.NORMAL_LOAD] * load, v.FRICTION_FORCE: force_n}
    if start_current_a(rig.drive) < 2.6 * rig.drive.rated_current_a:
        limits[v.MOTOR_CURRENT] = highest[v.MOTOR_CURRENT] * amperes
    limits = {name: float(f"{value:.3g}") for name, value in limits.items()}
    for name, margin_k in ((v.PIN_TEMPERATURE, pin_k), (v.BATH_TEMPERATURE, bath_k)):
        limits[name] = float(np.ceil(max(true_degc[name], highest[name]) + margin_k))
    return limits


def write_facts(
    rng: np.random.Generator, rig: Rig, panel: Panel, levels_n: list[float], limits: dict[str, float], fits: ChannelSet
) -> RigFacts:
    """Give what the technician would write down about the rig."""
    speed_rad_s, amperes = idle(rig)
    speed_rpm = round(speed_rad_s * 30.0 / np.pi * (1.0 + float(rng.uniform(-0.005, 0.005))), 1)
    no_load_a = float(f"{amperes * (1.0 + float(rng.uniform(-0.04, 0.04))):.3g}")
    names, counter = CHANNELS_OF[fits], panel.counter
    ranges = {name: (panel.by_channel[name].low, panel.by_channel[name].high) for name in names}
    known = {name: limits[name] for name in names if name in limits}
    tachometer = (counter.kind, counter.pulses, counter.on_motor)
    diameter_mm, loads_n = round(2000.0 * rig.radius_m, 2), tuple(round(level, 2) for level in levels_n)
    return RigFacts(
        diameter_mm, speed_rpm, no_load_a, ranges, known, fits, rig.drive.kind, rig.belt, *tachometer, loads_n
    )
