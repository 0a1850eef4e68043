"""Recordings of the eighth world and rigs of its own making, made once for all tests that look at them."""

import sys
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

import world_h
from world_b.values import ChannelSet, DriveKind, Klass, Recording
from world_h.acts import Acts, nothing_done
from world_h.chance import Purpose, generator
from world_h.rig import Rig
from world_h.rig_draw import draw_rig
from world_h.state import State
from world_h.turning import Course, turn
from world_h.world import World, make_world

RATE_HZ = 50.0
SHORT_SEEDS = {
    Klass.SCUFFING_LONG: 5,
    Klass.SCUFFING_SHORT: 3,
    Klass.SCUFFING_SUDDEN: 3,
    Klass.SEIZURE: 10,
    Klass.JAM: 8,
    Klass.OVERHEAT: 8,
    Klass.STICK_SLIP: 4,
    Klass.SQUEAL: 10,
    Klass.SENSOR_FAULT: 7,
    Klass.SCUFFING_WITH_FAULT: 4,
    Klass.SUPPLY_LOST: 10,
    Klass.STARTS_AND_STOPS: 6,
    Klass.STAIRCASE: 9,
}
"""Of each class a seed whose recording is short and whose first attempt keeps its promise."""


@lru_cache(maxsize=32)
def made(klass: Klass, seed: int | None = None, fitted: ChannelSet | None = ChannelSet.ALL) -> Recording:
    """Give a recording at `RATE_HZ`; without a seed, a short one."""
    return world_h.generate(SHORT_SEEDS[klass] if seed is None else seed, klass, RATE_HZ, fitted)


@lru_cache(maxsize=32)
def world(klass: Klass, seed: int | None = None) -> World:
    """Give the world of `made`, or of its first attempt if that was drawn again."""
    return make_world(SHORT_SEEDS[klass] if seed is None else seed, klass, 0)


def rig_with(kind: DriveKind, belt: bool = False) -> Rig:
    """Give the first drawn rig with a drive; its contact does not wander."""
    for seed in range(200):
        rig = draw_rig(generator(seed, Klass.STAIRCASE, 0, Purpose.RIG), tight=False)
        if rig.motor.kind is kind and (rig.motor.belt_nm < np.inf) == belt:
            return rig
    raise AssertionError(f"no rig with {kind.value}")


def bare_contact(rig: Rig) -> Rig:
    """Give the rig with a true ring, no ripple and a lever that friction does not load."""
    lever = replace(rig.lever, pull_in=0.0, eccentric_ratio=0.0)
    return replace(rig, lever=lever, contact=replace(rig.contact, ripple_ratio=0.0, second_ratio=0.0))


def turned(rig: Rig, acts: Acts) -> tuple[Course, State]:
    """Give the course of a rig that was at rest, and the state at its end."""
    state = State(rig, np.ones(len(acts.film)), 0.5)
    return turn(rig, acts, state), state


def running(load_n: float, lasts_s: float, on_s: float = 0.0) -> Acts:
    """Give acts of a motor that is switched on at `on_s` under a load."""
    acts = nothing_done(lasts_s)
    acts.load_n[:] = load_n
    acts.supply[acts.t_s >= on_s] = 1.0
    return acts
