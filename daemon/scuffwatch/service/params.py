"""Settings made into what each room asks for: calibrations, limits, detectors, guard, records and axes.

Reads `RigSettings`, gives the frozen parameters of the chain. The one place where settings names meet room names.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.bank import BankParams
from scuffwatch.detect.far_above import FarAboveParams
from scuffwatch.detect.heat import HeatParams
from scuffwatch.detect.limits import LimitParams
from scuffwatch.detect.mechanics import MechanicsParams, friction_zero_n
from scuffwatch.detect.motor_params import MotorParams, current_zero_a, friction_least_n
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.sensor_fault import SensorParams
from scuffwatch.detect.stage import StageParams
from scuffwatch.detect.words import words_of
from scuffwatch.guard.values import GuardSettings
from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    RING_SPEED,
    GroupLayout,
    OnLoss,
)
from scuffwatch.model.event import ChannelRecord
from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.service.chain import ChainRules
from scuffwatch.service.settings import Channel, Lubricant, RigSettings
from scuffwatch.signals.calibrate import Calibration, counts_limits
from scuffwatch.signals.friction import FRICTION_COEFFICIENT, FrictionRule
from scuffwatch.signals.slices import ChannelRule
from scuffwatch.wire.protocol import CountLimit

UNCONFIGURED = Channel(
    coefficients=(0.0, 1.0), range=(-1e12, 1e12), max_age_s=60.0, on_loss="degrade", axis=(-32768.0, 32767.0)
)
"""A channel of the rig box that the rig file does not name: its counts are recorded as they are."""
NODE_SURGE_S = 2.0
"""The rig box does not know a start surge: its own current limit waits this long."""
OIL_SMOKE = {Level.TRIP: 0.0, Level.WARN: 25.0}
OIL_FLASH = {Level.TRIP: 25.0, Level.WARN: 50.0}
"""How far below a lubricant's smoke and flash point, K. The alarm 50 K below the flash point and the stop on visible
smoke are common practice, no source; the trip 25 K below the flash point is this project's."""
NODE_DELAY_TIMES = 2
"""The rig box waits this many times the on-delay, so that the host, which can say why, is first."""


def chain_rules(settings: RigSettings) -> ChainRules:
    """Give what the chain needs."""
    rules = {name: _rule(channel) for name, channel in settings.channels.items()}
    return ChainRules(rules, _rule(UNCONFIGURED), FrictionRule(settings.limits.load_min_n), bank_params(settings))


def guard_settings(settings: RigSettings) -> GuardSettings:
    """Give the guard's times."""
    guard = settings.guard
    return GuardSettings(
        at_rest_s=guard.at_rest_s,
        reset_min_s=guard.reset_min_s,
        reset_max_s=guard.reset_max_s,
        unexpected_start_s=guard.unexpected_start_s,
        link_max_silence_s=guard.max_silence_s,
        readback_s=guard.readback_s,
    )


def limit_params(settings: RigSettings) -> tuple[LimitParams, ...]:
    """Give the hard limits, trips first."""
    limits, watched = settings.limits, _is_watched(settings)
    trip, warn = Level.TRIP, Level.WARN
    rows = (
        (FRICTION_FORCE, limits.friction_force_max_n, FindingKind.OVERLOAD, trip, "Overload"),
        (FRICTION_COEFFICIENT, limits.friction_coefficient_max, FindingKind.FRICTION_LIMIT, trip, "Friction limit"),
        (MOTOR_CURRENT, limits.motor_current_max_a, FindingKind.OVERLOAD, trip, "Overload"),
        (PIN_TEMPERATURE, limits.pin_temperature_max_degc, FindingKind.OVERHEAT, trip, "Overheat"),
        (BATH_TEMPERATURE, limits.bath_temperature_max_degc, FindingKind.OVERHEAT, trip, "Overheat"),
        (FRICTION_COEFFICIENT, limits.friction_coefficient_warn, FindingKind.FRICTION_LIMIT, warn, "Friction high"),
        (PIN_TEMPERATURE, limits.pin_temperature_warn_degc, FindingKind.OVERHEAT, warn, "Pin hot"),
    )
    after_start = (MOTOR_CURRENT, FRICTION_COEFFICIENT) if watched else ()
    return tuple(
        LimitParams.above(name, high, limits.on_delay_s, (kind, level, label), name in after_start)
        for name, high, kind, level, label in rows
    )


def lubricant_on_record(settings: RigSettings, lubricant: str) -> Lubricant | None:
    """Give what is on record of a lubricant: the longest name that it is, or begins with and goes on after a break.

    So `HEES-46` stands for `HEES-46, batch 12` and not for `HEES-460`. Capitals do not count.
    """
    asked = lubricant.casefold()
    fitting = [
        name
        for name in settings.lubricants
        if asked.startswith(name.casefold()) and not asked[len(name) : len(name) + 1].isalnum()
    ]
    return settings.lubricants[max(fitting, key=len)] if fitting else None


def oil_limits(settings: RigSettings, lubricant: str) -> tuple[LimitParams, ...]:
    """Give the limits that a lubricant's smoke and flash point add to the rig's own, lowest trip and lowest warning.

    They hold for the bath, or for the pin where no bath temperature is measured. Above the rig's limit none is added.

    Args:
        settings: of the rig.
        lubricant: as the run was opened with; one that is not on record adds nothing.
    """
    record = lubricant_on_record(settings, lubricant)
    channel = next((name for name in (BATH_TEMPERATURE, PIN_TEMPERATURE) if name in settings.channels), None)
    if record is None or channel is None:
        return ()
    points = ((record.smoke_point_degc, "Smoke point", OIL_SMOKE), (record.flash_point_degc, "Flash point", OIL_FLASH))
    rigs = settings.limits.bath_temperature_max_degc
    if channel == PIN_TEMPERATURE:
        rigs = settings.limits.pin_temperature_max_degc
    found = []
    for level in (Level.TRIP, Level.WARN):
        highs = [
            (point_degc - below_k[level], label) for point_degc, label, below_k in points if point_degc is not None
        ]
        high_degc, label = min(highs, default=(math.inf, ""))
        if high_degc < rigs:
            means = (FindingKind.OVERHEAT, level, f"{label} near")
            found.append(LimitParams.above(channel, high_degc, settings.limits.on_delay_s, means, after_start=False))
    return tuple(found)


def oil_heat(limits: tuple[LimitParams, ...]) -> tuple[HeatParams, ...]:
    """Give what to look ahead on for the trips among the limits of a lubricant."""
    return tuple(HeatParams(limit.channel, limit.high) for limit in limits if limit.level is Level.TRIP)


def _is_watched(settings: RigSettings) -> bool:
    return any(name in settings.channels for name in (MOTOR_CURRENT, RING_SPEED))


def bank_params(settings: RigSettings) -> BankParams:
    """Give the parameters of all detectors."""
    limits, channels = settings.limits, settings.channels
    watched = _is_watched(settings)
    return BankParams(
        limits=limit_params(settings),
        sensors=tuple(
            SensorParams(name, channel.max_age_s, OnLoss(channel.on_loss)) for name, channel in channels.items()
        ),
        motor=_motor_params(settings) if watched else None,
        heat=tuple(
            HeatParams(name, high)
            for name, high in (
                (PIN_TEMPERATURE, limits.pin_temperature_max_degc),
                (BATH_TEMPERATURE, limits.bath_temperature_max_degc),
            )
            if name in channels
        ),
        scuffing=ScuffParams(
            MechanicsParams(
                settings.motor.no_load_current_a,
                limits.load_min_n,
                friction_zero_n(_range_of(settings, FRICTION_FORCE)),
            ),
            sees_motion=watched,
            far_above=FarAboveParams.beside(limits.friction_coefficient_max),
        )
        if FRICTION_FORCE in channels or MOTOR_CURRENT in channels
        else None,
        stage=StageParams.of(limits.load_min_n),
    )


def _motor_params(settings: RigSettings) -> MotorParams:
    motor = settings.motor
    return MotorParams(
        speed_set_rpm=settings.rig.ring_speed_rpm,
        no_load_current_a=motor.no_load_current_a,
        current_limit_a=math.inf if motor.current_limit_a is None else motor.current_limit_a,
        current_zero_a=current_zero_a(_range_of(settings, MOTOR_CURRENT)),
        friction_least_n=friction_least_n(_range_of(settings, FRICTION_FORCE)),
        turning_rpm=motor.turning_rpm,
        arm_share=motor.running_fraction,
        speed_lost_level=_speed_lost_level(settings),
        supply_lost_level=Level.WARN if motor.stop_opens_contactor else Level.NOTICE,
    )


def _range_of(settings: RigSettings, name: str) -> tuple[float, float] | None:
    """Give the valid values of a channel; None where it is not fitted."""
    channel = settings.channels.get(name)
    return None if channel is None else channel.range


def _speed_lost_level(settings: RigSettings) -> Level:
    speed = settings.channels.get(RING_SPEED)
    return Level.TRIP if speed is not None and speed.on_loss == "trip" else Level.WARN


def count_limits(settings: RigSettings, groups: tuple[GroupLayout, ...]) -> tuple[CountLimit, ...]:
    """Give the hard limits the rig box keeps itself, in counts after calibration and tare."""
    limits = settings.limits
    highs = {
        FRICTION_FORCE: (limits.friction_force_max_n, NODE_DELAY_TIMES * limits.on_delay_s),
        MOTOR_CURRENT: (limits.motor_current_max_a, NODE_SURGE_S),
        PIN_TEMPERATURE: (limits.pin_temperature_max_degc, NODE_DELAY_TIMES * limits.on_delay_s),
        BATH_TEMPERATURE: (limits.bath_temperature_max_degc, NODE_DELAY_TIMES * limits.on_delay_s),
    }
    found = []
    for group in groups:
        for position, name in enumerate(group.channels):
            if name in highs and name in settings.channels:
                high, delay_s = highs[name]
                channel = settings.channels[name]
                low = max(channel.range[0], -high) if name == FRICTION_FORCE else channel.range[0]
                low_counts, high_counts = counts_limits(_calibration(channel), low, high, group.integer_type)
                samples = max(2, round(delay_s * group.rate_hz))
                found.append(CountLimit(group.group, position, low_counts, high_counts, samples))
    return tuple(found)


def channel_records(settings: RigSettings, groups: tuple[GroupLayout, ...]) -> tuple[ChannelRecord, ...]:
    """Give what a run records of its channels: where the counts are and how they become SI."""
    found = []
    for group in groups:
        for position, name in enumerate(group.channels):
            channel = settings.channels.get(name, UNCONFIGURED)
            low, high = channel.range
            found.append(
                ChannelRecord(
                    name=name,
                    group=group.group,
                    position=position,
                    rate_hz=group.rate_hz,
                    integer_type=group.integer_type,
                    coefficients=channel.coefficients,
                    tare=channel.tare,
                    range_low=low,
                    range_high=high,
                    calibration_id=channel.calibration_id,
                )
            )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Axis:
    """How a channel is drawn.

    Attributes:
        label: in words.
        low, high: fixed ends of the axis, in the channel's unit.
        decimals: shown.
        warn, trip: limits, None where there is none.
        derived: whether it is calculated from other channels.
    """

    label: str
    low: float
    high: float
    decimals: int
    warn: float | None
    trip: float | None
    derived: bool


def axis_of(settings: RigSettings, name: str, more: tuple[LimitParams, ...] = ()) -> Axis:
    """Give how a channel is drawn; `more` are limits beside the rig's own, and the lowest of each level is drawn."""
    rows = [row for row in (*limit_params(settings), *more) if row.channel == name]
    warn, trip = (
        min((row.high for row in rows if row.level is level), default=None) for level in (Level.WARN, Level.TRIP)
    )
    label = words_of(name)
    label = label[:1].upper() + label[1:]
    if name == FRICTION_COEFFICIENT:
        return Axis(label, 0.0, 1.6 * settings.limits.friction_coefficient_max, 3, warn, trip, True)
    channel = settings.channels.get(name, UNCONFIGURED)
    low, high = channel.axis
    return Axis(label, low, high, channel.decimals, warn, trip, name not in settings.channels)


def _rule(channel: Channel) -> ChannelRule:
    return ChannelRule(_calibration(channel), channel.max_age_s, channel.stuck_after_s)


def _calibration(channel: Channel) -> Calibration:
    low, high = channel.range
    return Calibration(channel.coefficients, channel.tare, low, high, channel.calibration_id)
