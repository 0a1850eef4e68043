"""The instruments: what each channel would show, and what it shows.

Reads the world on the inner clock, gives readings. `clean` is without noise, so that what an event does to a channel
can be told from its unrest; `shown` is with noise, offsets, steps and rails.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from world_b import values as v
from world_b.values import Floats

from .chance import Dice, between, happens, lagged, scaled
from .facts import ranges_of
from .rig import Rig
from .sound import fluctuation, metered_db
from .tachometer import speed_rpm
from .turning import Turned

_HALF_K = 0.5


@dataclass(frozen=True, slots=True)
class World:
    """The noise-free world on the inner clock, (n,) each."""

    t_s: Floats
    turned: Turned
    bath_degc: Floats
    pin_degc: Floats
    level_db: Floats


def clean(rig: Rig, world: World, channel: str) -> Floats:
    """Give what an instrument without noise, steps and rails would show, on the inner clock, (n,) in its unit."""
    sensing, turned = rig.sensing, world.turned
    if channel == v.FRICTION_FORCE:
        return lagged(turned.friction_n, sensing.cell_s)
    if channel == v.NORMAL_LOAD:
        return lagged(turned.normal_n, sensing.cell_s)
    if channel == v.MOTOR_CURRENT:
        return lagged(turned.current_a, sensing.current_s)
    if channel == v.SOUND_LEVEL:
        return metered_db(world.level_db, sensing.sound_s)
    if channel == v.PIN_TEMPERATURE:
        return lagged(world.pin_degc, sensing.couple_s)
    if channel == v.BATH_TEMPERATURE:
        return lagged(world.bath_degc, sensing.couple_s)
    return _shaft_rad_s(rig, turned) * 30.0 / pi


def shown(dice: Dice, rig: Rig, world: World, at_s: Floats) -> dict[str, Floats]:
    """Give the readings of the rig's channels at the moments of the samples, (m,) each in its unit."""
    seeds = dice.spawn(7)
    channels = v.CHANNELS_OF[rig.sensing.channel_set]
    every = v.CHANNELS_OF[next(iter(v.CHANNELS_OF))]
    own = dict(zip(every, seeds, strict=True))
    return {channel: _shown(own[channel], rig, world, channel, at_s) for channel in channels}


def _shown(dice: Dice, rig: Rig, world: World, channel: str, at_s: Floats) -> Floats:
    low, high = ranges_of(rig)[channel]
    sensing, count = rig.sensing, len(at_s)
    fixed, loose = dice.spawn(2)  # what an instrument is does not depend on how often it is read
    noise = loose.standard_normal(count)
    if channel == v.RING_SPEED:
        read = speed_rpm(fixed, sensing, world.t_s, _shaft_rad_s(rig, world.turned), at_s)
        if sensing.pulses_per_turn == 0:
            read = read * (1.0 + 0.004 * noise * scaled(fixed, 0.3, 2.0)) + 0.0005 * high * noise
        return np.asarray(np.clip(read, 0.0, high))
    if channel == v.SOUND_LEVEL:
        rough = fluctuation(loose, len(world.t_s))
        read = np.interp(at_s, world.t_s, metered_db(world.level_db, sensing.sound_s, rough))
        return np.clip(np.round(read, 1), low, high)
    read = np.interp(at_s, world.t_s, clean(rig, world, channel))
    if channel.endswith("degc"):
        read = read + between(fixed, -0.8, 0.8) + sensing.couple_noise_k * noise
        step = _HALF_K if rig.coarse else sensing.couple_step_k
        return np.clip(np.round(read / step) * step if step else read, low, high)
    if channel == v.MOTOR_CURRENT:
        read = read * (1.0 + _ripple(rig, world, at_s) + between(fixed, -0.01, 0.01))
        read = read + sensing.current_full_a * (sensing.current_noise * noise + between(fixed, -0.002, 0.002))
        step = sensing.current_full_a / 4096.0
        return np.clip(np.round(read / step) * step, low, high)
    full = sensing.cell_n if channel == v.FRICTION_FORCE else sensing.load_cell_n
    minutes = (at_s - at_s[0]) / 60.0
    zero = between(fixed, -0.004, 0.004) + between(fixed, -1.0, 1.0) * 0.0002 * minutes / (1.0 + minutes / 15.0)
    read = read * (1.0 + between(fixed, -0.01, 0.01)) + full * (zero + sensing.force_noise * noise)
    if channel == v.FRICTION_FORCE and rig.hum:
        hum = full * scaled(fixed, 0.001, 0.01)
        read = read + hum * np.sin(2.0 * pi * between(fixed, 49.95, 50.05) * at_s + between(fixed, 0.0, 6.0))
    step = full / (65536.0 if happens(fixed, 0.7) else 4096.0)
    return np.asarray(np.clip(np.round(read / step) * step, -1.02 * full, 1.02 * full))


def _ripple(rig: Rig, world: World, at_s: Floats) -> Floats:
    """Give the ripple of rotor and belt, once a turn and a little beside it, relative."""
    angle = np.interp(at_s, world.t_s, world.turned.angle_rad)
    size = 0.004 + 4.0 * rig.sensing.current_noise
    return np.asarray(size * np.sin(3.7 * angle + 1.0) + 0.5 * size * np.sin(angle + 0.4))


def _shaft_rad_s(rig: Rig, turned: Turned) -> Floats:
    return turned.motor_rad_s if rig.sensing.tachometer_on_motor else turned.ring_rad_s
