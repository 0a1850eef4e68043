"""Friction: the friction coefficient as a derived channel.

Reads a slice with friction force and normal load, gives a slice that also has `friction_coefficient`.
"""

import math
from dataclasses import dataclass

from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import FRICTION_FORCE, NORMAL_LOAD, Quality, Reason

FRICTION_COEFFICIENT = "friction_coefficient"


@dataclass(frozen=True, slots=True)
class FrictionRule:
    """When the friction coefficient exists.

    Attributes:
        load_min_n: normal load below which the contact counts as unloaded, > 0.
    """

    load_min_n: float


def derive(s: Slice, rule: FrictionRule) -> Slice:
    """Give the slice with the channel `friction_coefficient`.

    mean, low and high are those of the force over the mean load. BAD where a source is BAD, with that source's reason
    and no number; BAD with MISSING where the load is below `load_min_n`: then no number exists and nothing is wrong.
    The sign of the force is kept. `fresh` follows the force, the age is that of the older source.

    Args:
        s: as the slicer gives it.
        rule: see `FrictionRule`.
    Returns:
        A new slice; the same one where either source is not fitted.
    Source:
        f = F/W, ASTM D2981 calculation section.
    """
    channels = s.channels
    force = channels.get(FRICTION_FORCE)
    load = channels.get(NORMAL_LOAD)
    if force is None or load is None:
        return s
    derived = channels.copy()
    derived[FRICTION_COEFFICIENT] = _coefficient(force, load, rule.load_min_n)
    return Slice(s.epoch, s.index, s.t_rig_s, s.duration_s, s.gap_before_s, s.frame_sequence, derived)


def _coefficient(force: ChannelSlice, load: ChannelSlice, load_min_n: float) -> ChannelSlice:
    worse = load if load.quality > force.quality else force
    quality, reason = worse.quality, worse.reason
    age_s = load.age_s if load.age_s > force.age_s else force.age_s
    if quality is not Quality.BAD and not load.mean >= load_min_n:
        quality, reason = Quality.BAD, Reason.MISSING
    if quality is Quality.BAD:
        return ChannelSlice(math.nan, math.nan, math.nan, quality, reason, age_s, force.fresh)
    w = load.mean
    return ChannelSlice(force.mean / w, force.low / w, force.high / w, quality, reason, age_s, force.fresh)
