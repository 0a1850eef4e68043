"""Healthy things at the contact: stick-slip, squeal, particles, film transitions, oil topped up; and slow wander.

Reads the diary, fills `grip`, `film`, `clang_db`, `tone_db` and `cold_j` of the acts, and the plan's nuisances.
"""

import numpy as np
from numpy.random import Generator
from scipy.signal import lfilter
from world_b.values import Floats, Kind, Klass, Nuisance

from .acts import SLOW_S, Acts
from .chance import chance, log_between
from .diary import Diary
from .drives import DT_S
from .rig import Rig


def disturb_contact(rng: Generator, rig: Rig, klass: Klass, diary: Diary, acts: Acts) -> None:
    """Draw the nuisances of the contact and carry them out."""
    if klass is Klass.STICK_SLIP or chance(rng, 0.07):
        for _ in range(int(rng.integers(1, 4))):
            _stick_slip(rng, diary, acts)
    if klass is Klass.SQUEAL or chance(rng, 0.08):
        for _ in range(int(rng.integers(1, 5))):
            _squeal(rng, diary, acts)
    if chance(rng, 0.28):
        for _ in range(int(rng.integers(1, 7))):
            _debris(rng, diary, acts)
    if chance(rng, 0.3):
        _film_transition(rng, diary, acts)
    if chance(rng, 0.12):
        _oil(rng, rig, diary, acts)


def wander(rng: Generator, slow: int, ratio: float) -> Floats:
    """Give the slow factor on friction, (slow,) float64: two first-order noises, of some seconds and of minutes."""
    found = np.ones(slow)
    for share, constant_s in ((0.5, log_between(rng, 2.0, 12.0)), (0.87, log_between(rng, 30.0, 200.0))):
        keep = np.exp(-SLOW_S / constant_s)
        white = rng.normal(0.0, np.sqrt(1.0 - keep**2), slow)
        white[0] = rng.normal()
        found += share * ratio * lfilter([1.0], [1.0, -keep], white)
    return np.clip(found, 0.8, 1.2)


def _window(acts: Acts, begin_s: float, length_s: float, edge_s: float) -> Floats:
    knots = [begin_s, begin_s + edge_s, max(begin_s + edge_s, begin_s + length_s - edge_s), begin_s + length_s]
    return np.interp(acts.t_s, knots, [0.0, 1.0, 1.0, 0.0])


def _stick_slip(rng: Generator, diary: Diary, acts: Acts) -> None:
    length_s = log_between(rng, 4.0, 80.0)
    t_s = diary.find(length_s)
    if t_s is None:
        return
    hz, depth, stick = log_between(rng, 1.5, 20.0), rng.uniform(0.12, 0.5), rng.uniform(0.6, 0.9)
    wobble = 1.0 + 0.06 * np.sin(2.0 * np.pi * 0.7 * acts.t_s + rng.uniform(0.0, 6.0))
    phase = np.cumsum(hz * wobble) * DT_S % 1.0
    saw = np.where(phase < stick, phase / stick, (1.0 - phase) / (1.0 - stick)) - 0.5
    window = _window(acts, t_s, length_s, min(1.0, 0.2 * length_s))
    acts.grip *= 1.0 + 2.0 * depth * 0.7 * saw * window
    acts.clang_db += rng.uniform(12.0, 26.0) * window
    diary.plan.nuisances.append(Nuisance(Kind.STICK_SLIP, t_s, length_s))


def _squeal(rng: Generator, diary: Diary, acts: Acts) -> None:
    length_s = log_between(rng, 0.7, 50.0)
    t_s = diary.find(length_s)
    if t_s is None:
        return
    level_db = rng.uniform(74.0, 96.0)
    knots_s = np.arange(0.0, acts.t_s[-1] + 1.0, 0.4)
    breath_db = np.interp(acts.t_s, knots_s, rng.normal(0.0, rng.uniform(0.3, 2.5), len(knots_s)))
    window = _window(acts, t_s, length_s, min(0.15, 0.3 * length_s))
    acts.tone_db = np.maximum(acts.tone_db, np.where(window > 0.0, level_db + breath_db - 40.0 * (1.0 - window), -60.0))
    acts.grip *= 1.0 + rng.uniform(-0.04, 0.05) * window
    diary.plan.nuisances.append(Nuisance(Kind.SQUEAL, t_s, length_s))


def _debris(rng: Generator, diary: Diary, acts: Acts) -> None:
    length_s = log_between(rng, 0.03, 0.6)
    t_s = diary.find(length_s)
    if t_s is None:
        return
    after = acts.t_s - t_s
    pulse = np.where((after >= 0.0) & (after < length_s), np.sin(np.pi * np.clip(after / length_s, 0.0, 1.0)), 0.0)
    acts.grip *= 1.0 + log_between(rng, 0.08, 0.8) * pulse
    acts.unrest *= 1.0 + 1.5 * pulse
    acts.clang_db += rng.uniform(0.0, 9.0) * pulse
    diary.plan.nuisances.append(Nuisance(Kind.DEBRIS, t_s, length_s))


def _film_transition(rng: Generator, diary: Diary, acts: Acts) -> None:
    """Friction moves to another level over minutes and stays there."""
    length_s = log_between(rng, 25.0, 240.0)
    t_s = diary.find(length_s)
    if t_s is None:
        return
    slow_s = np.arange(len(acts.film)) * SLOW_S
    way = np.clip((slow_s - t_s) / length_s, 0.0, 1.0)
    acts.film *= 1.0 + rng.uniform(-0.3, 0.38) * way * way * (3.0 - 2.0 * way)
    diary.plan.nuisances.append(Nuisance(Kind.FILM_TRANSITION, t_s, length_s))


def _oil(rng: Generator, rig: Rig, diary: Diary, acts: Acts) -> None:
    """Cold oil comes in, the film is thick for a while; the level is as before."""
    length_s = rng.uniform(2.0, 8.0)
    t_s = diary.find(length_s)
    if t_s is None:
        return
    slow_s = np.arange(len(acts.film)) * SLOW_S
    pouring = (slow_s >= t_s) & (slow_s < t_s + length_s)
    acts.cold_j += pouring * rig.warmth.bath_j_k * rng.uniform(0.5, 5.0) / max(1, int(pouring.sum()))
    fresh = np.where(slow_s >= t_s, np.exp(-(slow_s - t_s) / rng.uniform(5.0, 40.0)), 0.0)
    acts.film *= 1.0 - rng.uniform(0.02, 0.15) * np.clip(fresh, 0.0, 1.0) * np.clip((slow_s - t_s) / length_s, 0.0, 1.0)
    diary.plan.nuisances.append(Nuisance(Kind.OIL_TOP_UP, t_s, length_s))
