"""The shared values: units, rails, order of badness, and nothing in them can be changed after the fact."""

import dataclasses
import importlib
import pkgutil
from enum import Enum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import scuffwatch.model
from scuffwatch.model.block import Block, ChannelSlice, Slice
from scuffwatch.model.channel import (
    KNOWN_CHANNELS,
    UNIT_OF_SUFFIX,
    GroupLayout,
    IntegerType,
    Quality,
    unit_of,
)
from scuffwatch.model.errors import CommandRefused, ConfigError, RigNotConnected, ScuffwatchError
from scuffwatch.model.finding import Level

MODULES = [
    importlib.import_module(f"scuffwatch.model.{module.name}")
    for module in pkgutil.iter_modules(scuffwatch.model.__path__)
]
CLASSES = [
    kind
    for module in MODULES
    for kind in vars(module).values()
    if isinstance(kind, type) and kind.__module__ == module.__name__
]
VALUES = [kind for kind in CLASSES if dataclasses.is_dataclass(kind)]


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("motor_current_a", "A"),
        ("pin_temperature_degc", "°C"),
        ("ring_speed_rpm", "r/min"),
        ("wear_volume_mm3", "mm³"),
        ("t_s", "s"),
        ("friction_coefficient", ""),
        ("load_n_ratio", ""),
        ("", ""),
    ],
)
def test_unit_of(name: str, unit: str) -> None:
    assert unit_of(name) == unit


def test_every_known_channel_ends_in_a_unit() -> None:
    assert all(unit_of(name) for name in KNOWN_CHANNELS)
    assert len(set(KNOWN_CHANNELS)) == len(KNOWN_CHANNELS)


@given(st.text(max_size=20), st.sampled_from(sorted(UNIT_OF_SUFFIX)))
def test_the_unit_follows_the_last_part_only(stem: str, suffix: str) -> None:
    assert unit_of(f"{stem}_{suffix}") == UNIT_OF_SUFFIX[suffix]


@pytest.mark.parametrize("kind", IntegerType)
def test_rails_are_those_of_two_s_complement(kind: IntegerType) -> None:
    limits = np.iinfo(kind.value)  # numpy's own figures for the type of that name
    assert (kind.low_counts, kind.high_counts, kind.size_bytes) == (limits.min, limits.max, limits.bits // 8)


def test_the_worst_of_a_set_is_its_maximum() -> None:
    assert max([Quality.GOOD, Quality.BAD, Quality.UNCERTAIN]) is Quality.BAD
    assert max([Level.NOTICE, Level.TRIP, Level.WARN]) is Level.TRIP


def test_a_block_knows_its_length_and_its_period() -> None:
    layout = GroupLayout(0, 200.0, IntegerType.INT16, ("a", "b", "c"))
    block = Block(layout, 0, 1, 0, 0.0, np.zeros((3, 4), np.int16), 0)
    assert (block.n, block.period_s) == (4, 0.005)


def test_something_is_looked_at() -> None:
    assert {"GroupLayout", "Slice", "Finding", "RunHeader", "Event"} <= {kind.__name__ for kind in VALUES}


HOT = (ChannelSlice, Slice)
"""Made many times a slice and frozen by mypy alone, see `block.hot_value`; every other value at run time too."""


@pytest.mark.parametrize("kind", VALUES, ids=lambda kind: kind.__name__)
def test_values_that_cross_rooms_are_frozen_and_slotted(kind: type) -> None:
    assert kind.__dataclass_params__.frozen is not (kind in HOT)  # type: ignore[attr-defined]
    assert "__slots__" in vars(kind)


@pytest.mark.parametrize("kind", [kind for kind in CLASSES if issubclass(kind, Enum)], ids=lambda kind: kind.__name__)
def test_closed_sets_have_no_value_twice(kind: type[Enum]) -> None:
    assert len(kind.__members__) == len(list(kind))


@pytest.mark.parametrize(
    ("error", "parts"),
    [
        (RigNotConnected("/dev/rig", "no frame for 0.52 s", "Check the cable."), ["/dev/rig", "0.52 s", "Check"]),
        (CommandRefused("Tare", "the ring is turning", "Wait for rest."), ["Tare", "turning", "Wait", "Nothing"]),
        (ConfigError(("one: unknown key.", "two: too large.")), ["one: unknown key.\ntwo: too large."]),
        (ScuffwatchError("plain"), ["plain"]),
    ],
)
def test_an_error_says_what_and_what_next(error: ScuffwatchError, parts: list[str]) -> None:
    assert all(part in error.sentence() for part in parts)
