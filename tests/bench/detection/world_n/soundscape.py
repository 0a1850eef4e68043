"""Paints the sound level beside the rig.

Reads the slow chart's times, motion and friction, gives (n,) float64 in dB before the meter.
"""

import numpy as np
from world_b.values import Floats, Kind

from world_n.curves import decay, ramp, smooth, wander, window
from world_n.motion import Motion
from world_n.names import Oddity
from world_n.scene import Scene

SPEECH_SPACING_S = 0.25


def _guests_db(t_s: Floats, scene: Scene) -> Floats:
    added_db = np.zeros(len(t_s))
    for mark in scene.of(Kind.DOOR_SLAM):
        dt_s = t_s - mark.t_s
        added_db += (8.0 + 16.0 * mark.size) * smooth(dt_s / 0.05) * decay(dt_s, 0.4 * mark.duration_s)
    for mark in scene.of(Kind.NEIGHBOUR):
        added_db += (2.0 + 9.0 * mark.size) * window(t_s - mark.t_s, mark.duration_s, 0.1 * mark.duration_s)
    for mark in scene.of(Kind.VOICES):
        talk = np.maximum(wander(t_s, mark.seed, SPEECH_SPACING_S, scene.duration_s), 0.0)
        added_db += (2.0 + 6.0 * mark.size) * talk * window(t_s - mark.t_s, mark.duration_s, 1.0)
    for mark in scene.of(Kind.OIL_TOP_UP):
        added_db += 2.0 * mark.size * window(t_s - mark.t_s, mark.duration_s, 0.5)
    for mark in scene.of(Oddity.COMPRESSOR):
        period_s = 90.0 + 100.0 * mark.size
        phase_s = np.mod(t_s + 100.0 * mark.size, period_s)
        added_db += (2.0 + 5.0 * mark.size) * window(phase_s, 0.3 * period_s, 1.5)
    for mark in scene.of(Oddity.FAN_HEATER):
        period_s = 60.0 + 120.0 * mark.size
        added_db += (1.0 + 2.0 * mark.size) * window(np.mod(t_s, period_s), 0.5 * period_s, 2.0)
    for mark in scene.of(Oddity.WINDOW_OPENED):
        added_db += 2.0 * mark.size * smooth((t_s - mark.t_s) / 2.0)
    for step in scene.steps:
        added_db += 5.0 * step.bounce_share * decay(t_s - step.t_s, 0.25)
    return added_db


def _contact_db(t_s: Floats, scene: Scene, ring: Floats, strike: bool) -> Floats:
    added_db = np.zeros(len(t_s))
    for mark in scene.of(Kind.SQUEAL):
        breath = 0.8 + 0.2 * np.clip(wander(t_s, mark.seed, 1.5, scene.duration_s), -2.0, 1.0)
        added_db += (7.0 + 14.0 * mark.size) * breath * window(t_s - mark.t_s, mark.duration_s, 0.6)
    for mark in scene.of(Kind.STICK_SLIP):
        added_db += 5.0 * mark.size * window(t_s - mark.t_s, mark.duration_s, 2.0)
    event = scene.event
    if event is not None and strike and event.sound_db > 0.0:
        begin_s = event.start_s + event.sound_delay_s
        rise_s = max(0.2, 0.8 * event.rise_s) if event.rise_s == event.rise_s else 0.2
        dt_s = t_s - begin_s
        unrest = 1.0 + 0.15 * wander(t_s, event.seed + 4, 0.3, scene.duration_s)
        added_db += event.sound_db * ramp(dt_s / rise_s) * unrest * np.exp(-np.maximum(dt_s, 0.0) / event.sound_fade_s)
    return np.asarray(added_db * smooth(ring / 0.1))


def paint_sound(t_s: Floats, scene: Scene, motion: Motion, friction_n: Floats, strike: bool) -> Floats:
    """Give the level beside the rig, dB.

    Args:
        t_s: (n,) s, the chart's.
        scene: the plan.
        motion: at these times.
        friction_n: (n,) N, at these times, without waviness.
        strike: whether the event happens.
    """
    sound, contact = scene.rig.sound, scene.rig.contact
    usual_n = contact.coefficient * contact.largest_load_n
    doublings = np.clip(np.log2(np.maximum(friction_n, 1e-9) / usual_n), -3.0, 4.0)
    turning = np.maximum(motion.motor, 0.0)
    machine_db = sound.machine_db + sound.echo_db * doublings * smooth(motion.ring / 0.1)
    both = 10.0 ** (sound.room_db / 10.0) + turning**2 * 10.0 ** (machine_db / 10.0)
    level_db = 10.0 * np.log10(both) + _guests_db(t_s, scene) + _contact_db(t_s, scene, motion.ring, strike)
    return np.asarray(np.minimum(level_db, 122.0))
