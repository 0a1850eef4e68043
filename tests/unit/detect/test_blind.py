"""What a set of channels cannot show, and that it is said."""

import pytest

from scuffwatch.detect.blind import blind_to
from scuffwatch.model.finding import FindingKind

ALL = frozenset(
    {
        "normal_load_n",
        "friction_force_n",
        "motor_current_a",
        "sound_level_db",
        "pin_temperature_degc",
        "bath_temperature_degc",
        "ring_speed_rpm",
    }
)


def test_a_rig_with_all_channels_is_blind_to_nothing() -> None:
    assert blind_to(ALL, 0.01, has_heat_limit=True) == ()


@pytest.mark.parametrize(
    ("lost", "kinds"),
    [
        ({"motor_current_a"}, {FindingKind.JAM}),
        ({"ring_speed_rpm"}, set()),
        ({"friction_force_n"}, set()),
        ({"normal_load_n"}, set()),
        ({"sound_level_db"}, set()),
        ({"pin_temperature_degc"}, set()),
        ({"pin_temperature_degc", "bath_temperature_degc"}, {FindingKind.OVERHEAT}),
        ({"friction_force_n", "normal_load_n"}, {FindingKind.SCUFFING_ONSET}),
        ({"friction_force_n", "motor_current_a"}, {FindingKind.SCUFFING_ONSET, FindingKind.JAM}),
        ({"motor_current_a", "ring_speed_rpm"}, {FindingKind.STALL, FindingKind.JAM}),
        ({"normal_load_n", "motor_current_a"}, {FindingKind.JAM}),
        ({"normal_load_n", "motor_current_a", "sound_level_db"}, {FindingKind.SCUFFING_ONSET, FindingKind.JAM}),
        (
            {"normal_load_n", "motor_current_a", "pin_temperature_degc", "bath_temperature_degc"},
            {FindingKind.SCUFFING_ONSET, FindingKind.JAM, FindingKind.OVERHEAT},
        ),
    ],
)
def test_what_is_lost_is_said(lost: set[str], kinds: set[FindingKind]) -> None:
    assert set(blind_to(ALL - lost, 0.01, has_heat_limit=True)) == kinds


@pytest.mark.parametrize(
    ("knows_held_current", "kinds"), [(False, {FindingKind.STALL, FindingKind.JAM}), (True, set())]
)
def test_a_current_alone_tells_a_held_ring_by_what_the_motor_draws_then(
    knows_held_current: bool, kinds: set[FindingKind]
) -> None:
    said = blind_to({"motor_current_a"}, 0.01, has_heat_limit=True, knows_held_current=knows_held_current)
    assert set(said) - {FindingKind.SCUFFING_ONSET, FindingKind.OVERHEAT} == kinds
