"""The core against the simulated rig, in step and without a clock: who may have the permit, and what takes it away."""

import pytest
from co_rig import CoRig

from scuffwatch.control.commands import Acknowledge, CloseRun, Note, Observation, Observe, OpenRun, StopRequest, Tare
from scuffwatch.model.event import EventKind, GapMark
from scuffwatch.model.finding import FindingKind
from scuffwatch.model.run import Outcome, RunKind
from scuffwatch.service.params import count_limits
from scuffwatch.signals.calibrate import Calibration, si_of
from scuffwatch.sim.scenario import SCENARIOS
from scuffwatch.sim.twin import run as run_twin
from scuffwatch.store.items import RunClosed, TripCapture
from scuffwatch.wire.protocol import NodePermit, ResetCause


def first_out(rig: CoRig) -> FindingKind:
    return rig.core.guard.first_out.kind


@pytest.mark.slow
@pytest.mark.parametrize(("name", "seed"), [("scuffing", 5), ("scuffing-short", 2), ("scuffing-sudden", 11)])
def test_the_permit_is_gone_before_the_motor_would_stall(name: str, seed: int) -> None:
    truth = run_twin(SCENARIOS[name], seed)
    assert truth.stall_t_s is not None
    assert truth.onset_t_s is not None
    rig = CoRig(name, seed)
    started_s = rig.run_motor()
    assert rig.until(lambda: not rig.permitted, truth.stall_t_s + 5.0)
    off_s = rig.machine.t_s - started_s
    assert truth.precursor_t_s is None or off_s > truth.precursor_t_s
    assert off_s < truth.stall_t_s
    assert rig.tell(CloseRun()).ok
    closed = [item for item in rig.sink.items if isinstance(item, RunClosed)]
    assert closed[0].result.outcome is Outcome.SCUFFED


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 5])
def test_a_jam_takes_the_permit_within_150_ms_of_the_first_stalled_sample(seed: int) -> None:
    truth = run_twin(SCENARIOS["jam"], seed)
    assert truth.stall_t_s is not None
    rig = CoRig("jam", seed)
    started_s = rig.run_motor()
    assert rig.until(lambda: not rig.permitted, truth.stall_t_s + 2.0)
    assert first_out(rig) is FindingKind.JAM
    assert rig.core.guard.first_out.t_rig_s - started_s - truth.stall_t_s <= 0.150


@pytest.mark.slow
def test_overheat_takes_the_permit() -> None:
    truth = run_twin(SCENARIOS["overheat"], 3)
    assert truth.overheat_t_s is not None
    rig = CoRig("overheat", 3)
    rig.run_motor()
    assert rig.until(lambda: not rig.permitted, truth.overheat_t_s + 6.0)
    assert first_out(rig) is FindingKind.OVERHEAT


@pytest.mark.slow
@pytest.mark.parametrize(("name", "says"), [("guard", "Guard open."), ("emergency_stop", "Emergency stop pressed."),
                                            ("extraction", "Extraction off."), ("bath", "Bath down.")])  # fmt: skip
def test_an_open_interlock_takes_the_permit_and_holds_the_reset(name: str, says: str) -> None:
    rig = CoRig()
    rig.permit()
    rig.machine.set_input(name, False)
    rig.wait(0.1)
    assert not rig.permitted
    assert rig.core.guard.first_out.says == says or rig.core.guard.first_out.kind is FindingKind.RIG_BOX
    rig.tell(Acknowledge(actor="anna"))
    rig.wait(3.0)
    rig.press_reset()
    assert not rig.permitted
    rig.machine.set_input(name, True)
    rig.wait(3.0)
    rig.press_reset()
    assert rig.permitted


@pytest.mark.slow
def test_a_pulled_cable_lets_the_permit_lapse_and_nothing_but_the_local_reset_brings_it_back() -> None:
    rig = CoRig()
    rig.run_motor()
    rig.wait(5.0)
    rig.machine.cable_pulled = True
    assert rig.until(lambda: not rig.permitted, 0.4)
    assert first_out(rig) is FindingKind.LINK_LOST
    rig.wait(1.0)
    assert rig.machine.node.latch.permit is NodePermit.LATCHED
    assert not rig.machine.contactor.closed
    rig.machine.cable_pulled = False
    rig.wait(10.0)
    assert rig.core.link.up
    assert not rig.permitted
    assert rig.machine.node.latch.permit is NodePermit.LATCHED
    gaps = [item for item in rig.sink.items if isinstance(item, GapMark)]
    assert sum(gap.n for gap in gaps if gap.group == 0) == pytest.approx(1.4 * 200, abs=90)


def test_a_dead_host_lets_the_contactor_open_within_250_ms() -> None:
    rig = CoRig()
    rig.permit()
    assert rig.machine.contactor.closed
    rig.host_lives = False
    died_s = rig.t_s
    assert rig.until(lambda: not rig.machine.contactor.closed, 1.0)
    assert rig.t_s - died_s <= 0.250 + 0.02


@pytest.mark.slow
def test_a_host_that_wakes_up_late_does_not_bring_the_latched_node_back() -> None:
    rig = CoRig()
    rig.permit()
    rig.host_lives = False
    missed = bytearray()
    begun = len(rig.wire)
    rig.wait(2.0)
    missed += rig.wire[begun:]
    rig.host_lives = True
    rig.to_rig(rig.core.on_bytes(bytes(missed), rig.now))
    rig.wait(3.0)
    assert rig.machine.node.latch.permit is NodePermit.LATCHED
    assert not rig.machine.contactor.closed
    assert not rig.permitted


def test_a_restarted_rig_box_is_a_trip_with_a_marked_gap() -> None:
    rig = CoRig()
    rig.permit()
    rig.machine.restart_node(ResetCause.BROWN_OUT)
    rig.wait(1.0)
    assert not rig.permitted
    assert first_out(rig) is FindingKind.RIG_BOX
    assert any(isinstance(item, GapMark) and item.first_index == -1 for item in rig.sink.items)


def test_another_rig_box_never_gets_a_permit() -> None:
    rig = CoRig(identity="rig7")
    rig.wait(3.0)
    assert not rig.core.link.up
    assert rig.core.link.fault is not None
    assert "no_cause" in rig.unmet()


@pytest.mark.slow
def test_a_stop_request_withdraws_at_once_and_is_recorded_with_its_actor() -> None:
    rig = CoRig()
    rig.run_motor()
    rig.wait(5.0)
    assert rig.tell(StopRequest(actor="page")).ok
    assert not rig.permitted
    assert rig.machine.node.latch.permit is NodePermit.LATCHED
    assert rig.events(EventKind.STOP_REQUEST)[0].actor == "page"
    assert "page" in rig.core.guard.first_out.says


@pytest.mark.slow
def test_a_trip_is_captured_with_inputs_decisions_and_timing() -> None:
    rig = CoRig()
    rig.run_motor()
    rig.wait(5.0)
    rig.machine.set_input("guard", False)
    rig.wait(0.2)
    (capture,) = [item for item in rig.sink.items if isinstance(item, TripCapture)]
    assert capture.first_out is rig.core.guard.first_out
    assert len(capture.statuses) > 50
    assert capture.decisions


@pytest.mark.slow
def test_only_a_press_seen_whole_counts() -> None:
    rig = CoRig()
    rig.connect()
    rig.open_run()
    rig.tell(Acknowledge(actor="anna"))
    rig.wait(3.0)
    rig.press_reset(0.1)
    assert not rig.permitted, "too short"
    rig.press_reset(3.5)
    assert not rig.permitted, "too long"
    refusals = [event.says for event in rig.events(EventKind.RESET_REFUSED)]
    assert len(refusals) == 2
    assert all("Reset refused." in says for says in refusals)
    rig.press_reset(0.5)
    assert rig.permitted


def test_a_ring_that_turns_right_after_reset_is_a_trip() -> None:
    rig = CoRig()
    rig.permit()
    rig.machine.start_motor()
    assert rig.until(lambda: not rig.permitted, 1.0)
    assert first_out(rig) is FindingKind.UNEXPECTED_START


def test_closing_the_run_takes_the_permit() -> None:
    rig = CoRig()
    rig.permit()
    reply = rig.tell(CloseRun(actor="anna"))
    assert reply.ok
    assert not rig.permitted
    result = reply.data["result"]
    assert isinstance(result, dict)
    assert result["outcome"] == "stopped"


def test_a_tripped_run_that_is_not_resumed_closes_by_itself() -> None:
    rig = CoRig()
    rig.permit()
    rig.tell(StopRequest(actor="anna"))
    rig.wait(1.0)
    within_s = rig.core.settings.run.resume_within_s
    later = type(rig.now)(rig.now.t_mono_s + within_s + 1, rig.now.t_wall_utc_s + within_s + 1)
    rig.desk.close_expired(later)
    assert rig.core.runs.current is None


def test_a_wall_clock_step_is_an_event_and_no_trip() -> None:
    rig = CoRig()
    rig.permit()
    for shift_s in (3600.0, -86400.0 * 365, 0.0):
        rig.wall_shift_s = shift_s
        rig.wait(0.3)
    assert rig.permitted
    assert len(rig.events(EventKind.CLOCK_STEP)) == 3


def test_notes_and_observations_are_kept_with_who_made_them() -> None:
    rig = CoRig()
    rig.connect()
    rig.tell(Note("grey smoke at the pin", actor="anna"))
    rig.tell(Observe(Observation.SQUEAL, actor="tablet"))
    assert [(e.says, e.actor) for e in rig.events(EventKind.NOTE)] == [("grey smoke at the pin", "anna")]
    assert rig.events(EventKind.OBSERVATION)[0].actor == "tablet"


def test_a_second_run_is_refused_and_told_why() -> None:
    rig = CoRig()
    rig.connect()
    rig.open_run()
    reply = rig.tell(OpenRun(RunKind.SETUP))
    assert not reply.ok
    assert "is open" in reply.says


def test_the_rig_box_keeps_the_limit_of_friction_to_both_sides_of_zero() -> None:
    """The ring may turn the other way round, and its cell then reads negative."""
    rig = CoRig()
    rig.connect()
    settings, layouts = rig.core.settings, rig.core.chain.layouts
    channel = settings.channels["friction_force_n"].model_copy(update={"range": (-400.0, 400.0)})
    wide = settings.model_copy(update={"channels": {**settings.channels, "friction_force_n": channel}})
    (group,) = [layout for layout in layouts if "friction_force_n" in layout.channels]
    place = (group.group, group.channels.index("friction_force_n"))
    (entry,) = [one for one in count_limits(wide, layouts) if (one.group, one.channel) == place]
    calibration = Calibration(channel.coefficients, channel.tare, -400.0, 400.0, channel.calibration_id)
    most_n = settings.limits.friction_force_max_n
    assert si_of(entry.low_counts, calibration) == pytest.approx(-most_n, rel=0.01)
    assert si_of(entry.high_counts, calibration) == pytest.approx(most_n, rel=0.01)


@pytest.mark.slow
def test_a_zero_is_taken_at_rest_only_and_the_rig_box_gets_new_limits() -> None:
    rig = CoRig()
    rig.connect()
    rig.wait(3.0)
    before = rig.core.link.entries
    reply = rig.tell(Tare("friction_force_n", actor="anna"))
    assert reply.ok, reply.says
    rig.wait(1.0)
    assert rig.core.link.entries != before
    assert rig.core.link.limits_confirmed
    assert rig.core.last_slice is not None
    assert abs(rig.core.last_slice.channels["friction_force_n"].mean) < 1.0
    rig.run_motor()
    rig.wait(3.0)
    reply = rig.tell(Tare("friction_force_n", actor="anna"))
    assert not reply.ok
    assert "Stop the motor." in reply.says
    assert not rig.tell(Tare("colour_n")).ok
