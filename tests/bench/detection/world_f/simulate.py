"""Makes a recording: draws rig and plan, turns the world, reads its instruments, tells the truth.

Reads a seed, a class, a rate and a channel set; gives a `Recording` and the noise-free `Inside`. Dice are apart for
rig, plan, world and instruments, so that rate and channels change nothing of what happens.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import CHANNELS_OF, ChannelSet, Floats, Inside, Klass, Recording, RigFacts

from .breakdown import break_down
from .chance import Dice
from .instruments import shown_by
from .mishaps import sprinkle
from .plan import Plan
from .promise import keeps_promise
from .readings import read
from .rig import Rig
from .rig_draws import draw_rig, shown
from .sensing_draws import RPM
from .spoil import fail, failed_of, spoil
from .stamps import stamp
from .timetable import draw_timetable
from .truth import truth_of
from .world import World, make_world

LOWEST_HZ, HIGHEST_HZ = 5.0, 2000.0
MOST_TRIES = 60
_OF_WORLD = 5
_ALL = CHANNELS_OF[ChannelSet.ALL]


@dataclass(frozen=True, slots=True)
class Seeds:
    """Dice of one try: for the rig, the channels shown, the plan, the world, and the instruments one by one."""

    rig: Dice
    channels: Dice
    plan: Dice
    world: tuple[Dice, ...]
    spoil: Dice
    read: dict[str, Dice]


def seeds_of(seed: int, klass: Klass, turn: int) -> Seeds:
    """Give the dice of one try."""
    place = list(Klass).index(klass)
    root = np.random.SeedSequence((seed, place, turn, 0xF))
    dice = [np.random.default_rng(child) for child in root.spawn(4 + _OF_WORLD + len(_ALL))]
    return Seeds(
        rig=dice[0],
        channels=dice[1],
        plan=dice[2],
        world=tuple(dice[4 : 4 + _OF_WORLD]),
        spoil=dice[3],
        read=dict(zip(_ALL, dice[4 + _OF_WORLD :], strict=True)),
    )


def draw_plan(dice: Dice, rig: Rig, klass: Klass) -> Plan:
    """Give the plan of a recording, before any promise is looked at."""
    return sprinkle(dice, rig, break_down(dice, rig, draw_timetable(dice, rig, klass), klass), klass)


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and the noise-free world beside it.

    Args:
        seed: 0 or more.
        klass: see `Klass`.
        rate_hz: rows in a second, 5 to 2000.
        channel_set: forces the channels; drawn where it is None.
    Raises:
        ValueError: a seed or rate outside the range above.
    """
    if seed < 0:
        raise ValueError(f"seed {seed} must be 0 or more")
    if not LOWEST_HZ <= rate_hz <= HIGHEST_HZ:
        raise ValueError(f"rate_hz {rate_hz} must be {LOWEST_HZ:g} to {HIGHEST_HZ:g} Hz")
    seeds, world = _kept(seed, klass, channel_set)
    return _recorded(seeds, world, klass, rate_hz)


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording; arguments as of `simulate`."""
    return simulate(seed, klass, rate_hz, channel_set)[0]


def _kept(seed: int, klass: Klass, channel_set: ChannelSet | None) -> tuple[Seeds, World]:
    """Give the first world that keeps the promise of its class."""
    for turn in range(MOST_TRIES):
        seeds = seeds_of(seed, klass, turn)
        rig = draw_rig(seeds.rig, seeds.channels, channel_set)
        world = make_world(seeds.world, rig, draw_plan(seeds.plan, rig, klass))
        if keeps_promise(world, klass):
            return seeds, world
    raise RuntimeError(f"no world of seed {seed} and class {klass.value} kept its promise in {MOST_TRIES} tries")


def _recorded(seeds: Seeds, world: World, klass: Klass, rate_hz: float) -> tuple[Recording, Inside]:
    rig, plan = world.rig, world.plan
    at_s = np.arange(int(world.t_s[-1] * rate_hz) + 1) / rate_hz
    clean = shown_by(world)
    rows = read(seeds.read, world, clean, at_s)
    failed = failed_of(plan, shown(rig))
    truth = truth_of(world, klass, clean, rows, failed)
    spoil(seeds.spoil, rig, plan, rows, at_s)
    if failed is not None:
        fail(seeds.spoil, rig, plan, failed, rows, at_s)
    stamps, kept = stamp(plan, at_s)
    channels = {name: rows[name][kept] for name in shown(rig)}
    return Recording(stamps[kept], channels, facts_of(rig, plan), truth), _inside(world, at_s)


def facts_of(rig: Rig, plan: Plan) -> RigFacts:
    """Give what the technician knows."""
    names, sensing = shown(rig), rig.sensing
    return RigFacts(
        ring_diameter_mm=round(2000.0 * rig.radius_m, 1),
        ring_speed_rpm=round(rig.motor.set_rad_s * RPM, 1),
        no_load_current_a=rig.no_load_a,
        ranges={name: (sensing.gauges[name].low, sensing.gauges[name].high) for name in names},
        limits={name: limit for name, limit in rig.limits.items() if name in names},
        channel_set=rig.channel_set,
        drive=rig.motor.kind,
        belt=rig.motor.belt_nm < float("inf"),
        tachometer=sensing.tachometer,
        pulses_per_turn=sensing.pulses,
        tachometer_on_motor=sensing.on_motor,
        loads_n=tuple(load.load_n for load in plan.loads if load.load_n > 0.0),
    )


def _inside(world: World, at_s: Floats) -> Inside:
    """Give the world on the rows' clock without breaks."""

    def at(course: Floats) -> Floats:
        return np.interp(at_s, world.t_s, course)

    turned, rig = world.turned, world.rig
    return Inside(
        t_s=at_s,
        normal_load_n=at(turned.load_n),
        friction_force_n=at(turned.friction_n),
        motor_current_a=at(turned.current_a),
        ring_speed_rad_s=at(turned.ring_rad_s),
        motor_speed_rad_s=at(turned.motor_rad_s),
        shaft_torque_nm=at(turned.torque_nm),
        bath_temperature_degc=at(world.bath_degc),
        pin_temperature_degc=at(world.pin_degc),
        sound_level_db=at(10.0 * np.log10(world.ambient_power + world.machine_power)),
        on=at(world.courses.supply) > 0.0,
        heat_in_j=world.heat.put_in_j,
        bath_heat_j=world.heat.bath_kept_j,
        drag_torque_nm=rig.motor.drag_nm,
        ring_radius_m=rig.radius_m,
    )
