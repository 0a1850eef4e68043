"""Draws the measuring chains of a rig.

Reads a rig without gauges, gives a gauge for every channel there can be.
"""

from math import floor, log10, pi

from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    DriveKind,
)

from .chance import Chance
from .rig import Gauge, Rig


def gauges_of(chance: Chance, rig: Rig) -> dict[str, Gauge]:
    """Draw a gauge for every channel; hum is drawn with the plan, as it may be seen as a nuisance."""
    return {
        NORMAL_LOAD: _cell(chance, rig.top_load_n * chance.between(1.3, 4.0)),
        FRICTION_FORCE: _cell(chance, _friction_range_n(chance, rig)),
        MOTOR_CURRENT: _current(chance, rig),
        SOUND_LEVEL: _microphone(rig),
        PIN_TEMPERATURE: _thermocouple(chance, 0.3, 8.0),
        BATH_TEMPERATURE: _thermocouple(chance, 2.0, 20.0),
        RING_SPEED: _speed(chance, rig),
    }


def _friction_range_n(chance: Chance, rig: Rig) -> float:
    """Draw the range of the friction cell; one in eight is too small for a scuffing at the top load."""
    healthy_n = rig.film.boundary_ratio * rig.top_load_n
    small = chance.yes(1.0 / 8.0)
    return round_up(healthy_n * (chance.between(1.8, 2.6) if small else chance.ratio(5.0, 14.0)))


def _cell(chance: Chance, wanted: float) -> Gauge:
    high = round_up(wanted)
    return Gauge(
        low=-0.1 * high if chance.yes(0.5) else -high,
        high=high,
        noise=high * chance.ratio(0.0002, 0.003),
        step=2.0 * high / 2.0 ** chance.one((10, 12, 14, 16, 20)),
        lag_s=chance.ratio(0.002, 0.03),
        zero=high * chance.between(-0.005, 0.005),
        wander=high * chance.ratio(0.0001, 0.002),
    )


def _current(chance: Chance, rig: Rig) -> Gauge:
    """Draw a current transducer: Hall effect for direct current, true rms with its averaging for alternating."""
    drive = rig.drive
    brushed = drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    enough = chance.yes(0.85)
    high = round_up(1.2 * drive.held_a if enough else drive.full_a * chance.between(1.8, 3.0))
    return Gauge(
        low=-0.05 * high,
        high=high,
        noise=max(drive.full_a * chance.ratio(0.002, 0.012), 0.0002 * high),
        step=high / 2.0 ** chance.one((10, 12, 12, 16)),
        lag_s=chance.ratio(0.003, 0.05) if brushed else chance.ratio(0.02, 0.2),
        zero=high * chance.between(-0.002, 0.004),
        wander=high * 0.0003,
    )


def _thermocouple(chance: Chance, fastest_s: float, slowest_s: float) -> Gauge:
    return Gauge(
        low=0.0,
        high=chance.one((200.0, 250.0, 400.0)),
        noise=chance.ratio(0.01, 0.15),
        step=chance.one((0.01, 0.0625, 0.1, 0.25)),
        lag_s=chance.ratio(fastest_s, slowest_s),
        zero=chance.between(-1.0, 1.0),
        wander=chance.ratio(0.02, 0.25),
        refresh_s=chance.one((0.0, 0.1, 0.25, 1.0)),
    )


def _microphone(rig: Rig) -> Gauge:
    """Give the sound meter's last part; its time weighting and flutter belong to the sound."""
    offset_db = rig.sound.offset_db
    return Gauge(low=25.0 + offset_db, high=130.0 + offset_db, noise=0.05, step=0.1, lag_s=0.0)


def _speed(chance: Chance, rig: Rig) -> Gauge:
    rpm = rig.set_speed_rad_s * 30.0 / pi
    analogue = rig.pulses.per_turn == 0
    high = round_up(rpm * 1.4)
    return Gauge(
        low=0.0,
        high=high,
        noise=rpm * chance.ratio(0.001, 0.008) if analogue else 0.0,
        step=high / 4096.0 if analogue else high * 1e-5,
        lag_s=chance.ratio(0.01, 0.1) if analogue else 0.0,
    )


def round_up(value: float) -> float:
    """Give the next of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten, as ranges are printed on devices."""
    decade = 10.0 ** floor(log10(value))
    for part in (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0):
        if part * decade >= value:
            return part * decade
    raise ValueError(f"no range for {value}")
