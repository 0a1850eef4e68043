"""Normal load at the contact, made of the operator's moves: hand, lever, bounce.

Reads a script, gives arrays on any even grid.
"""

import numpy as np

from .rigs import Rig
from .script import Move, Script
from .values import Flags, Floats


def load_waveform(script: Script, t_s: Floats) -> Floats:
    """Give the load with the lever's bounce, never below zero.

    Args:
        script: of the operator.
        t_s: (n,) evenly spaced, s.
    Returns:
        (n,) float64, N.
    """
    load_n = load_levels(script, t_s)
    for move in script.moves:
        _add_bounce(load_n, t_s, move, script.rig)
    return np.maximum(load_n, 0.0)


def load_levels(script: Script, t_s: Floats) -> Floats:
    """Give the load as straight ramps of the hand from level to level, without bounce; (n,) N."""
    knots_s, knots_n = [-1.0], [script.first_load_n]
    for move in script.moves:
        begin_s = max(move.t_s, knots_s[-1] + 1e-6)
        knots_s += [begin_s, begin_s + move.hand_s]
        knots_n += [knots_n[-1], move.to_n]
    return np.interp(t_s, knots_s, knots_n)


def _add_bounce(load_n: Floats, t_s: Floats, move: Move, rig: Rig) -> None:
    habits = rig.habits
    from_s = move.t_s + move.hand_s
    first, last = np.searchsorted(t_s, (from_s, from_s + 7.0 * habits.bounce_decay_s))
    since_s = t_s[first:last] - from_s
    swing = np.sin(2.0 * np.pi * habits.bounce_hz * since_s) * np.exp(-since_s / habits.bounce_decay_s)
    # A lever that has just been let go is limp until its weight hangs free.
    load_n[first:last] += move.bounce_n * swing * min(1.0, move.to_n / (0.05 * rig.top_load_n))


def motor_on(script: Script, t_s: Floats) -> Flags:
    """Give whether the motor is switched on, (n,) bool."""
    times_s = np.array([t for t, _ in script.switches])
    states = np.array([script.first_on, *(on for _, on in script.switches)])
    return np.asarray(states[np.searchsorted(times_s, t_s, side="right")], dtype=np.bool_)


def running_for_s(t_s: Floats, on: Flags, before_s: float) -> Floats:
    """Give the time since the last start, s; 0 where the motor is off.

    Args:
        t_s: (n,) s.
        on: (n,).
        before_s: how long the motor had been running when a recording begins in mid run.
    Returns:
        (n,) float64, s.
    """
    begins = np.flatnonzero(on & ~np.concatenate(([False], on[:-1])))
    if not len(begins):
        return np.zeros_like(t_s)
    last = np.searchsorted(begins, np.arange(len(t_s)), side="right") - 1
    since_s = t_s - t_s[begins[np.maximum(last, 0)]]
    if on[0]:
        since_s = np.where(last == 0, since_s + before_s, since_s)
    return np.where(on, since_s, 0.0)
