"""The eighth simulated world, sealed: rigs and people of its own, written without sight of what it scores.

Reads a seed and a class, gives a `Recording`; `simulate` gives the noise-free inside beside it.
"""

import numpy as np
from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    NAN,
    PIN_TEMPERATURE,
    ChannelSet,
    Inside,
    Kind,
    Klass,
    Nuisance,
    Recording,
)

from .acts import SLOW_S
from .chance import Purpose, generator
from .facts import healthy_most, write_facts
from .instruments import Instruments, draw_instruments, fitted
from .promise import broken
from .readings import with_noise, without_noise
from .room import level_db
from .spoils import draw_failure, fail, spike
from .stamps import stamp
from .truth import read_truth, seeing
from .world import World, fine, make_world

ATTEMPTS = 200
"""Worlds tried for one recording before it is said that none kept its promise."""

__all__ = ["generate", "simulate", "world_of"]


def world_of(seed: int, klass: Klass) -> tuple[World, int]:
    """Give the first world that keeps the promise of its class, and which attempt it was.

    Raises:
        RuntimeError: none of `ATTEMPTS` did; the message carries seed, class and the last broken promise.
    """
    why = ""
    for attempt in range(ATTEMPTS):
        world = make_world(seed, klass, attempt)
        why = broken(world)
        if not why:
            return world, attempt
    raise RuntimeError(f"seed {seed}, {klass.value}: no world of {ATTEMPTS} kept its promise; last broken: {why}")


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Make a recording; the same arguments give the same bits.

    Args:
        seed: of everything drawn, together with the class.
        klass: what happens.
        rate_hz: rows a second, 5 to 2000; the rig and its story do not depend on it.
        channel_set: what is fitted; nothing draws it, about half of the rigs having all seven.
    Raises:
        ValueError: the rate is outside the range above.
    """
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate {rate_hz} Hz, allowed 5..2000 Hz")
    world, attempt = world_of(seed, klass)
    instruments_rng = generator(seed, klass, attempt, Purpose.INSTRUMENTS)
    instruments = draw_instruments(instruments_rng, world.rig, healthy_most(world), channel_set)
    facts = write_facts(instruments_rng, world, instruments)
    t_s = np.arange(int(world.end_s * rate_hz)) / rate_hz
    rig, plan = world.rig, world.plan
    level = level_db(rig, world.voice, world.acts, world.course)
    plain = without_noise(rig, instruments, world.course, level, t_s)
    noise_rng = generator(seed, klass, attempt, Purpose.NOISE)
    real = with_noise(noise_rng, rig, instruments, world.acts, plain, t_s)
    spoils_rng = generator(seed, klass, attempt, Purpose.SPOILS)
    stamps_s, kept = stamp(spoils_rng, plan, world.end_s, t_s)
    failure = draw_failure(spoils_rng, klass, plan, instruments)
    _name_what_lasts(world, instruments)
    channels = {name: real[name].copy() for name in CHANNELS_OF[instruments.channel_set]}
    spike(spoils_rng, plan, world.end_s, instruments, t_s, channels)
    if failure is not None:
        channels[failure.channel] = fail(noise_rng, failure, instruments, t_s, channels[failure.channel])
    still = (
        plain if world.still is world.course else without_noise(rig, instruments, world.still, _still_db(world), t_s)
    )
    seen_by = seeing(world, instruments, failure, plain, still, real, t_s)
    truth = read_truth(world, instruments, failure, seen_by)
    return Recording(stamps_s[kept], {name: values[kept] for name, values in channels.items()}, facts, truth)


def simulate(seed: int, klass: Klass) -> Inside:
    """Give the noise-free inside of the recording of the same seed and class, every 5 ms, without nights."""
    world, _ = world_of(seed, klass)
    course, rig, until = world.course, world.rig, fine(world.end_s)
    t_s = world.acts.t_s
    slow_s = np.arange(len(course.bath_degc)) * SLOW_S
    bath_degc, pin_degc = (np.interp(t_s, slow_s, degc)[:until] for degc in (course.bath_degc, course.pin_degc))
    return Inside(
        t_s=t_s[:until],
        normal_load_n=course.normal_n[:until],
        friction_force_n=course.friction_n[:until],
        motor_current_a=course.current_a[:until],
        ring_speed_rad_s=course.ring_rad_s[:until],
        motor_speed_rad_s=course.motor_rad_s[:until],
        shaft_torque_nm=course.shaft_nm[:until],
        bath_temperature_degc=bath_degc,
        pin_temperature_degc=pin_degc,
        sound_level_db=level_db(rig, world.voice, world.acts, course)[:until],
        on=world.acts.supply[:until] > 0.0,
        heat_in_j=course.heat_j,
        bath_heat_j=rig.warmth.bath_j_k * float(course.bath_degc[-1] - course.bath_degc[0]) if until else NAN,
        drag_torque_nm=rig.motor.drag_nm,
        ring_radius_m=rig.ring_radius_m,
    )


def _still_db(world: World) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    return level_db(world.rig, world.voice, world.still_acts, world.still)


def _name_what_lasts(world: World, instruments: Instruments) -> None:
    """Name the nuisances that are of the instruments: hum, coarse steps, a start beyond the current's range."""
    names, nuisances = fitted(instruments), world.plan.nuisances
    if instruments.hum_n > 0.0 and FRICTION_FORCE in names:
        nuisances.append(Nuisance(Kind.MAINS_HUM, 0.0))
    if instruments.sensors[PIN_TEMPERATURE].step == 0.5 and PIN_TEMPERATURE in names:
        nuisances.append(Nuisance(Kind.COARSE_TEMPERATURE, 0.0))
    over = np.flatnonzero(world.still.current_a > instruments.sensors["motor_current_a"].high)
    if len(over):
        nuisances.append(Nuisance(Kind.CURRENT_RAIL, float(world.acts.t_s[over[0]])))
