"""Words and numbers in sentences."""

import math

import pytest

from scuffwatch.detect.words import WORDING, number, quantity, words_of
from scuffwatch.model.channel import KNOWN_CHANNELS


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.265, 3, "0.265"),
        (-6.2, 1, "−6.2"),
        (-0.04, 1, "0.0"),
        (-0.05001, 1, "−0.1"),
        (1234567.25, 1, "1\u00a0234\u00a0567.2"),
        (math.nan, 1, "– –"),
        (math.inf, 1, "– –"),
    ],
)
def test_numbers(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text


def test_every_known_channel_has_its_words() -> None:
    assert {*KNOWN_CHANNELS} < {*WORDING}


def test_a_channel_the_user_adds_is_named_by_its_name() -> None:
    assert words_of("oil_pressure_mpa") == "oil pressure"
    assert words_of("wear_ratio") == "wear ratio"
    assert words_of("n") == "n"
    assert quantity("oil_pressure_mpa", 0.5) == "0.50 MPa"


def test_a_ratio_has_no_unit() -> None:
    assert quantity("friction_coefficient", 0.1) == "0.100"
    assert quantity("ring_speed_rpm", 600.0) == "600 r/min"
