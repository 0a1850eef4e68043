"""Makes a recording of a class: draws rig and plan, turns the ring, reads it, and tells the truth about it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from world_b.values import CHANNELS_OF, ChannelSet, Floats, Inside, Klass, Recording, Truth

from .chance import BEFORE_S, Dice, between, chance, dice_of
from .courses import PATCHES, Courses, draw_courses, first_part, without_event
from .facts import facts_of, limits_of
from .plan import Plan
from .plans import cut, draw_plan
from .promise import is_kept, squeals
from .readings import noise_free, shown
from .rig import Rig
from .rig_draws import draw_rig
from .slow import begin
from .sound import Shop, draw_shop, part_of, sound_db
from .spoils import spoil
from .stamps import draw_stamps, stamped
from .truth import SEEN_S, Moments, moments_of, seen_by, temperature_limits, truth_of
from .turning import Turned, first_part_of, turn

LOWEST_HZ, HIGHEST_HZ = 5.0, 2000.0
_MOST_TRIES = 200
_RIG, _PLAN, _FAULT, _CONTACT, _THINGS, _EVENT, _SHOP, _FACTS, _LIMITS, _STATE, _STAMPS, _SPOIL, _NOISE = range(13)


@dataclass(frozen=True, slots=True)
class _World:
    """A world that keeps its promise, and what is needed to read it."""

    dice: Callable[[int], Dice]
    rig: Rig
    plan: Plan
    courses: Courses
    turned: Turned
    shop: Shop
    moments: Moments
    usual_mu: float


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording; the same arguments give the same bits.

    Args:
        seed: >= 0.
        klass: what happens.
        rate_hz: of the rows, 5..2000 Hz; rig and events do not depend on it.
        channel_set: what is shown; by default about half of the rigs show all seven channels.

    Raises:
        ValueError: seed or rate outside, with value and range.
    """
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and the noise-free world behind it; see `generate`."""
    if seed < 0:
        raise ValueError(f"seed must be 0 or more, not {seed}")
    if not LOWEST_HZ <= rate_hz <= HIGHEST_HZ:
        raise ValueError(f"rate_hz must be {LOWEST_HZ:g}..{HIGHEST_HZ:g} Hz, not {rate_hz}")
    world = _kept_world(seed, klass, channel_set)
    level_db = sound_db(world.rig, world.shop, world.courses, world.turned)
    t_s = np.arange(int(world.plan.duration_s * rate_hz)) / rate_hz
    return _recorded(world, klass, level_db, t_s), _inside(world, level_db, t_s)


def drawn(
    seed: int, klass: Klass, channel_set: ChannelSet | None, attempt: int
) -> tuple[Rig, Plan, Callable[[int], Dice]]:
    """Give rig and plan of one try, before any promise is looked at, and the dice of the others."""

    def dice(stream: int) -> Dice:
        return dice_of(seed, klass, attempt, stream)

    rig = draw_rig(dice(_RIG), channel_set)
    return rig, draw_plan(dice(_PLAN), dice(_FAULT), rig, klass), dice


def _kept_world(seed: int, klass: Klass, channel_set: ChannelSet | None) -> _World:
    for attempt in range(_MOST_TRIES):
        world = _tried(*drawn(seed, klass, channel_set, attempt), klass)
        if world is not None:
            return world
    raise RuntimeError(f"no world of class {klass.value} in {_MOST_TRIES} tries from seed {seed}")


def _tried(rig: Rig, plan: Plan, dice: Callable[[int], Dice], klass: Klass) -> _World | None:
    usual_mu = (rig.usual_torque_nm - rig.motor.drag_torque_nm) / (rig.most_load_n * rig.radius_m)
    limits = limits_of(dice(_LIMITS), rig)
    courses = draw_courses((dice(_CONTACT), dice(_THINGS), dice(_EVENT)), rig, plan, usual_mu)
    turned = _turned(rig, plan, courses, dice(_STATE), usual_mu)
    if plan.trouble is not None:
        pin_only = {"pin_temperature_degc": limits["pin_temperature_degc"]}
        over_s = moments_of(rig, plan, courses, turned, pin_only).overheat_s
        if not over_s - plan.trouble.t_s > 8.0 or over_s > plan.duration_s - 45.0:
            return None
        plan = cut(plan, over_s + between(dice(_FACTS), 20.0, 40.0))
        courses = first_part(courses, plan.duration_s + 1.0)
        turned = first_part_of(turned, len(courses.t_s))
    moments = moments_of(rig, plan, courses, turned, temperature_limits(rig, limits))
    if not is_kept(rig, klass, plan, courses, turned, moments, limits):
        return None
    shop = draw_shop(dice(_SHOP), rig, plan, courses.t_s)
    if not squeals(rig, plan, courses, turned, shop):
        return None
    return _World(dice, rig, plan, courses, turned, shop, moments, usual_mu)


def _turned(rig: Rig, plan: Plan, courses: Courses, dice: Dice, usual_mu: float) -> Turned:
    run_earlier = float(dice.random()) if chance(dice, 0.5) else 0.0
    mid_run = plan.hands.switches[0][0] <= -BEFORE_S
    slow = begin(rig, mid_run, plan.hands.hangs[0].load_n, run_earlier, PATCHES)
    return turn(rig, plan, courses, slow, usual_mu)


def _sampled(world: _World, courses: Courses, turned: Turned, shop: Shop, t_s: Floats) -> dict[str, Floats]:
    """Give the noise-free readings on the recording's clock; NaN after the end of what was turned."""
    level_db = sound_db(world.rig, shop, courses, turned)
    clean = noise_free(world.rig, turned, courses.hung_n, level_db)
    return {name: np.interp(t_s, turned.t_s, clean[name], right=np.nan) for name in CHANNELS_OF[world.rig.channel_set]}


def _recorded(world: _World, klass: Klass, level_db: Floats, t_s: Floats) -> Recording:
    rig, plan, dice = world.rig, world.plan, world.dice
    clean = _sampled(world, world.courses, world.turned, world.shop, t_s)
    names = list(CHANNELS_OF[ChannelSet.ALL])
    real = {
        name: shown(dice(_NOISE + names.index(name)), rig.sensing, name, course, t_s) for name, course in clean.items()
    }
    seen = _seen(world, clean, real, t_s)
    spoiled = spoil(dice(_SPOIL), rig, plan, real, t_s)
    stamps = draw_stamps(dice(_STAMPS), plan)
    time_s, kept = stamped(stamps, plan, t_s)
    facts = facts_of(dice(_LIMITS), rig, plan)
    truth: Truth = truth_of(klass, plan, world.moments, facts, seen, stamps)
    return Recording(time_s[kept], {name: read[kept] for name, read in spoiled.items()}, facts, truth)


def _seen(world: _World, clean: dict[str, Floats], real: dict[str, Floats], t_s: Floats) -> tuple[str, ...]:
    """Turn the same world again without the event and compare."""
    plan = world.plan
    if plan.harm is None and plan.jam is None:
        return ()
    acts_s = plan.harm.onset_s if plan.harm else plan.first_s
    courses = without_event(world.courses, acts_s + SEEN_S + 1.0)
    turned = _turned(world.rig, plan, courses, world.dice(_STATE), world.usual_mu)
    jam_s = plan.jam.t_s if plan.jam else float("nan")
    shop = part_of(world.shop, len(courses.t_s), jam_s, courses.t_s)
    return seen_by(plan, clean, _sampled(world, courses, turned, shop, t_s), real, t_s)


def _inside(world: _World, level_db: Floats, t_s: Floats) -> Inside:
    rig, turned = world.rig, world.turned

    def at(course: Floats) -> Floats:
        return np.asarray(np.interp(t_s, turned.t_s, course), dtype=np.float64)

    return Inside(
        t_s=t_s,
        normal_load_n=at(turned.load_n),
        friction_force_n=at(turned.friction_n),
        motor_current_a=at(turned.current_a),
        ring_speed_rad_s=at(turned.ring_rad_s),
        motor_speed_rad_s=at(turned.motor_rad_s),
        shaft_torque_nm=at(turned.torque_nm),
        bath_temperature_degc=at(turned.bath_degc),
        pin_temperature_degc=at(turned.pin_degc),
        sound_level_db=at(level_db),
        on=at((world.courses.on & (world.courses.supply > 0.5)).astype(np.float64)) > 0.5,
        heat_in_j=float(turned.heat_in_j[-1]),
        bath_heat_j=float(turned.heat_kept_j[-1]),
        drag_torque_nm=rig.motor.drag_torque_nm,
        ring_radius_m=rig.radius_m,
    )
