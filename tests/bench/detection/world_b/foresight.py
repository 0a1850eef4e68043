"""What can be told of a recording before its signals are made: whether it suits, how warm it gets, what is supplied.

Reads a story, gives the coarse courses that the fine ones rest on.
"""

import numpy as np

from . import contact, heat, loads
from .events import Story
from .stories import holding_mu
from .values import CHANNELS_OF, FRICTION_FORCE, MOTOR_CURRENT, ChannelSet, Flags, Floats, Klass

LONGEST_OVERHEAT_S = 2400.0
MOST_MU = 1.2
"""Friction ratio no contact is asked to pass to hold a drive: clean metals in air reach about 1 (from memory)."""


def as_meant(story: Story) -> bool:
    """Tell whether a precursor its class is named for fits in, and a fault leaves a channel the damage can move."""
    lead_s = story.scuff.onset_s - story.precursor_s if story.scuff is not None else 0.0
    if story.klass is Klass.SEIZURE:
        return holding_mu(story) < MOST_MU
    if story.klass is Klass.SCUFFING_LONG:
        return lead_s > 15.0
    if story.klass is Klass.SCUFFING_SHORT:
        return lead_s > 1.0
    if story.klass is not Klass.SCUFFING_WITH_FAULT or story.fault is None:
        return True
    has = CHANNELS_OF[story.rig.channel_set]
    return any(name in has and name != story.fault.channel for name in (FRICTION_FORCE, MOTOR_CURRENT))


def age(story: Story, t_s: Floats) -> Floats:
    """Give the time since the rig was last cold, s."""
    begin_s = np.array([0.0, *(t for t, _ in story.script.breaks)])
    since_s = t_s - begin_s[np.searchsorted(begin_s, t_s, side="right") - 1]
    return np.asarray(since_s + (1800.0 if story.script.first_on and not story.script.breaks else 0.0))


def supplied(story: Story, t_s: Floats, on: Flags) -> Flags:
    """Give where the motor is switched on and has its supply, (n,)."""
    live = on & ~((t_s >= story.supply_lost_s) & (t_s < story.supply_back_s))
    for begin_s, length_s in story.dips:
        first, last = np.searchsorted(t_s, (begin_s, begin_s + length_s))
        live[first:last] = False
    return live


def foresee(story: Story, weather: heat.Weather) -> heat.Warmth | None:
    """Give temperatures at nominal friction; an overheating story is cut to end after its limit is passed."""
    rig = story.rig
    t_s = np.arange(0.0, story.duration_s + 1.0, heat.GRID_S)
    load_n = loads.load_levels(story.script, t_s)
    force = contact.level(rig, load_n, np.full_like(t_s, 15.0)) * load_n
    power_w = np.where(loads.motor_on(story.script, t_s), force * rig.speed_m_s, 0.0)
    warmth = heat.march(story, weather, power_w)
    if story.overheat is None:
        return warmth
    over = warmth.pin_degc > rig.heat.limit_pin_degc
    if ChannelSet.ALL is rig.channel_set:
        over |= warmth.bath_degc > rig.heat.limit_bath_degc
    first = int(np.argmax(over))
    if not over.any() or not 20.0 < t_s[first] - story.overheat.t_s < LONGEST_OVERHEAT_S:
        return None
    story.duration_s = story.script.t_s = story.overheat.t_s + 1.3 * (t_s[first] - story.overheat.t_s) + 60.0
    return warmth


def coarse_mean(power_w: Floats, t_s: Floats) -> Floats:
    """Give the mean of power_w over each step of the coarse grid, (m,) W, from the grid of the recording, (n,)."""
    which = (t_s / heat.GRID_S).astype(int)
    return np.asarray(np.bincount(which, power_w) / np.maximum(np.bincount(which), 1))
