"""Paints a sensor that goes wrong for good.

Reads a column and the plan, gives the column as the broken sensor writes it.
"""

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    SOUND_LEVEL,
    Fault,
    Floats,
)

from world_n.curves import ramp
from world_n.scene import Scene

UPSCALE_SHARE = 1.35
"""An amplifier that drives an open thermocouple upward shows this multiple of the range's top."""

SLOWEST_DRIFT_S = 170.0


def drift(t_s: Floats, values: Floats, scene: Scene, channel: str) -> Floats:
    """Give a column that slides away slowly, where this is the sensor's fault; else the column itself.

    Only friction beside an independent witness may drift upward, and never as far as scuffing would take it.
    """
    broken = scene.broken
    if broken is None or broken.fault is not Fault.DRIFT or broken.channel != channel:
        return values
    usual_n = scene.rig.contact.coefficient * scene.rig.contact.largest_load_n
    upward = 0.3 if broken.size > 0.5 and MOTOR_CURRENT in CHANNELS_OF[scene.rig.channel_set] else -0.6
    size = {
        FRICTION_FORCE: upward * usual_n,
        NORMAL_LOAD: -0.3 * scene.rig.contact.largest_load_n,
        MOTOR_CURRENT: -0.35 * scene.rig.drive.no_load_a,
        SOUND_LEVEL: -10.0,
        PIN_TEMPERATURE: -15.0,
        BATH_TEMPERATURE: -10.0,
    }[channel]
    length_s = SLOWEST_DRIFT_S * (0.35 + 0.65 * broken.size)
    return values + (0.6 + 0.4 * broken.size) * size * ramp((t_s - broken.t_s) / length_s)


def break_sensor(t_s: Floats, values: Floats, scene: Scene, channel: str, span: tuple[float, float]) -> Floats:
    """Give a column as a broken sensor writes it; other columns are handed back.

    Args:
        t_s: (n,) s.
        values: (n,) as the logger would write them.
        scene: the plan.
        channel: of the column.
        span: range of the channel.
    """
    broken = scene.broken
    if broken is None or broken.channel != channel or broken.fault is Fault.DRIFT:
        return values
    late = t_s >= broken.t_s
    if broken.fault is Fault.STUCK:
        first = min(int(np.searchsorted(t_s, broken.t_s)), len(t_s) - 1)
        return np.where(late, values[first], values)
    if broken.fault is Fault.SATURATED:
        return np.where(late, span[1], values)
    if broken.fault is Fault.OPEN_THERMOCOUPLE:
        return np.where(late, np.nan if broken.size < 0.5 else span[1] * UPSCALE_SHARE, values)
    if broken.fault is Fault.DROPOUT:
        flicker = np.mod((t_s - broken.t_s) * 0.37, 1.0) < (1.0 if broken.size < 0.5 else broken.size)
        return np.where(late & flicker, np.nan, values)
    if broken.fault is Fault.SIGN_FLIP:
        return np.where(late, -values, values)
    return np.where(late, 0.0, values)
