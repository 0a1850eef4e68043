"""The demonstration's operator over a made-up session: begins, begins again after a pause, closes, lets trips be."""

from typing import Any

import pytest

from scuffwatch.cli import demo_operator
from scuffwatch.cli.demo_live import free_port
from scuffwatch.cli.demo_operator import BEGIN_AGAIN_MOST, Operator
from scuffwatch.model.errors import ConfigError


class MadeUpSession:
    """Keeps what the operator did; its own panel."""

    def __init__(self) -> None:
        self.did: list[str] = []
        self.scenario: Any = None
        self.panel = self
        self.run: dict[str, str] | None = None
        self.state: dict[str, Any] = {
            "scenario": "scuffing", "seed": 1, "ring_speed_rpm": 0.0, "cable_plugged": True, "guard_closed": True,
            "emergency_stop_closed": True, "finished": False,
        }  # fmt: skip

    def status(self) -> dict[str, Any]:
        return self.state

    def snapshot(self) -> dict[str, Any]:
        return picture(run=self.run)

    def open_test_run(self) -> str:
        self.did.append(f"open {self.scenario.name}")
        self.run = {"name": "r"}
        return "r"

    def close_run(self) -> None:
        self.did.append("close")
        self.run = None

    def permit_and_start(self) -> None:
        self.did.append("start")


def picture(first_out: str | None = None, run: dict[str, str] | None = None, up: bool = True) -> dict[str, Any]:
    permit = {"state": "tripped" if first_out else "permitted", "first_out": {"kind": first_out} if first_out else None}
    return {"permit": permit, "run": run, "link": {"up": up}}


def begun(**state: Any) -> tuple[Operator, MadeUpSession]:
    session = MadeUpSession()
    session.state.update(state)
    operator = Operator(session)  # type: ignore[arg-type]
    operator.begin()
    assert session.did == [f"open {session.state['scenario']}", "start"]
    session.did.clear()
    return operator, session


def test_another_scenario_gets_a_run_of_its_own() -> None:
    operator, session = begun()
    session.state["seed"] = 2
    assert operator.turn(picture(run=session.run)) == "Run r: scenario scuffing, seed 2."
    assert session.did == ["close", "open scuffing", "start"]


@pytest.mark.parametrize("kind", ["link_lost", "rig_box"])
def test_what_a_pause_has_ended_is_begun_again_and_not_for_ever(kind: str) -> None:
    operator, session = begun()
    for _ in range(BEGIN_AGAIN_MOST + 3):
        operator.turn(picture(kind, session.run))
    assert session.did == ["start"] * BEGIN_AGAIN_MOST


@pytest.mark.parametrize(
    ("state", "shown"),
    [
        ({}, {"first_out": "scuffing_onset"}),
        ({"cable_plugged": False}, {"first_out": "link_lost"}),
        ({"guard_closed": False}, {"first_out": "rig_box"}),
        ({"scenario": "cable"}, {"first_out": "link_lost"}),
        ({"ring_speed_rpm": 400.0}, {"first_out": "link_lost"}),
        ({}, {"first_out": "link_lost", "up": False}),
        ({}, {}),
    ],
)
def test_what_a_hand_or_the_scenario_has_ended_stays_ended(state: dict[str, Any], shown: dict[str, Any]) -> None:
    operator, session = begun(**({"scenario": state["scenario"]} if "scenario" in state else {}))
    session.state.update(state)
    assert operator.turn(picture(run=session.run, **shown)) == ""
    assert session.did == []


def test_a_run_that_is_over_is_closed_after_a_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    operator, session = begun()
    session.state["finished"] = True
    assert operator.turn(picture(run=session.run)) == ""
    monkeypatch.setattr(demo_operator, "REST_S", 0.0)
    assert operator.turn(picture(run=session.run)).startswith("Closed by plan.")
    assert operator.turn(picture(run=session.run)) == ""
    assert session.did == ["close"]


def test_a_port_that_is_taken_is_passed_over_or_refused_where_it_was_asked_for() -> None:
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ConfigError) as raised:
            free_port(port)
        assert raised.value.sentence().startswith(f"port {port} of this computer: taken")
    assert free_port(port) == port
    assert free_port(None) >= 8180
