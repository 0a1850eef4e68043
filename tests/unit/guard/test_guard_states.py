"""The permit state machine, case by case: first-out, manual reset, restart interlock."""

import math
import random
from dataclasses import replace

import pytest
from guard_rig import IN_ORDER, Bench, finding

from scuffwatch.guard.states import (
    TRANSITIONS,
    GuardEventKind,
    GuardSettings,
    LeaseAction,
    PermitState,
    Trigger,
    initial,
    step,
)
from scuffwatch.guard.values import FOLLOWERS_MAX
from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.wire.protocol import NodeCause, NodePermit

TRIPPED, PERMITTED = PermitState.TRIPPED, PermitState.PERMITTED
UP = {"node_permit": NodePermit.PERMITTED, "contactor_closed": True}


def test_every_start_is_tripped_by_start_up_and_not_acknowledged():
    state = initial()
    assert state.permit is TRIPPED
    assert not state.acknowledged
    assert state.first_out.kind is FindingKind.START_UP
    assert state.first_out.level is Level.TRIP
    assert state.reset_since_t_s is None


def test_one_row_of_the_table_leads_to_permitted_and_each_pair_occurs_once():
    assert [(row.before, row.trigger) for row in TRANSITIONS if row.after is PERMITTED] == [(TRIPPED, Trigger.PRESS)]
    pairs = [(row.before, row.trigger) for row in TRANSITIONS]
    assert len(set(pairs)) == len(pairs)


def test_a_proper_reset_permits_on_the_falling_edge():
    bench = Bench().run(2.1)
    bench.step(acknowledge="Ada")
    bench.run(0.5, reset_pressed=True)
    assert not bench.permitted
    assert bench.state.reset_since_t_s == pytest.approx(2.12)
    assert bench.need("reset") == (False, "Let go of reset.")
    bench.step()
    assert bench.permitted
    assert bench.decision.lease is LeaseAction.RENEW
    assert bench.decision.needs == ()
    assert bench.of(GuardEventKind.PERMITTED) == ["Permitted by reset at the rig."]
    assert bench.of(GuardEventKind.ACKNOWLEDGED) == ["Trip acknowledged by Ada."]
    assert bench.of(GuardEventKind.RESET_REFUSED) == []


def test_permitted_by_a_step_that_is_not_fresh_sends_no_lease():
    bench = Bench().run(2.1, acknowledge="Ada").run(0.5, reset_pressed=True)
    bench.step(fresh=False)
    assert bench.permitted
    assert bench.decision.lease is LeaseAction.HOLD


def test_acknowledging_is_not_resetting_and_is_said_once():
    bench = Bench().run(60.0, acknowledge="Ada")
    assert not bench.permitted
    assert bench.of(GuardEventKind.ACKNOWLEDGED) == ["Trip acknowledged by Ada."]
    assert bench.decision.lease is LeaseAction.WITHDRAW


def test_acknowledging_before_the_ring_is_at_rest_is_fine():
    bench = Bench()
    bench.step(acknowledge="Ada", ring_turning=True)
    bench.run(2.1).press(0.5)
    assert bench.permitted


NEEDS_IN_ORDER = ("no_cause", "at_rest", "acknowledged", "prestart", "run_open", "reset")


@pytest.mark.parametrize(
    ("missing", "key", "says"),
    [
        ({"standing": (finding(says="Guard open."),)}, "no_cause", "Cause still present. Guard open."),
        ({"node_permit": NodePermit.PERMITTED}, "no_cause", "The rig box has not confirmed"),
        ({"contactor_closed": True}, "no_cause", "Permit failed to open: contactor still closed"),
        ({"ring_turning": True}, "at_rest", "Ring still turning."),
        ({"ring_turning": None}, "at_rest", "Whether the ring is at rest is not known."),
        ({"acknowledge": ""}, "acknowledged", "Trip not acknowledged."),
        ({"prestart_ok": False}, "prestart", "Pre-start checks not passed."),
        ({"prestart_ok": False, "prestart_says": "Zero −6.2 N, limit ±2 N."}, "prestart", "Zero −6.2 N, limit ±2 N."),
        ({"run_open": False}, "run_open", "No run is open."),
    ],
)
def test_each_missing_need_refuses_the_press_with_its_sentence(missing, key, says):
    bench = Bench().run(3.0, **{"acknowledge": "Ada", **missing})
    bench.press(0.5, **{"acknowledge": "", **missing})
    assert not bench.permitted
    assert [need.key for need in bench.decision.needs] == list(NEEDS_IN_ORDER)
    assert bench.need(key)[0] is False
    assert bench.need(key)[1].startswith(says)
    assert bench.need("reset") == (False, "Then press reset at the rig.")
    refused = bench.of(GuardEventKind.RESET_REFUSED)
    assert len(refused) == 1
    assert refused[0].startswith(f"Reset refused. {says}")


def test_all_needs_met_ask_for_the_reset():
    bench = Bench().run(2.5, acknowledge="Ada", prestart_says="Checks passed 14:31.", node_permit=NodePermit.LATCHED)
    assert [need.met for need in bench.decision.needs] == [True] * 5 + [False]
    assert [need.says for need in bench.decision.needs] == [
        "No cause present.",
        "Ring at rest for 2 s.",
        "Trip acknowledged by Ada.",
        "Checks passed 14:31.",
        "A run is open.",
        "Press reset at the rig, 0.2 s to 3 s, and let go.",
    ]


def test_the_link_down_is_a_cause():
    bench = Bench().run(3.0, acknowledge="Ada", link_up=False)
    assert bench.need("no_cause") == (False, "The rig box does not answer.")
    bench.press(0.5, link_up=False)
    assert not bench.permitted


def test_findings_below_trip_neither_trip_nor_hold():
    low = tuple(finding(level=level) for level in (Level.NOTICE, Level.WARN))
    bench = Bench().reset()
    bench.run(2.0, new_trips=low, standing=low, **UP)
    assert bench.permitted
    bench = Bench().run(2.1, acknowledge="Ada", new_trips=low, standing=low).press(0.5, standing=low)
    assert bench.permitted


# --- rest -----------------------------------------------------------------------------------------------------


def test_rest_must_be_unbroken():
    bench = Bench().run(1.9, acknowledge="Ada")
    assert bench.need("at_rest") == (False, "Ring at rest for 1.9 s, 2 s needed.")
    bench.step(ring_turning=True)
    bench.run(1.9)
    assert not bench.need("at_rest")[0]
    bench.run(0.2)
    assert bench.need("at_rest")[0]


@pytest.mark.parametrize("broken", [{"link_up": False}, {"ring_turning": None}])
def test_rest_not_seen_is_no_rest(broken):
    bench = Bench().run(1.9, acknowledge="Ada")
    bench.step(**broken)
    bench.run(1.0)
    assert not bench.need("at_rest")[0]


def test_a_hole_in_node_time_is_no_rest():
    bench = Bench().run(0.5, acknowledge="Ada")
    bench.ticks += 1000
    bench.run(1.9)
    assert not bench.need("at_rest")[0]
    bench.run(0.2)
    assert bench.need("at_rest")[0]


@pytest.mark.parametrize("t_rig_s", [math.nan, -5.0, 0.0, math.inf, -math.inf])
def test_time_that_stands_or_falls_is_no_time(t_rig_s):
    bench = Bench().run(1.0, acknowledge="Ada")
    for _ in range(1000):
        bench.give(replace(IN_ORDER, t_rig_s=t_rig_s))
    assert bench.state.t_rig_s == pytest.approx(1.0)
    assert bench.need("at_rest")[1] == "Ring at rest for 1.0 s, 2 s needed."
    bench.run(0.9)
    assert not bench.need("at_rest")[0]
    bench.run(0.2)
    assert bench.need("at_rest")[0]


def test_before_the_node_has_spoken_nothing_counts():
    bench = Bench()
    for pressed in (False, *[True] * 500, False):
        bench.give(replace(IN_ORDER, t_rig_s=math.nan, acknowledge="Ada", reset_pressed=pressed))
    assert not bench.permitted
    assert math.isnan(bench.state.t_rig_s)
    assert math.isnan(bench.state.since_t_rig_s)
    bench.run(0.1)
    assert bench.state.since_t_rig_s == pytest.approx(0.01)


# --- trips ----------------------------------------------------------------------------------------------------


def test_a_trip_withdraws_at_once_and_in_every_step_after():
    bench = Bench().reset()
    bench.step(**UP)
    assert bench.decision.lease is LeaseAction.RENEW
    overload = finding(t_rig_s=bench.t_s, says="Motor current high: 9.0 A, limit 8.0 A.")
    bench.step(new_trips=(overload,), **UP)
    assert not bench.permitted
    assert bench.state.first_out is overload
    assert not bench.state.acknowledged
    assert bench.of(GuardEventKind.TRIPPED) == ["Motor current high: 9.0 A, limit 8.0 A."]
    for _ in range(300):
        assert bench.decision.lease is LeaseAction.WITHDRAW
        bench.step()


def test_a_trip_wins_over_acknowledge_and_release_in_the_same_step():
    bench = Bench().run(2.1, acknowledge="Ada").run(0.5, reset_pressed=True)
    bench.step(new_trips=(finding(t_rig_s=bench.t_s),), acknowledge="Ada")
    assert not bench.permitted
    assert not bench.state.acknowledged
    assert bench.of(GuardEventKind.RESET_REFUSED) == ["Reset refused. Trip not acknowledged."]


def test_a_cause_that_stands_without_having_come_trips_too():
    bench = Bench().reset()
    standing = finding(t_rig_s=bench.t_s)
    bench.step(standing=(standing,))
    assert bench.state.first_out is standing
    assert bench.state.followers == ()


def test_the_same_finding_new_and_standing_is_one_cause():
    bench = Bench().reset()
    overload = finding(t_rig_s=bench.t_s)
    bench.step(new_trips=(overload,), standing=(overload,))
    assert bench.of(GuardEventKind.FOLLOWED) == []


def test_a_new_cause_after_acknowledging_asks_again():
    bench = Bench().reset()
    bench.step(new_trips=(finding(t_rig_s=bench.t_s),))
    bench.run(2.1, acknowledge="Ada")
    late = finding(FindingKind.OVERHEAT, bench.t_s, says="Pin too hot.")
    bench.step(new_trips=(late,))
    assert not bench.state.acknowledged
    assert bench.state.followers == (late,)
    assert bench.of(GuardEventKind.FOLLOWED) == ["Pin too hot."]
    bench.press(0.5)
    assert not bench.permitted
    bench.step(acknowledge="Ada")
    bench.press(0.5)
    assert bench.permitted


def test_first_out_is_right_a_thousand_times_with_causes_a_millisecond_apart():
    # this project's fault matrix and §2: first-out 1000/1000, causes 1 ms apart, by sample time and not by arrival.
    rng = random.Random(20)
    kinds = [kind for kind in FindingKind if kind is not FindingKind.START_UP]
    ready = Bench().reset()
    for _ in range(1000):
        count = rng.randint(2, 24)
        causes = [finding(rng.choice(kinds), ready.t_s + 0.001 * n, says=str(n)) for n in range(count)]
        arrival = rng.sample(causes, count)
        arrivals = rng.randint(1, 3)
        bench = Bench()
        bench.state, bench.ticks = ready.state, ready.ticks
        for part in range(arrivals):
            bench.step(new_trips=tuple(arrival[part::arrivals]))
        assert bench.state.first_out is causes[0]
        assert list(bench.state.followers) == causes[1 : 1 + FOLLOWERS_MAX]
        assert bench.state.followers_more == max(0, count - 1 - FOLLOWERS_MAX)


def test_a_tie_goes_to_the_one_given_first_and_a_cause_without_time_comes_last():
    bench = Bench().reset()
    timeless, first, second = finding(t_rig_s=math.nan), finding(t_rig_s=4.0, says="1"), finding(t_rig_s=4.0, says="2")
    bench.step(new_trips=(timeless, first, second))
    assert bench.state.first_out is first
    assert bench.state.followers[0] is second
    assert bench.state.followers[1] is timeless


def test_an_earlier_cause_that_arrives_later_takes_the_first_place_and_is_said():
    bench = Bench().reset()
    later, earlier = finding(t_rig_s=9.002, says="later"), finding(t_rig_s=9.001, says="earlier")
    bench.step(new_trips=(later,))
    bench.step(new_trips=(earlier,))
    assert bench.state.first_out is earlier
    assert bench.state.followers == (later,)
    assert bench.of(GuardEventKind.FIRST_OUT_CORRECTED) == ["earlier"]


def test_the_start_up_cause_stays_first():
    bench = Bench().run(1.0)
    bench.step(new_trips=(finding(t_rig_s=0.5),))
    assert bench.state.first_out.kind is FindingKind.START_UP
    assert len(bench.state.followers) == 1


def test_a_stop_request_trips_at_once_and_names_who_asked():
    bench = Bench().reset()
    decision = bench.step(stop_request="bench page", **UP)
    assert not bench.permitted
    assert bench.state.first_out.kind is FindingKind.STOP_REQUEST
    assert decision.happened[0].actor == "bench page"
    assert bench.of(GuardEventKind.TRIPPED) == ["Stop requested by bench page."]


def test_a_stop_request_while_tripped_ends_a_reset_under_way():
    bench = Bench().run(2.1, acknowledge="Ada").run(0.3, reset_pressed=True)
    bench.step(reset_pressed=True, stop_request="wall")
    bench.step()
    assert not bench.permitted
    assert bench.of(GuardEventKind.FOLLOWED) == ["Stop requested by wall."]
    assert bench.of(GuardEventKind.RESET_REFUSED) == ["Reset refused. Trip not acknowledged."]


def test_closing_the_run_ends_the_permit():
    bench = Bench().reset()
    bench.step(run_open=False, **UP)
    assert not bench.permitted
    assert bench.state.first_out.kind is FindingKind.STOP_REQUEST
    assert bench.state.first_out.says.startswith("Run closed")


@pytest.mark.parametrize("changes", [{"link_up": False}, {"fresh": False}, {"link_up": False, "fresh": False}])
def test_nothing_fresh_or_no_link_sends_nothing(changes):
    bench = Bench().reset()
    bench.step(**{**UP, **changes})
    assert bench.permitted
    assert bench.decision.lease is LeaseAction.HOLD


def test_a_decision_names_every_new_cause_once_the_guards_own_included():
    bench = Bench().reset()
    overload, late = finding(t_rig_s=9.0), finding(t_rig_s=8.0)
    decision = bench.step(new_trips=(overload,), ring_turning=True)
    assert [cause.kind for cause in decision.causes] == [FindingKind.UNEXPECTED_START, FindingKind.OVERLOAD]
    assert bench.step(acknowledge="Ada").causes == ()
    assert bench.step(new_trips=(late,)).causes == (late,)
    bench.run(0.3, contactor_closed=True)
    assert [kind for kind, _ in bench.happened[-2:]] == [GuardEventKind.FAILED_TO_OPEN, GuardEventKind.FOLLOWED]


# --- starter, contactor, node ---------------------------------------------------------------------------------


def test_a_ring_that_turns_within_a_second_of_reset_is_an_unexpected_start():
    bench = Bench().reset().run(0.99, **UP)
    bench.step(ring_turning=True, **UP)
    assert bench.state.first_out.kind is FindingKind.UNEXPECTED_START
    assert bench.state.first_out.says == (
        "Unexpected start: ring turning 1.00 s after reset, limit 1.00 s. The starter does not hold itself off."
    )
    assert bench.state.first_out.evidence[0].value == pytest.approx(1.0)


def test_a_ring_started_by_a_person_later_is_no_trip():
    bench = Bench().reset().run(1.0, **UP)
    bench.run(5.0, ring_turning=True, **UP)
    assert bench.permitted


def test_a_contactor_that_stays_closed_is_found_once_and_stands_until_it_opens():
    bench = Bench().reset().run(1.5, **UP)
    bench.step(stop_request="wall", contactor_closed=True)
    bench.run(0.2, contactor_closed=True)
    assert bench.of(GuardEventKind.FAILED_TO_OPEN) == []
    bench.step(contactor_closed=True, acknowledge="Ada")
    says = "Permit failed to open: contactor still closed 0.21 s after the trip, limit 0.20 s."
    assert bench.of(GuardEventKind.FAILED_TO_OPEN) == [says]
    assert bench.state.followers[-1].kind is FindingKind.RIG_BOX
    assert not bench.state.acknowledged
    bench.run(5.0, contactor_closed=True)
    bench.run(0.5, contactor_closed=None)
    bench.run(0.5, contactor_closed=False, link_up=False)
    assert bench.state.failed_to_open is not None
    assert len(bench.of(GuardEventKind.FAILED_TO_OPEN)) == 1
    bench.run(0.5, contactor_closed=False)
    assert bench.state.failed_to_open is None
    assert bench.of(GuardEventKind.OPENED) == ["The contactor has opened now."]


def test_a_contactor_found_closed_at_start_up_has_the_same_time_to_open():
    bench = Bench().run(0.2, contactor_closed=True)
    assert bench.state.failed_to_open is None
    bench.run(0.05, contactor_closed=True)
    assert bench.state.failed_to_open is not None


def test_a_node_that_never_follows_is_a_trip_after_the_grace():
    bench = Bench().reset().run(0.5, node_permit=NodePermit.LATCHED)
    assert bench.permitted
    assert bench.decision.lease is LeaseAction.RENEW
    bench.run(0.02, node_permit=NodePermit.LATCHED, node_cause=NodeCause.READY_EXPIRED)
    assert bench.state.first_out.kind is FindingKind.RIG_BOX
    assert bench.state.first_out.says == "Rig box latched by itself: no lease came in time after reset."


def test_a_node_that_follows_in_time_is_no_trip():
    bench = Bench().reset().run(0.3, node_permit=NodePermit.LATCHED)
    bench.run(0.2, node_permit=NodePermit.READY).run(10.0, **UP).run(1.0, node_permit=None)
    assert bench.permitted


def test_a_node_that_latches_later_gets_no_lease_and_trips_after_the_grace():
    bench = Bench().reset().run(2.0, **UP)
    bench.step(node_permit=NodePermit.LATCHED, node_cause=NodeCause.OWN_LIMIT)
    assert bench.permitted
    assert bench.decision.lease is LeaseAction.HOLD
    bench.run(0.6, node_permit=NodePermit.LATCHED, node_cause=NodeCause.OWN_LIMIT)
    assert bench.state.first_out.says == "Rig box latched by itself: a limit it keeps itself was passed."


@pytest.mark.parametrize("back", [NodePermit.READY, NodePermit.PERMITTED])
def test_a_node_reset_past_the_core_is_a_trip_at_once(back):
    bench = Bench().reset().run(2.0, **UP)
    bench.step(node_permit=NodePermit.LATCHED, node_cause=NodeCause.LEASE_LAPSED)
    bench.step(node_permit=back, node_cause=NodeCause.LEASE_LAPSED)
    assert not bench.permitted
    assert bench.state.first_out.says == "Rig box latched by itself: its lease has lapsed."


def test_every_node_cause_has_words():
    for cause in NodeCause:
        bench = Bench().reset().run(0.6, node_permit=NodePermit.LATCHED, node_cause=cause)
        assert bench.state.first_out.says.startswith("Rig box latched by itself: ")


def test_other_times_are_obeyed():
    settings = GuardSettings(at_rest_s=5.0, reset_min_s=1.0, reset_max_s=2.0)
    bench = Bench(settings).run(4.9, acknowledge="Ada").press(1.5)
    assert not bench.permitted
    bench.run(0.5).press(0.9)
    assert not bench.permitted
    bench.press(1.0)
    assert bench.permitted


def test_step_is_pure():
    state = Bench().run(2.2, acknowledge="Ada").state
    given = replace(IN_ORDER, t_rig_s=2.3, reset_pressed=True)
    assert step(state, given) == step(state, given)
