"""Paints motor current and shaft torque.

Reads motion and rubbing, gives (n,) float64 in A and N m.
"""

import math

import numpy as np
from world_b.values import DriveKind, Floats, Kind, Klass

from world_n.contact import Rubbing
from world_n.curves import bump, decay
from world_n.motion import Motion, supply_share
from world_n.names import Oddity
from world_n.scene import Scene

BELT_SLIP_SHARE = 0.5
"""A belt that slips on a held ring loads the motor with this share of the way to its standstill current."""


def cold_share(t_s: Floats, scene: Scene) -> Floats:
    """Give what cold grease adds to drag and no-load current, as a share of them."""
    drive = scene.rig.drive
    share = drive.cold_share * decay(t_s - max(scene.runs[0][0], -drive.cold_tau_s), drive.cold_tau_s)
    if not math.isnan(scene.night_s):
        before = t_s < scene.night_s
        share = np.where(before, share, drive.cold_share * decay(t_s - scene.night_s, drive.cold_tau_s))
    return np.asarray(share)


def running_current_a(t_s: Floats, scene: Scene, friction_n: Floats) -> Floats:
    """Give the current at speed: no-load part and friction's part, added plainly or as squares."""
    drive = scene.rig.drive
    free_a = drive.no_load_a * (1.0 + cold_share(t_s, scene))
    rub_a = drive.no_load_a * drive.gain * torque_share(scene, friction_n)
    return np.hypot(free_a, rub_a) if drive.squared else free_a + rub_a


def torque_share(scene: Scene, friction_n: Floats) -> Floats:
    """Give friction's torque as a share of the rig's yardstick."""
    return np.asarray(friction_n / (0.4 * scene.rig.contact.largest_load_n))


def paint_current(t_s: Floats, scene: Scene, motion: Motion, rubbing: Rubbing) -> Floats:
    """Give the motor current, A: more while the motor is slower than it should be, 0 where it is off."""
    drive, event = scene.rig.drive, scene.event
    running_a = running_current_a(t_s, scene, rubbing.friction_n)
    lock_a = np.maximum(drive.lock_a, running_a)
    slow = (1.0 - motion.run_up) ** 1.5
    if event is not None and event.belt_slips:
        slow = np.maximum(slow, BELT_SLIP_SHARE * motion.held)
    current_a = running_a + (lock_a - running_a) * slow
    for mark in scene.of(Oddity.EVENING_SAG):
        current_a = current_a * (1.0 + 0.03 * (mark.size - 0.5) * t_s / mark.duration_s)
    for mark in scene.of(Oddity.COMPRESSOR):
        phase_s = np.mod(t_s + 100.0 * mark.size, 90.0 + 100.0 * mark.size)
        current_a = current_a * (1.0 - 0.02 * bump(phase_s, 0.6))
    if drive.kind is DriveKind.BRUSHED_LIMITED:
        current_a = np.minimum(current_a, drive.lock_a)
    return np.asarray(current_a * supply_share(t_s, scene) * motion.on)


def paint_torque(t_s: Floats, scene: Scene, motion: Motion, rubbing: Rubbing) -> Floats:
    """Give the torque the motor gives, seen at the ring, N m: friction, drag, and what holds a jammed ring."""
    drive, contact = scene.rig.drive, scene.rig.contact
    drag_nm = drive.drag_nm * (1.0 + cold_share(t_s, scene)) * (0.5 + 0.5 * motion.ring)
    torque_nm = rubbing.friction_n * contact.diameter_mm / 2000.0 + drag_nm
    if scene.event is not None and scene.event.klass is Klass.JAM:
        torque_nm = torque_nm + motion.held * (drive.full_torque_nm + drive.drag_nm)
    return np.asarray(torque_nm * motion.on)


def rails(scene: Scene) -> bool:
    """Say whether the current sensor is too small for the start."""
    return bool(scene.of(Kind.CURRENT_RAIL))
