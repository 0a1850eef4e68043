"""The slow chart: what a pen would draw, 20 values a second at any rate of the recording.

Reads a `Scene`, gives turns of the ring, temperatures and sound on a grid of its own, to be read off between.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import BATH_TEMPERATURE, PIN_TEMPERATURE, Floats

from world_n.contact import paint_contact
from world_n.current import torque_share
from world_n.curves import lagged
from world_n.motion import paint_motion
from world_n.scene import Scene
from world_n.soundscape import paint_sound
from world_n.warmth import Limits, paint_bath, with_event

STEP_S = 0.05
BEYOND_S = 1.0


@dataclass(frozen=True, slots=True)
class Chart:
    """(m,) each, every 0.05 s from 0 to just beyond the end of the recording.

    Attributes:
        droop: share of speed lost to friction.
        ring_turns, motor_turns: since the first row, both in turns of the ring.
        friction_power_w: heat of the contact, without waviness.
        bath_degc, pin_degc: true.
        bath_shown_degc, pin_shown_degc: after the thermocouple.
        sound_db, sound_shown_db: before and after the meter.
    """

    t_s: Floats
    friction_n: Floats
    droop: Floats
    ring_turns: Floats
    motor_turns: Floats
    friction_power_w: Floats
    bath_degc: Floats
    pin_degc: Floats
    bath_shown_degc: Floats
    pin_shown_degc: Floats
    sound_db: Floats
    sound_shown_db: Floats

    def at(self, t_s: Floats, values: Floats) -> Floats:
        """Read one of the courses off at other times."""
        return np.interp(t_s, self.t_s, values)


def _lag(values: Floats, tau_s: float, night_i: int) -> Floats:
    parts = (values[:night_i], values[night_i:])
    return np.concatenate([lagged(p, STEP_S, tau_s) for p in parts if len(p)])


def paint_chart(scene: Scene, strike: bool, warn: bool, healthy: Chart | None, limits: Limits | None) -> Chart:
    """Paint the chart.

    Args:
        scene: the plan.
        strike, warn: whether the event, and the damage ahead of it, happen.
        healthy: the chart of the same plan without either; None paints that one.
        limits: what the technician set; None only for the healthy chart.
    """
    rig = scene.rig
    t_s = np.arange(0.0, scene.duration_s + BEYOND_S, STEP_S)
    night_i = 0 if math.isnan(scene.night_s) else int(np.searchsorted(t_s, scene.night_s))
    motion = paint_motion(t_s, scene, strike)
    rubbing = paint_contact(t_s, scene, motion, None, strike, warn)
    droop = rig.drive.droop * _lag(torque_share(scene, rubbing.friction_n), rig.drive.droop_lag_s, 0)
    per_step = rig.drive.speed_rpm / 60.0 * STEP_S
    moving = 1.0 - np.minimum(droop, 0.9)
    speed_m_s = motion.ring * moving * rig.drive.speed_rpm / 60.0 * math.pi * rig.contact.diameter_mm / 1000.0
    warming = rubbing.friction_n * motion.ring / (rig.contact.coefficient * rig.contact.largest_load_n)
    bath = paint_bath(t_s, scene) + rig.heat.friction_rise_k * _lag(warming, rig.heat.friction_tau_s, night_i)
    pin = bath + rig.heat.pin_rise_k * _lag(warming, rig.heat.pin_tau_s, night_i)
    if healthy is not None and limits is not None:
        bath, pin = with_event(scene, t_s, (bath, pin), (healthy.bath_degc, healthy.pin_degc), limits, strike)
    sound = paint_sound(t_s, scene, motion, rubbing.friction_n, strike)
    return Chart(
        t_s=t_s,
        friction_n=rubbing.friction_n,
        droop=np.minimum(droop, 0.9),
        ring_turns=np.concatenate([[0.0], np.cumsum(motion.ring * moving)[:-1]]) * per_step,
        motor_turns=np.concatenate([[0.0], np.cumsum(motion.motor * moving)[:-1]]) * per_step,
        friction_power_w=rubbing.friction_n * speed_m_s,
        bath_degc=bath,
        pin_degc=pin,
        bath_shown_degc=_lag(bath, rig.readings[BATH_TEMPERATURE].lag_s, night_i),
        pin_shown_degc=_lag(pin, rig.readings[PIN_TEMPERATURE].lag_s, night_i),
        sound_db=sound,
        sound_shown_db=_lag(sound, rig.sound.meter_lag_s, night_i),
    )
