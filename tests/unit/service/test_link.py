"""The link: any doubt about who is at the other end keeps it down."""

from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.service.link import ASK_AGAIN_S, Link
from scuffwatch.wire.protocol import (
    CountLimit,
    Decoder,
    Hello,
    HelloRequest,
    Inputs,
    Limits,
    NodeCause,
    NodePermit,
    ResetCause,
    Status,
    limits_id_of,
)

GROUPS = (GroupLayout(0, 1000.0, IntegerType.INT16, ("motor_current_a", "friction_force_n")),)
ENTRIES = (CountLimit(0, 0, -10, 1000, 4),)


def hello(identity: str = "rig2") -> Hello:
    return Hello(identity, "1.0", 1, ResetCause.POWER_ON, GROUPS)


def status(limits_id: int) -> Status:
    return Status(Inputs(0), NodePermit.LATCHED, NodeCause.START_UP, 0, limits_id, 0)


def made(channels: tuple[str, ...] = ("motor_current_a",)) -> Link:
    return Link("rig2", channels, 0.25)


def test_data_without_a_hello_does_not_bring_the_link_up() -> None:
    link = made()
    assert not link.heard(0.0)
    assert not link.up


def test_the_right_rig_box_comes_up_once() -> None:
    link = made()
    link.greet(hello(), 0.0)
    assert link.heard(1.0)
    assert not link.heard(1.02)
    assert link.up


def test_another_rig_box_is_refused_with_both_names() -> None:
    link = made()
    link.greet(hello("rig3"), 0.0)
    assert not link.heard(1.0)
    assert not link.up
    assert link.fault is not None
    assert "'rig3'" in link.fault.says
    assert "'rig2'" in link.fault.says


def test_a_configured_channel_that_is_not_there_is_named() -> None:
    link = made(("motor_current_a", "pin_temperature_degc"))
    link.greet(hello(), 0.0)
    assert link.fault is not None
    assert link.fault.channels == ("pin_temperature_degc",)
    assert not link.heard(1.0)


def test_silence_beyond_the_limit_is_found_once() -> None:
    link = made()
    link.greet(hello(), 0.0)
    link.heard(1.0)
    assert not link.went_silent(1.25)
    assert link.went_silent(1.2501)
    assert not link.went_silent(2.0)
    assert link.heard(2.1), "data brings it up again; the guard keeps the latch"


def test_a_closed_port_forgets_who_was_there() -> None:
    link = made()
    link.greet(hello(), 0.0)
    link.heard(1.0)
    assert link.closed()
    assert not link.closed()
    assert not link.heard(1.1), "no hello has come since"


def test_hello_and_limits_are_asked_for_again_until_answered() -> None:
    link = made()
    assert isinstance(Decoder().feed(link.requests(0.0))[0], HelloRequest)
    assert link.requests(ASK_AGAIN_S / 2) == b""
    assert isinstance(Decoder().feed(link.requests(ASK_AGAIN_S))[0], HelloRequest)
    link.greet(hello(), 0.0)
    assert link.requests(0.6) == b"", "limits are not known yet"
    link.entries = ENTRIES
    asked = Decoder().feed(link.requests(0.7))[0]
    assert isinstance(asked, Limits)
    assert asked.entries == ENTRIES
    link.status = status(limits_id_of(ENTRIES) ^ 1)
    assert not link.limits_confirmed
    assert link.requests(0.7 + ASK_AGAIN_S) != b""
    link.status = status(limits_id_of(ENTRIES))
    assert link.limits_confirmed
    assert link.requests(5.0) == b""
