"""What the technician knows: idle speed and current, ranges, limits. Reads a rig and its healthy running."""

import numpy as np
from world_b import values as v
from world_b.values import CHANNELS_OF, ChannelSet, Floats, RigFacts

from .drive_state import DriveState
from .drives import current_a
from .instruments import Panel, start_current_a
from .rigs import Rig
from .scripts import Script
from .tachometers import Counter


def idle(rig: Rig) -> tuple[float, float]:
    """Give the ring's speed with the pin lifted, rad/s, and the motor current then, A."""
    drive = rig.drive
    low, high = 0.3 * drive.free_speed_rad_s, drive.free_speed_rad_s
    if drive.reset_s > 0.0:
        low = high
    state = DriveState(drive, True, 0.0)
    for _ in range(50):
        middle = 0.5 * (low + high)
        wanted = rig.drag_torque_nm * (0.4 + 0.6 * middle / drive.free_speed_rad_s)
        low, high = (middle, high) if state.pull(middle, True) > wanted else (low, middle)
    torque = rig.drag_torque_nm * (0.4 + 0.6 * low / drive.free_speed_rad_s)
    slip = np.array([drive.free_speed_rad_s - low])
    amperes = current_a(drive, np.array([torque]), slip, np.ones(1), np.array([low / drive.free_speed_rad_s]))
    return low, float(amperes[0])


def set_limits(
    rng: np.random.Generator, rig: Rig, healthy: dict[str, Floats], pin_degc: float, bath_degc: float
) -> dict[str, float]:
    """Give the technician's limits by channel, each in its unit.

    Args:
        healthy: readings of a run of this rig, with these loads, in which all was well.
        pin_degc, bath_degc: highest true temperatures of that run.
    """
    forces = [float(np.nanmax(healthy[name])) for name in (v.NORMAL_LOAD, v.FRICTION_FORCE)]
    start_a = float(np.nanmax(healthy[v.MOTOR_CURRENT]))
    margins = rng.uniform((1.15, 1.2, 1.15, 8.0, 8.0), (1.4, 1.7, 1.4, 25.0, 20.0))
    limits = {
        v.NORMAL_LOAD: forces[0] * margins[0],
        v.FRICTION_FORCE: forces[1] * margins[1],
        v.PIN_TEMPERATURE: float(np.ceil(max(pin_degc, np.nanmax(healthy[v.PIN_TEMPERATURE])) + margins[3])),
        v.BATH_TEMPERATURE: float(np.ceil(max(bath_degc, np.nanmax(healthy[v.BATH_TEMPERATURE])) + margins[4])),
    }
    if start_current_a(rig.drive) < 2.6 * rig.drive.rated_current_a:
        limits[v.MOTOR_CURRENT] = start_a * margins[2]
    return {
        name: float(f"{value:.3g}") if name not in (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE) else value
        for name, value in limits.items()
    }


def write_facts(
    rng: np.random.Generator,
    rig: Rig,
    panel: Panel,
    counter: Counter,
    script: Script,
    limits: dict[str, float],
    channel_set: ChannelSet,
) -> RigFacts:
    """Give what the technician would write down about the rig."""
    speed, amperes = idle(rig)
    misread, nearly = 1.0 + float(rng.uniform(-0.04, 0.04)), 1.0 + float(rng.uniform(-0.005, 0.005))
    names = CHANNELS_OF[channel_set]
    speed_chain = panel.by_channel[v.RING_SPEED]
    return RigFacts(
        ring_diameter_mm=round(2000.0 * rig.radius_m, 2),
        ring_speed_rpm=round(speed * 30.0 / np.pi * nearly, 1),
        no_load_current_a=float(f"{amperes * misread:.3g}"),
        ranges={
            name: (panel.by_channel[name].low, panel.by_channel[name].high)
            if name != v.RING_SPEED
            else (speed_chain.low, speed_chain.high)
            for name in names
        },
        limits={name: limits[name] for name in names if name in limits},
        channel_set=channel_set,
        drive=rig.drive.kind,
        belt=rig.belt,
        tachometer=counter.kind,
        pulses_per_turn=counter.pulses,
        tachometer_on_motor=counter.on_motor,
        loads_n=tuple(round(level, 2) for level in script.levels_n),
    )
