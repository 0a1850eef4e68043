"""Makes recordings: draws a rig and a plan, turns the ring, reads the instruments, tells the truth.

Reads a seed, a class, a rate and a channel set, gives a `Recording`, and the noise-free world beside it.
"""

from dataclasses import replace

import numpy as np
from world_b.values import PIN_TEMPERATURE, ChannelSet, Floats, Inside, Klass, Recording

from .bench import Made, make
from .chance import Dice, between
from .facts import facts_of, limits_of, ranges_of
from .plans import draw_plan
from .promise import kept as keeps_promise
from .readings import shown
from .rig import Rig
from .rig_draws import draw_rig
from .spoils import spoil
from .stamps import draw_clock, kept, moments, repeated
from .truth import overheat_s, stamped, truth_of

SLOWEST_HZ, FASTEST_HZ = 5.0, 2000.0
_WORLD = 5
_TRIES = 80


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Make one recording, fixed by its arguments bit for bit.

    Args:
        seed: >= 0.
        klass: see `Klass`.
        rate_hz: 5 to 2000; the rig and what happens do not depend on it.
        channel_set: forces the channels of the rig; None takes those it has.
    Returns:
        The recording.
    Raises:
        ValueError: rate or seed outside; the message carries value and range.
    """
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Make one recording as `generate` does, and give the noise-free world beside it."""
    if not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
        raise ValueError(f"rate_hz {rate_hz}: must be {SLOWEST_HZ} to {FASTEST_HZ} Hz")
    if seed < 0:
        raise ValueError(f"seed {seed}: must be 0 or more")
    for attempt in range(_TRIES):
        made = _attempt(dice_of(seed, klass, attempt), klass, rate_hz, channel_set)
        if made is not None:
            return made
    raise RuntimeError(f"{klass.value}, seed {seed}: none of {_TRIES} worlds kept the promise of its class")


def dice_of(seed: int, klass: Klass, attempt: int) -> list[Dice]:
    """Give five independent dice: for the rig, the plan, the world, the readings, and what is written down."""
    return np.random.default_rng((_WORLD, list(Klass).index(klass), seed, attempt)).spawn(5)


def _attempt(
    dice: list[Dice], klass: Klass, rate_hz: float, channel_set: ChannelSet | None
) -> tuple[Recording, Inside] | None:
    """Give a recording, or None where the class is not what it promises."""
    for_rig, for_plan, for_world, for_reading, for_facts = dice
    rig = draw_rig(for_rig, channel_set)
    plan = draw_plan(for_plan, rig, klass)
    limits = limits_of(for_facts, rig)
    made = make(for_world, rig, plan, limits[PIN_TEMPERATURE])
    duration_s = plan.duration_s
    if klass is Klass.OVERHEAT:
        over_s = overheat_s(rig, plan, made, limits)
        if np.isnan(over_s):
            return None
        duration_s = min(duration_s, over_s + between(for_plan, 15.0, 40.0))
        plan = replace(plan, nuisances=tuple(each for each in plan.nuisances if each.t_s < duration_s))
    for_moments, for_noise, for_spoils = for_reading.spawn(3)
    at_s = moments(for_moments, duration_s, rate_hz)
    readings = shown(for_noise, rig, made.world, at_s)
    truth = truth_of(rig, plan, klass, made, limits, at_s, readings)
    if not keeps_promise(rig, plan, klass, made, truth, limits):
        return None
    spoil(for_spoils, plan, at_s, readings, ranges_of(rig))
    clock, keep = draw_clock(for_facts, plan), kept(plan, at_s)
    stamps = repeated(plan, at_s, clock.stamps(at_s))
    recording = Recording(
        time_s=stamps[keep],
        channels={name: values[keep] for name, values in readings.items()},
        rig=facts_of(for_facts, rig, limits, tuple(load.load_n for load in plan.loads if load.t_s < duration_s)),
        truth=stamped(truth, clock),
    )
    return recording, _inside(rig, made, np.arange(len(at_s)) / rate_hz)


def _inside(rig: Rig, made: Made, t_s: Floats) -> Inside:
    """Give the noise-free world at the evenly spaced moments of the recording."""
    world, turned = made.world, made.world.turned
    put_in_j, kept_j = made.heat.put_in_and_kept_j(float(t_s[-1]))

    def at(course: Floats) -> Floats:
        return np.interp(t_s, world.t_s, course)

    return Inside(
        t_s=t_s, normal_load_n=at(turned.normal_n), friction_force_n=at(turned.friction_n),
        motor_current_a=at(turned.current_a), ring_speed_rad_s=at(turned.ring_rad_s),
        motor_speed_rad_s=at(turned.motor_rad_s), shaft_torque_nm=at(turned.torque_nm),
        bath_temperature_degc=at(world.bath_degc), pin_temperature_degc=at(world.pin_degc),
        sound_level_db=at(world.level_db), on=at(made.on.astype(np.float64)) > 0.5, heat_in_j=put_in_j,
        bath_heat_j=kept_j, drag_torque_nm=rig.motor.drag_torque_nm, ring_radius_m=rig.radius_m,
    )  # fmt: skip
