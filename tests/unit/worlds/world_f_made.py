"""Worlds and recordings of the sixth simulated world, made once for all its tests."""

import sys
from functools import cache
from pathlib import Path

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

from world_b.values import ChannelSet, Inside, Klass, Recording  # noqa: E402
from world_f import simulate  # noqa: E402
from world_f.plan import Plan  # noqa: E402
from world_f.rig import Rig  # noqa: E402
from world_f.rig_draws import draw_rig  # noqa: E402
from world_f.simulate import draw_plan, seeds_of  # noqa: E402

RATE_HZ = 100.0


@cache
def made(seed: int, klass: Klass) -> tuple[Recording, Inside]:
    """Give a recording of a rig that shows all channels, and the noise-free world beside it."""
    return simulate(seed, klass, RATE_HZ, ChannelSet.ALL)


@cache
def planned(seed: int, klass: Klass) -> tuple[Rig, Plan]:
    """Give rig and plan of the first try, whether or not its world would keep its promise."""
    seeds = seeds_of(seed, klass, 0)
    rig = draw_rig(seeds.rig, seeds.channels, None)
    return rig, draw_plan(seeds.plan, rig, klass)
