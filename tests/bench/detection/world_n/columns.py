"""Draws how each column of the logger reads: unrest, resolution, holding, delay.

Reads a rig's contact and drive, gives one `Reading` a channel.
"""

from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    ChannelSet,
)

from world_n.draws import Rng, between, chance, log_between, pick
from world_n.names import LoadReading
from world_n.scene import Contact, Drive, Reading


def draw_load_reading(rng: Rng, channel_set: ChannelSet) -> LoadReading:
    """Give where the load column comes from; a set that is named after its cell has one."""
    drawn = pick(rng, tuple(LoadReading))
    return LoadReading.LEVER if channel_set is ChannelSet.LOAD_CELL else drawn


def _hold_s(rng: Rng, slow_logger: bool, low_s: float, high_s: float) -> float:
    drawn = log_between(rng, low_s, high_s)
    return drawn if slow_logger and chance(rng, 0.6) else 0.0


def _lag_s(rng: Rng, low_s: float, high_s: float) -> float:
    return log_between(rng, low_s, high_s)


def draw_readings(rng: Rng, contact: Contact, drive: Drive, calm: bool) -> dict[str, Reading]:
    """Give the columns of a quiet, ordinary or noisy rig.

    Args:
        rng: of this purpose alone.
        contact, drive: scale the absolute unrest.
        calm: the current is quiet enough to carry the evidence alone.
    """
    loud = pick(rng, (0.25, 0.6, 1.0, 1.0, 1.8))
    slow_logger = chance(rng, 0.3)
    full_n = 0.4 * contact.largest_load_n
    bits = pick(rng, (700.0, 4096.0, 65536.0))
    current = log_between(rng, 0.003, 0.02) * loud
    current = min(current, 0.012) if calm else current
    # drawn ahead of their use, so that a calm rig draws the same as another
    shares = [between(rng, 0.2, 0.9) for _ in range(7)]
    spacings_s = [log_between(rng, 0.02, 0.3) for _ in range(7)]
    return {
        NORMAL_LOAD: Reading(
            log_between(rng, 0.001, 0.015) * loud,
            0.0005 * contact.largest_load_n * loud,
            shares[0],
            spacings_s[0],
            contact.largest_load_n / bits,
            _hold_s(rng, slow_logger, 0.1, 1.0),
        ),
        FRICTION_FORCE: Reading(
            log_between(rng, 0.005, 0.035) * loud,
            log_between(rng, 0.0002, 0.003) * full_n * loud,
            shares[1],
            spacings_s[1],
            full_n / bits,
            _hold_s(rng, slow_logger, 0.05, 0.3),
        ),
        MOTOR_CURRENT: Reading(
            current,
            0.001 * drive.no_load_a,
            shares[2],
            spacings_s[2],
            drive.no_load_a * pick(rng, (0.0005, 0.002, 0.008)),
            _hold_s(rng, slow_logger, 0.1, 1.0),
            between(rng, 0.0, 0.6),
        ),
        SOUND_LEVEL: Reading(
            0.0,
            log_between(rng, 0.15, 1.2) * loud,
            shares[3],
            max(spacings_s[3], 0.12),
            pick(rng, (0.01, 0.1, 0.5)),
            _hold_s(rng, slow_logger, 0.1, 1.0),
        ),
        PIN_TEMPERATURE: Reading(
            0.0,
            log_between(rng, 0.01, 0.2) * loud,
            shares[4],
            spacings_s[4],
            pick(rng, (0.01, 0.1, 0.25)),
            _hold_s(rng, slow_logger, 0.3, 3.0),
            lag_s=_lag_s(rng, 0.3, 20.0),
        ),
        BATH_TEMPERATURE: Reading(
            0.0,
            log_between(rng, 0.01, 0.1) * loud,
            shares[5],
            spacings_s[5],
            pick(rng, (0.01, 0.1, 0.25)),
            _hold_s(rng, slow_logger, 0.5, 5.0),
            lag_s=_lag_s(rng, 4.0, 40.0),
        ),
        RING_SPEED: Reading(
            log_between(rng, 0.0004, 0.006) * loud,
            0.0,
            shares[6],
            spacings_s[6],
            drive.speed_rpm * 0.0005,
            _hold_s(rng, slow_logger, 0.1, 0.5),
        ),
    }
