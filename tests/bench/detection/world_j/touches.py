"""Turns a script into load and switch against time. Reads a `Script`, gives arrays on the clock of the physics."""

import numpy as np
from world_b.values import Flags, Floats

from .filters import smooth_step, wander
from .rigs import Rig
from .scripts import Script


def load_n(rng: np.random.Generator, script: Script, rig: Rig, t_s: Floats) -> Floats:
    """Give the force on the contact, N, >= 0: dead weights, set down by hand on a lever that bounces."""
    force = np.zeros_like(t_s)
    now_n = 0.0
    decay_s = 1.0 / (2.0 * np.pi * rig.lever_hz * rig.lever_damping)
    for change in script.loads:
        step_n = change.load_n - now_n
        force += step_n * smooth_step(t_s, change.t_s, change.ramp_s)
        if change.bounce > 0.0 and change.load_n > 0.0:
            late_s = np.clip(t_s - change.t_s - 0.7 * change.ramp_s, 0.0, None)
            near = late_s < 12.0 * decay_s
            swing = np.exp(-late_s[near] / decay_s) * np.sin(2.0 * np.pi * rig.lever_hz * late_s[near])
            force[near] += step_n * change.bounce * swing
        now_n = change.load_n
    for begin_s, length_s, share in script.bumps:
        inside = (t_s >= begin_s) & (t_s < begin_s + length_s)
        force[inside] *= 1.0 + share * np.sin(np.pi * (t_s[inside] - begin_s) / length_s)
    ripple = 0.002 * wander(rng, t_s.size, float(t_s[1] - t_s[0]), 0.15)
    return np.clip(force, 0.0, None) * (1.0 + ripple)


def switched_on(script: Script, t_s: Floats) -> Flags:
    """Give whether the motor is switched on."""
    on = np.zeros(t_s.size, dtype=bool)
    for begin_s, value in script.switches:
        on[t_s >= begin_s] = value
    return on
