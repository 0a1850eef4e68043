"""The live snapshot: its schema, the check against it, and the line it becomes."""

import copy
import json
import math
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.control.snapshot import SNAPSHOT_VERSION, check, encode, schema

FINDING = {
    "kind": "friction_limit",
    "level": "trip",
    "t_rig_s": 812.34,
    "t_wall_utc_s": 1_700_000_812.3,
    "channels": ["friction_coefficient"],
    "says": "Friction limit: friction coefficient 0.265, limit 0.250.",
    "evidence": [{"name": "friction_coefficient", "value": 0.265, "limit": 0.25, "unit": ""}],
}
SNAPSHOT: dict[str, Any] = {
    "v": 1,
    "seq": 4711,
    "rig": "rig 2",
    "simulated": True,
    "t_wall_utc_s": 1_700_000_900.1,
    "t_rig_s": 900.1,
    "utc_offset_s": 3600,
    "core_started_utc_s": 1_700_000_000.0,
    "permit": {
        "state": "tripped",
        "since_utc_s": 1_700_000_812.3,
        "acknowledged": False,
        "first_out": FINDING,
        "followers": [FINDING],
        "needs": [{"key": "at_rest", "says": "Ring at rest for 2 s", "met": False}],
        "recorded": True,
        "lease_left_ms": 0,
    },
    "link": {
        "up": True,
        "identity": "rig2",
        "age_s": 0.012,
        "frames_lost": 0,
        "frame_errors": 3,
        "node_permit": "latched",
        "node_cause": "lease withdrawn",
    },
    "interlocks": [{"key": "guard", "name": "Guard", "state": "closed"}],
    "alarms": [
        {
            "key": "friction_limit",
            "short_name": "Friction limit",
            "priority": "T",
            "state": "latched, unacknowledged",
            "says": "Friction limit.",
            "consequence": "The ring may weld.",
            "action": "Lift the weights.",
            "respond_within_s": 60,
            "since_utc_s": 1_700_000_812.3,
            "t_rig_s": 812.34,
        }
    ],
    "run": {
        "name": "2023-11-14-rig2-3",
        "kind": "test",
        "lubricant": "HB-7",
        "treat_rate_percent": 4.0,
        "bath_volume_ml": 15.0,
        "ring": "R12 track 3",
        "pin": "P40 face A",
        "loads_n": [80.0, 160.0],
        "dwell_s": 300.0,
        "opened_utc_s": 1_700_000_100.0,
        "stage": 2,
        "stage_elapsed_s": 12.0,
        "t_stage_start_rig_s": 800.0,
        "interrupted": False,
        "resume_left_s": None,
    },
    "channels": {
        "bath_temperature_degc": {
            "value": None,
            "unit": "°C",
            "quality": "bad",
            "reason": "over range",
            "age_s": 0.1,
            "warn": None,
            "trip": 90.0,
            "low": 0.0,
            "high": 120.0,
            "digits": 1,
            "label": "Bath temperature",
            "derived": False,
        }
    },
    "nearness": [
        {"name": "unrest_ratio", "value": 1.2, "limit": 2.5, "unit": "", "share": 0.199, "state": "known"},
        {"name": "pin_heating_k_s", "value": None, "limit": 0.4, "unit": "K/s", "share": None, "state": "learning"},
    ],
    "loop": {"late_ms_p999": 1.2, "slices": 90_010},
    "store": {
        "recording": True,
        "queue_s": 0.2,
        "dropped": 0,
        "error": "",
        "free_bytes": 10**11,
        "last_recorded_event": 40,
        "last_event": 41,
    },
}

odd_values = st.sampled_from([None, True, 0, -1, 1.5, 3.0, "", "permitted", [], [1], {}, {"v": 1}])


def places(value: Any) -> list[tuple[Any, Any]]:
    """Give every (container, key) in a snapshot."""
    if isinstance(value, dict):
        keys: list[Any] = list(value)
    elif isinstance(value, list):
        keys = list(range(len(value)))
    else:
        return []
    return [(value, key) for key in keys] + [place for key in keys for place in places(value[key])]


def test_the_schema_is_a_json_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())


def test_a_full_and_an_empty_rig_pass() -> None:
    assert check(SNAPSHOT) == []
    first = {**SNAPSHOT, "run": None, "alarms": [], "channels": {}, "interlocks": [], "t_rig_s": None}
    first["permit"] = {**SNAPSHOT["permit"], "first_out": None, "lease_left_ms": None}
    assert check(first) == []


@pytest.mark.slow
@given(st.data())
def test_the_check_finds_what_an_independent_validator_finds(data: st.DataObject) -> None:
    """Outside source: the jsonschema library (draft 2020-12), on snapshots spoilt in up to three places."""
    spoilt = copy.deepcopy(SNAPSHOT)
    for _ in range(data.draw(st.integers(0, 3))):
        container, key = data.draw(st.sampled_from(places(spoilt)))
        act = data.draw(st.sampled_from(["replace", "remove", "add"]))
        if act == "replace":
            container[key] = data.draw(odd_values)
        elif act == "remove":
            del container[key]
        elif isinstance(container, dict):
            container["permit_word"] = data.draw(odd_values)
    outside = list(jsonschema.Draft202012Validator(schema()).iter_errors(spoilt))
    assert bool(check(spoilt)) == bool(outside), (check(spoilt), outside)


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (("permit", "state"), "running", "snapshot.permit.state is 'running', none of"),
        (("channels", "bath_temperature_degc", "value"), math.nan, "value is nan, not finite"),
        (("link", "age_s"), -0.1, "snapshot.link.age_s is -0.1, under 0"),
        (("alarms", 0, "priority"), "H", "snapshot.alarms[0].priority is 'H', none of ['T', 'W', 'N']"),
        (("run", "stage"), "2", "snapshot.run.stage is '2', not integer"),
    ],
)
def test_a_difference_is_named_with_its_place(path: tuple[Any, ...], value: object, says: str) -> None:
    spoilt = copy.deepcopy(SNAPSHOT)
    inner: Any = spoilt
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    assert len(check(spoilt)) == 1
    assert says in check(spoilt)[0]


def test_a_line_holds_the_snapshot_and_when_it_was_made() -> None:
    line = encode(SNAPSHOT, 1234.5)
    assert b"\n" not in line
    assert json.loads(line) == {**SNAPSHOT, "t_mono_s": 1234.5}
    assert check(json.loads(line)) == []
    assert json.loads(line)["v"] == SNAPSHOT_VERSION
    assert "t_mono_s" not in SNAPSHOT


def test_a_number_that_is_not_finite_never_gets_into_a_line() -> None:
    with pytest.raises(ValueError):
        encode({**SNAPSHOT, "t_rig_s": math.nan}, 0.0)
