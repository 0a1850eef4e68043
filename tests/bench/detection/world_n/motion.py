"""Paints how ring and motor turn, without friction's part in it.

Reads times and a `Scene`, gives shares of the set speed. Slips of the belt and holding from outside come in here.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import DriveKind, Flags, Floats, Kind

from world_n.curves import bump, decay, ramp, smooth
from world_n.draft import BEFORE_RECORDING_S
from world_n.names import Oddity
from world_n.scene import Drive, Event, Scene

WARM_BELT_S = 200.0


@dataclass(frozen=True, slots=True)
class Motion:
    """(n,) each: motor switched on; motor at rest 0 to run up 1; shares of the set speed at ring and motor; held."""

    on: Flags
    run_up: Floats
    ring: Floats
    motor: Floats
    held: Floats


def on_flags(t_s: Floats, runs: tuple[tuple[float, float], ...]) -> Flags:
    """Say where the motor is switched on."""
    flags = np.zeros(len(t_s), dtype=np.bool_)
    for on_s, off_s in runs:
        flags |= (t_s >= on_s) & (t_s < off_s)
    return flags


def _way_up(x: Floats, kind: DriveKind) -> Floats:
    if kind is DriveKind.BRUSHED_BARE:
        return np.asarray((1.0 - np.exp(-4.0 * np.clip(x, 0.0, 1.0))) / (1.0 - math.exp(-4.0)))
    return smooth(x) if kind is DriveKind.INDUCTION_DIRECT else ramp(x)


def run_up(t_s: Floats, runs: tuple[tuple[float, float], ...], drive: Drive) -> Floats:
    """Give the share of set speed: run up after each start, straight down after each stop."""
    share = np.zeros(len(t_s))
    at_start, at_stop, last_off_s = 0.0, 0.0, BEFORE_RECORDING_S
    for on_s, off_s in runs:
        at_start = max(0.0, at_stop - (on_s - last_off_s) / drive.coast_s)
        up = at_start + (1.0 - at_start) * _way_up((t_s - on_s) / drive.start_s, drive.kind)
        end = _way_up(np.array([(off_s - on_s) / drive.start_s]), drive.kind)[0]
        at_stop, last_off_s = at_start + (1.0 - at_start) * float(end), off_s
        down = np.maximum(0.0, at_stop - (t_s - off_s) / drive.coast_s)
        share = np.where(t_s >= on_s, np.where(t_s < off_s, up, down), share)
    return share


def held_share(t_s: Floats, event: Event | None) -> Floats:
    """Give how far the ring is held, 0 free to 1 standing."""
    if event is None or math.isnan(event.hold_s):
        return np.zeros(len(t_s))
    return smooth((t_s - event.hold_s) / event.hold_length_s)


def paint_motion(t_s: Floats, scene: Scene, strike: bool) -> Motion:
    """Give how the rig turns.

    Args:
        t_s: (n,) s.
        scene: the plan.
        strike: whether the event happens.
    """
    runs, event = scene.runs, scene.event
    if not strike and scene.event is not None and runs[-1][1] == scene.event.start_s:
        runs = (*runs[:-1], (runs[-1][0], scene.duration_s + 1.0))
    share = run_up(t_s, runs, scene.rig.drive)
    held = held_share(t_s, event if strike else None)
    slips = event is not None and event.belt_slips
    voltage = np.ones(len(t_s))
    for mark in scene.of(Kind.BRIEF_DIP):
        depth = 0.03 + 0.12 * mark.size
        back = decay(t_s - mark.t_s - mark.duration_s, 0.3)
        voltage *= 1.0 - depth * np.maximum(smooth((t_s - mark.t_s) / mark.duration_s) * (back == 0.0), back)
    for mark in scene.of(Oddity.EVENING_SAG):
        voltage *= 1.0 - (0.01 + 0.04 * mark.size) * ramp((t_s - mark.t_s) / mark.duration_s)
    belt = np.ones(len(t_s))
    for mark in scene.of(Oddity.BELT_WARMS):
        belt *= 1.0 - (0.005 + 0.015 * mark.size) * decay(t_s - mark.t_s, WARM_BELT_S)
    motor = share * voltage if slips else share * voltage * (1.0 - held)
    return Motion(
        on=on_flags(t_s, runs),
        run_up=share if slips else share * (1.0 - held),
        ring=share * voltage * belt * (1.0 - held),
        motor=motor,
        held=held,
    )


def supply_share(t_s: Floats, scene: Scene) -> Floats:
    """Give the current's part in a mains dip: 1 in peace, near 0 in the dip, above 1 just after it."""
    share = np.ones(len(t_s))
    for mark in scene.of(Kind.BRIEF_DIP):
        dt_s = t_s - mark.t_s
        share *= 1.0 - 0.9 * bump(dt_s, mark.duration_s) + 0.5 * mark.size * decay(dt_s - mark.duration_s, 0.25)
    return share
