"""Settings of a replay: the little that a recording's rig file must say, and what holds where it says nothing.

Reads TOML text of the smallest rig file or of a whole one, gives the parameters of the detectors.
"""

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from scuffwatch.detect.bank import BankParams
from scuffwatch.detect.far_above import FarAboveParams
from scuffwatch.detect.heat import HeatParams
from scuffwatch.detect.limits import LimitParams
from scuffwatch.detect.mechanics import MechanicsParams, friction_zero_n
from scuffwatch.detect.motor_params import MotorParams, current_zero_a, friction_least_n
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.sensor_fault import SensorParams
from scuffwatch.detect.stage import StageParams
from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    KNOWN_CHANNELS,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    OnLoss,
    unit_of,
)
from scuffwatch.model.errors import ConfigError
from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.signals.friction import FRICTION_COEFFICIENT, FrictionRule
from scuffwatch.signals.table_slices import ColumnRule

_SLOW_CHANNELS = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_FAST_ENDS = (FRICTION_FORCE, MOTOR_CURRENT)
"""At the end of their range they look like scuffing and like a jam."""
_SLOWEST_END_S = 0.05
"""Of slower rows each is worth too much to be held back."""
_UNSTATED_DEGC = (-60.0, 500.0)
"""Where no range is stated: no oil is left in a bath beyond it, and an open thermocouple shows more. Own choice."""
_MAX_AGE_S, _SLOW_MAX_AGE_S, _AGE_PERIODS = 0.5, 3.0, 5.0
_STUCK_S, _SLOW_STUCK_S = 2.0, 60.0
_LEAST_LOAD_N, _LEAST_LOAD_SHARE, _NO_LOAD_N, _OPEN_LOAD_N = 5.0, 0.02, 0.01, 1.0
_ON_DELAY_S = 0.04

_TRIPS = {
    FRICTION_FORCE: (FindingKind.OVERLOAD, "Overload"),
    NORMAL_LOAD: (FindingKind.OVERLOAD, "Overload"),
    MOTOR_CURRENT: (FindingKind.OVERLOAD, "Overload"),
    FRICTION_COEFFICIENT: (FindingKind.FRICTION_LIMIT, "Friction limit"),
    PIN_TEMPERATURE: (FindingKind.OVERHEAT, "Overheat"),
    BATH_TEMPERATURE: (FindingKind.OVERHEAT, "Overheat"),
}
_WARNS = {
    FRICTION_COEFFICIENT: (FindingKind.FRICTION_LIMIT, "Friction high"),
    PIN_TEMPERATURE: (FindingKind.OVERHEAT, "Pin hot"),
}
_KEYS = {
    "friction_force_max_n": (FRICTION_FORCE, Level.TRIP),
    "friction_coefficient_max": (FRICTION_COEFFICIENT, Level.TRIP),
    "friction_coefficient_warn": (FRICTION_COEFFICIENT, Level.WARN),
    "motor_current_max_a": (MOTOR_CURRENT, Level.TRIP),
    "pin_temperature_max_degc": (PIN_TEMPERATURE, Level.TRIP),
    "pin_temperature_warn_degc": (PIN_TEMPERATURE, Level.WARN),
    "bath_temperature_max_degc": (BATH_TEMPERATURE, Level.TRIP),
    **{name: (name, Level.TRIP) for name in _TRIPS},
}
_DELAYS = ("load_min_n", "on_delay_s")
LIMIT_NAMES = (*_KEYS, *_DELAYS)


@dataclass(frozen=True, slots=True)
class ReplaySettings:
    """What is known of the rig a recording comes from; NaN where nothing is.

    Attributes:
        ring_diameter_mm: of the ring, mm.
        ring_speed_rpm: set speed, r/min.
        no_load_current_a: with the pin lifted, A.
        current_limit_a: of the drive, A; infinite where there is none or it is not known.
        ranges: valid values by channel, in its unit.
        max_ages_s: oldest value that counts, by channel, s.
        limits: trip limits and warning limits by channel, in its unit.
        load_min_n: below it there is no friction coefficient, N.
        on_delay_s: of the limits, s.
        ignored: keys of the rig file that a replay does not use.
    """

    ring_diameter_mm: float = math.nan
    ring_speed_rpm: float = math.nan
    no_load_current_a: float = math.nan
    current_limit_a: float = math.inf
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    max_ages_s: Mapping[str, float] = field(default_factory=dict)
    limits: Mapping[tuple[str, Level], float] = field(default_factory=dict)
    load_min_n: float = _OPEN_LOAD_N
    on_delay_s: float = _ON_DELAY_S
    ignored: tuple[str, ...] = ()

    def knows(self, name: str) -> bool:
        """Say whether a column of this name is a channel: one of ours, or one the rig file names, with a unit."""
        return name in KNOWN_CHANNELS or (name in self.ranges and unit_of(name) != "")


def load_replay_settings(text: str = "", limits: Iterable[str] = (), name: str = "rig file") -> ReplaySettings:
    """Read a rig file as far as a replay needs it.

    Args:
        text: TOML; may be empty. A whole rig file of a live rig will do; what is not used is named in `ignored`.
        limits: `name=value` words that go before the file's own limits.
        name: file name used in sentences.
    Returns:
        Checked settings.
    Raises:
        ConfigError: not TOML, or with every wrong value in it, one sentence each.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError((f"{name}: not TOML: {error}. Nothing has been replayed.",)) from error
    reading = _Reading(name, raw)
    ranges = reading.ranges()
    settings = ReplaySettings(
        ring_diameter_mm=reading.positive("rig", "ring_diameter_mm"),
        ring_speed_rpm=reading.positive("rig", "ring_speed_rpm"),
        no_load_current_a=reading.positive("motor", "no_load_current_a"),
        current_limit_a=reading.positive("motor", "current_limit_a", math.inf),
        ranges=ranges,
        max_ages_s=reading.ages_s(),
        limits=reading.limits(limits),
        load_min_n=reading.plain.get("load_min_n", _least_load_n(ranges.get(NORMAL_LOAD))),
        on_delay_s=reading.plain.get("on_delay_s", _ON_DELAY_S),
    )
    if reading.problems:
        raise ConfigError(tuple(reading.problems))
    return replace(settings, ignored=tuple(reading.unused()))


def _least_load_n(valid_n: tuple[float, float] | None) -> float:
    """Give the load below which a contact counts as unloaded, where the rig file does not say, N.

    5 N, or a fiftieth of the load cell's range where that is less: a rig for light loads has a small cell. 1 N where
    the range is not known: whoever has a small rig and no rig file shall not be blind in silence.

    Source:
        common practice, no source.
    """
    return _OPEN_LOAD_N if valid_n is None else min(_LEAST_LOAD_N, max(_LEAST_LOAD_SHARE * valid_n[1], _NO_LOAD_N))


class _Reading:
    """One rig file being read: what was taken, and what was wrong with it."""

    def __init__(self, name: str, raw: Mapping[str, Any]) -> None:
        self._name = name
        self._raw = raw
        self._taken: set[tuple[str, ...]] = set()
        self.problems: list[str] = []
        self.plain: dict[str, float] = {}

    def section(self, *path: str) -> Mapping[str, Any]:
        at: Any = self._raw
        for depth, part in enumerate(path, 1):
            at = at.get(part, {})
            if not isinstance(at, Mapping):
                self._refuse(f"[{'.'.join(path[:depth])}]", f"{at!r} is no section")
                return {}
        found: Mapping[str, Any] = at
        return found

    def positive(self, section: str, key: str, otherwise: float = math.nan) -> float:
        self._taken.add((section, key))
        value = self.section(section).get(key)
        return otherwise if value is None else self._number(f"[{section}] {key}", value)

    def ranges(self) -> dict[str, tuple[float, float]]:
        found = {}
        for name in self.section("channels"):
            self._taken.add(("channels", name, "range"))
            given = self.section("channels", name).get("range")
            if given is None:
                continue
            if isinstance(given, list) and len(given) == 2 and all(map(_is_number, given)) and given[0] < given[1]:
                found[name] = (float(given[0]), float(given[1]))
            else:
                self._refuse(f"[channels.{name}] range", f"{given!r} is not [low, high] with low below high")
        return found

    def ages_s(self) -> dict[str, float]:
        found = {}
        for name in self.section("channels"):
            self._taken.add(("channels", name, "max_age_s"))
            given = self.section("channels", name).get("max_age_s")
            if given is not None:
                found[name] = self._number(f"[channels.{name}] max_age_s", given)
        return found

    def limits(self, words: Iterable[str]) -> dict[tuple[str, Level], float]:
        given: dict[str, tuple[str, Any]] = {}
        for key, value in self.section("limits").items():
            self._taken.add(("limits", key))
            given[key] = (f"[limits] {key}", value)
        for word in words:
            key, equals, text = word.partition("=")
            if not equals:
                self._refuse(f"--limit {word}", "is not name=value")
                continue
            given[key.strip()] = (f"--limit {key.strip()}", _number_or_text(text))
        found = {}
        for key, (where, value) in given.items():
            if key not in LIMIT_NAMES:
                self._refuse(where, f"is no limit. Known: {', '.join(LIMIT_NAMES)}")
            elif key in _DELAYS:
                self.plain[key] = self._number(where, value)
            else:
                found[_KEYS[key]] = self._number(where, value)
        return found

    def _number(self, where: str, value: Any) -> float:
        if _is_number(value) and value > 0:
            return float(value)
        self._refuse(where, f"{value!r} is not a number above 0")
        return math.nan

    def _refuse(self, where: str, why: str) -> None:
        at = "" if where.startswith("--") else f"{self._name} "
        says = f"{at}{where}: {why}. Nothing has been replayed."
        if says not in self.problems:
            self.problems.append(says)

    def unused(self) -> list[str]:
        found = []
        for section, content in self._raw.items():
            if not isinstance(content, Mapping):
                found.append(section)
                continue
            for key, value in content.items():
                if section == "channels" and isinstance(value, Mapping):
                    found += [f"{section}.{key}.{k}" for k in value if (section, key, k) not in self._taken]
                elif (section, key) not in self._taken:
                    found.append(f"{section}.{key}")
        return found


def _number_or_text(text: str) -> Any:
    try:
        return float(text)
    except ValueError:
        return text


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def column_rules(settings: ReplaySettings, names: Iterable[str], period_s: float) -> dict[str, ColumnRule]:
    """Give how each column is judged.

    Args:
        settings: of the replay.
        names: columns, in order.
        period_s: between two rows, s.
    """
    rules = {}
    for name in names:
        low, high = settings.ranges.get(name, _UNSTATED_DEGC if name in _SLOW_CHANNELS else (-math.inf, math.inf))
        slow = name in _SLOW_CHANNELS
        usual_s = _SLOW_MAX_AGE_S if slow else _MAX_AGE_S
        max_age_s = settings.max_ages_s.get(name, max(usual_s, _AGE_PERIODS * period_s))
        learns_ends = name in _FAST_ENDS and name not in settings.ranges and period_s <= _SLOWEST_END_S
        rules[name] = ColumnRule(low, high, max_age_s, _SLOW_STUCK_S if slow else _STUCK_S, learns_ends)
    return rules


def friction_rule(settings: ReplaySettings) -> FrictionRule:
    """Give how the friction coefficient is derived."""
    return FrictionRule(settings.load_min_n)


def replay_bank_params(settings: ReplaySettings, rules: Mapping[str, ColumnRule]) -> BankParams:
    """Give the parameters of all detectors for the columns of a recording; a lost channel is a warning."""
    watched = MOTOR_CURRENT in rules or RING_SPEED in rules
    limits = _limit_params(settings, rules, watched)
    highs = {row.channel: row.high for row in limits if row.level is Level.TRIP}
    return BankParams(
        limits=limits,
        sensors=tuple(SensorParams(name, rule.max_age_s, OnLoss.DEGRADE) for name, rule in rules.items()),
        motor=MotorParams(
            speed_set_rpm=settings.ring_speed_rpm,
            no_load_current_a=settings.no_load_current_a,
            current_limit_a=settings.current_limit_a,
            current_zero_a=current_zero_a(settings.ranges.get(MOTOR_CURRENT)),
            friction_least_n=friction_least_n(settings.ranges.get(FRICTION_FORCE)),
            speed_lost_level=Level.WARN,
        )
        if watched
        else None,
        heat=tuple(HeatParams(name, highs[name]) for name in _SLOW_CHANNELS if name in rules and name in highs),
        scuffing=ScuffParams(
            MechanicsParams(
                settings.no_load_current_a,
                settings.load_min_n,
                friction_zero_n(settings.ranges.get(FRICTION_FORCE)),
                NORMAL_LOAD in settings.ranges,
            ),
            sees_motion=watched,
            far_above=FarAboveParams.beside(highs.get(FRICTION_COEFFICIENT, math.nan)),
        )
        if FRICTION_FORCE in rules or MOTOR_CURRENT in rules
        else None,
        stage=StageParams.of(settings.load_min_n),
    )


def _limit_params(settings: ReplaySettings, rules: Mapping[str, ColumnRule], watched: bool) -> tuple[LimitParams, ...]:
    fitted = set(rules)
    if {FRICTION_FORCE, NORMAL_LOAD} <= fitted:
        fitted.add(FRICTION_COEFFICIENT)
    found = []
    for (name, level), high in settings.limits.items():
        if name not in fitted or (name == MOTOR_CURRENT and not watched):
            continue
        kind, label = (_TRIPS if level is Level.TRIP else _WARNS)[name]
        waits = watched and name in (MOTOR_CURRENT, FRICTION_COEFFICIENT)
        found.append(LimitParams.above(name, high, settings.on_delay_s, (kind, level, label), waits))
    return tuple(found)
