"""The rationalisation table: fields filled, at most 15, no delay on a trip, short names that can be read afar."""

import math

import pytest
from guard_rig import finding

from scuffwatch.guard.alarm_table import (
    ALARMS,
    ALARMS_MAX,
    ALERT_CHANNELS,
    KEY_OF,
    MESSAGES_ONLY,
    PERMIT_FAILED_TO_OPEN,
    RECORD,
    SHORT_NAME_MAX,
    alarm_key_of,
    conditions_of,
)
from scuffwatch.guard.causes import failed_to_open
from scuffwatch.model.alarm import Priority
from scuffwatch.model.finding import FindingKind, Level

KEYS = [definition.key for definition in ALARMS]
RAISED_BY_THE_SERVICE = {RECORD, ALERT_CHANNELS}


def test_there_are_few_and_each_once():
    assert len(ALARMS) <= ALARMS_MAX == 15
    assert len(set(KEYS)) == len(KEYS)
    names = [definition.short_name for definition in ALARMS]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("definition", ALARMS, ids=KEYS)
def test_every_field_is_filled(definition):
    assert 0 < len(definition.short_name) <= SHORT_NAME_MAX == 14
    for text in (definition.cause, definition.consequence, definition.action):
        assert text[0].isupper()
        assert text.endswith(".")
        assert "!" not in text
        assert not {"DANGER", "WARNING", "CAUTION", "NOTICE"} & set(text.split())
        assert "node" not in text.lower()  # on screens it is the rig box
    assert 0 < definition.respond_within_s <= 8 * 3600


@pytest.mark.parametrize("definition", ALARMS, ids=KEYS)
def test_a_trip_latches_and_waits_for_nothing(definition):
    trip = definition.priority is Priority.TRIP
    assert definition.latching is trip
    if trip:
        assert definition.on_delay_s == 0.0


def test_all_three_priorities_are_used_and_more_haste_goes_with_more_rank():
    longest = {rank: max(d.respond_within_s for d in ALARMS if d.priority is rank) for rank in Priority}
    assert longest[Priority.TRIP] < longest[Priority.WARNING] < longest[Priority.NOTICE]
    fastest = min(ALARMS, key=lambda definition: definition.respond_within_s)
    assert fastest.key == PERMIT_FAILED_TO_OPEN  # this project's fault matrix: highest priority


@pytest.mark.parametrize("kind", FindingKind)
def test_every_kind_is_an_alarm_at_warning_and_trip_or_a_message_on_purpose(kind):
    ranks = {definition.key: definition.priority for definition in ALARMS}
    warning, trip = (alarm_key_of(finding(kind, level=level)) for level in (Level.WARN, Level.TRIP))
    if kind in MESSAGES_ONLY:
        assert warning == trip == ""
    else:
        assert ranks[warning] is Priority.WARNING
        assert ranks[trip] is Priority.TRIP
    assert alarm_key_of(finding(kind, level=Level.NOTICE)) == ""


def test_every_alarm_can_be_raised():
    assert set(KEY_OF.values()) | RAISED_BY_THE_SERVICE | {PERMIT_FAILED_TO_OPEN} == set(KEYS)


def test_a_contactor_that_fails_to_open_has_its_own_alarm():
    assert alarm_key_of(failed_to_open(1.0, 0.3, 0.2)) == PERMIT_FAILED_TO_OPEN
    assert alarm_key_of(finding(FindingKind.RIG_BOX)) == "rig_box"


def test_one_condition_an_alarm_with_its_earliest_sentence():
    found = (
        finding(FindingKind.OVERLOAD, 2.0, says="second"),
        finding(FindingKind.FRICTION_LIMIT, 1.0, says="first"),
        finding(FindingKind.OVERLOAD, 3.0, says="third"),
        finding(FindingKind.STALL, 2.5, says="stall"),
        finding(FindingKind.STAGE, 2.5, Level.NOTICE),
        finding(FindingKind.STOP_REQUEST, math.nan),
    )
    conditions = conditions_of(found)
    assert {key: condition.says for key, condition in conditions.items()} == {"over_limit": "first", "stall": "stall"}
    assert conditions["over_limit"].t_rig_s == 1.0
