"""The alarm life cycle, row by row (words of ISA-18.2), and what sounds when."""

import itertools
import math
import random

import pytest
from alarm_rig import DISK, HEAT, LINK, STALL, Desk, S

from scuffwatch.guard.alarm_list import put_aside, standing
from scuffwatch.guard.alarm_table import ALARMS, Condition
from scuffwatch.guard.alarms import ActKind, AlarmInput, AlarmSettings, advance, leader_of, new_book


def keys(desk: Desk) -> list[str]:
    return [record.definition.key for record in standing(desk.book)]


# --- the table ------------------------------------------------------------------------------------------------


def test_condition_acknowledge_clear_is_the_plain_round():
    desk = Desk().on("near")
    assert desk.state("near") is S.UNACKNOWLEDGED
    assert desk.book.records["near"].says == "near at 100.00"
    assert desk.acknowledge("near").state("near") is S.ACKNOWLEDGED
    assert desk.off("near").state("near") is S.NORMAL
    assert [(made.event, made.actor) for made in desk.transitions] == [
        ("condition true", ""),
        ("acknowledge", "Ada"),
        ("condition clear", ""),
    ]


def test_what_returned_unseen_waits_for_its_answer():
    desk = Desk().on("near").off("near")
    assert desk.state("near") is S.RETURNED_UNACKNOWLEDGED
    assert desk.acknowledge("near").state("near") is S.NORMAL
    desk.on("near").off("near").on("near")
    assert desk.state("near") is S.UNACKNOWLEDGED


def test_a_trip_latches_until_acknowledged_and_reset():
    desk = Desk().on("stall").off("stall")
    assert desk.state("stall") is S.LATCHED_UNACKNOWLEDGED
    assert desk.reset().state("stall") is S.LATCHED_UNACKNOWLEDGED
    assert desk.acknowledge().state("stall") is S.LATCHED_ACKNOWLEDGED
    assert desk.run(3600.0, 1.0).state("stall") is S.LATCHED_ACKNOWLEDGED
    assert desk.reset().state("stall") is S.NORMAL


def test_acknowledged_first_then_clear_latches_acknowledged():
    desk = Desk().on("stall").acknowledge("stall").off("stall")
    assert desk.state("stall") is S.LATCHED_ACKNOWLEDGED


def test_reset_with_the_condition_present_does_nothing():
    desk = Desk().on("stall").acknowledge().reset()
    assert desk.state("stall") is S.ACKNOWLEDGED


@pytest.mark.parametrize("acknowledged", [True, False])
def test_a_latched_alarm_whose_condition_comes_back_asks_again(acknowledged):
    desk = Desk().on("stall").off("stall")
    if acknowledged:
        desk.acknowledge()
    desk.on("stall")
    assert desk.state("stall") is S.UNACKNOWLEDGED
    assert desk.book.records["stall"].says == f"stall at {desk.t_s - 0.01:.2f}"


def test_a_further_cause_behind_an_answered_alarm_asks_again():
    desk = Desk().on("stall").acknowledge()
    desk.true["stall"] = Condition("again", 1.0)
    desk.step(again=("stall", "heat"))
    assert desk.state("stall") is S.UNACKNOWLEDGED
    assert desk.book.records["stall"].says == "again"
    desk.true["stall"] = Condition("third", 2.0)
    desk.step(again=("stall",))
    assert desk.book.records["stall"].says == "again"


def test_the_off_delay_does_not_outlive_a_reset():
    desk = Desk().on("heat").acknowledge().off("heat")
    assert desk.state("heat") is S.ACKNOWLEDGED
    assert desk.reset().state("heat") is S.NORMAL
    assert [made.event for made in desk.transitions[-2:]] == ["condition clear", "reset"]
    assert desk.run(10.0).state("heat") is S.NORMAL


# --- delays ---------------------------------------------------------------------------------------------------


def test_on_delay_and_off_delay_need_an_unbroken_condition():
    desk = Desk().on("slow").run(4.9)
    assert desk.state("slow") is S.NORMAL
    desk.off("slow").on("slow").run(4.9)
    assert desk.state("slow") is S.NORMAL
    desk.run(0.2)
    assert desk.state("slow") is S.UNACKNOWLEDGED
    desk.off("slow").run(9.9).on("slow").off("slow").run(9.9)
    assert desk.state("slow") is S.UNACKNOWLEDGED
    desk.run(0.2)
    assert desk.state("slow") is S.RETURNED_UNACKNOWLEDGED


def test_delays_run_out_without_anything_else_happening():
    desk = Desk().on("slow")
    book = desk.book
    desk.run(4.0)
    assert desk.book is book  # a quiet step costs nothing
    desk.step(1.1)
    assert desk.state("slow") is S.UNACKNOWLEDGED


@pytest.mark.parametrize("t_mono_s", [math.nan, 0.0, -1.0, 99.0, math.inf])
def test_time_that_stands_or_falls_is_no_time(t_mono_s):
    desk = Desk().on("slow")
    for _ in range(100):
        desk.give(AlarmInput(t_mono_s, 1.0, dict(desk.true), suppress=desk.suppress ^ {"near"}))
        desk.give(AlarmInput(t_mono_s, 1.0, dict(desk.true)))
    assert desk.book.t_mono_s == pytest.approx(100.01)
    assert desk.state("slow") is S.NORMAL
    assert desk.run(5.0).state("slow") is S.UNACKNOWLEDGED


def test_a_trip_is_seen_in_its_first_step_whatever_the_clock_says():
    book, outcome = advance(new_book(), AlarmInput(math.nan, math.nan, {"stall": Condition("Stall.", 1.0)}))
    assert outcome.annunciated == ("stall",)
    assert book.records["stall"].state is S.UNACKNOWLEDGED


# --- put aside ------------------------------------------------------------------------------------------------


def test_shelved_with_who_why_until_and_back_by_itself():
    desk = Desk().on("near").shelve("near", 600.0)
    assert desk.state("near") is S.SHELVED
    made = desk.transitions[-1]
    assert (made.event, made.actor) == ("shelve: for 600 s, cold start", "Ada")
    shelving = desk.book.records["near"].shelving
    assert (shelving.actor, shelving.why) == ("Ada", "cold start")
    desk.run(599.0, 1.0)
    assert desk.state("near") is S.SHELVED
    desk.run(2.0, 1.0)
    assert desk.state("near") is S.UNACKNOWLEDGED
    assert desk.transitions[-1].event == "unshelve: time is over"
    assert desk.sounds("near") == 2
    assert desk.book.records["near"].shelving is None


def test_a_shelf_is_emptied_by_hand_too():
    desk = Desk().shelve("near").act(ActKind.UNSHELVE, "near")
    assert desk.state("near") is S.NORMAL
    assert desk.transitions[-1].actor == "Ada"


def test_what_happens_on_the_shelf_is_silent_and_known_afterwards():
    desk = Desk().shelve("near", 60.0).on("near").run(70.0, 1.0)
    assert desk.state("near") is S.UNACKNOWLEDGED
    assert desk.book.records["near"].says == "near at 100.01"
    assert desk.annunciated == [(pytest.approx(160.02, abs=1.0), "near")]


@pytest.mark.parametrize(
    ("kind", "key", "changes", "says"),
    [
        (
            ActKind.SHELVE,
            "stall",
            {"why": "x", "for_s": 60.0},
            "stall: shelve refused. A trip alarm cannot be shelved.",
        ),
        (ActKind.SHELVE, "near", {"for_s": 60.0}, "near: shelve refused. Say who and why."),
        (ActKind.SHELVE, "near", {"why": "x", "actor": "", "for_s": 60.0}, "near: shelve refused. Say who and why."),
        (ActKind.SHELVE, "near", {"why": "x", "for_s": 0.0}, "near: shelve refused. 0 s asked for, limit 28800 s."),
        (ActKind.SHELVE, "near", {"why": "x", "for_s": -9.0}, "near: shelve refused. -9 s asked for, limit 28800 s."),
        (ActKind.SHELVE, "near", {"why": "x", "for_s": 28_801.0}, "near: shelve refused. 28801 s asked for, limit"),
        (ActKind.SHELVE, "near", {"why": "x"}, "near: shelve refused. nan s asked for, limit 28800 s."),
        (ActKind.UNSHELVE, "near", {}, "near: unshelve refused. It is not shelved."),
        (ActKind.TAKE_OUT, "near", {}, "near: out of service refused. Say who and why."),
        (ActKind.TAKE_OUT, "near", {"why": "x", "actor": ""}, "near: out of service refused. Say who and why."),
        (ActKind.RETURN, "near", {}, "near: return to service refused. It is in service."),
        (ActKind.ACKNOWLEDGE, "other", {}, "Cannot acknowledge: alarm other is not in the table."),
    ],
)
def test_an_act_that_cannot_be_done_is_refused_with_a_sentence(kind, key, changes, says):
    desk = Desk().act(kind, key, **changes)
    assert len(desk.refused) == 1
    assert desk.refused[0].startswith(says)
    assert desk.transitions == []


def test_what_is_aside_already_is_not_put_aside_the_same_way_again():
    desk = Desk().shelve("near").shelve("near")
    assert desk.refused == ["near: shelve refused. It is shelved."]
    desk.act(ActKind.TAKE_OUT, "near", why="sensor away").act(ActKind.TAKE_OUT, "near", why="again").shelve("near")
    assert desk.refused[1:] == [
        "near: out of service refused. It is out of service already.",
        "near: shelve refused. It is out of service.",
    ]


def test_a_condition_outside_the_table_is_refused_once():
    desk = Desk()
    desk.true["other"] = Condition("?", 1.0)
    desk.run(1.0).on("near")
    assert desk.refused == ["Alarm other is not in the table."]


def test_out_of_service_and_back_to_what_is_true():
    desk = Desk().act(ActKind.TAKE_OUT, "near", why="sensor away").on("near")
    assert desk.state("near") is S.OUT_OF_SERVICE
    assert desk.book.records["near"].out_why == "sensor away"
    assert desk.act(ActKind.RETURN, "near").state("near") is S.UNACKNOWLEDGED
    assert desk.book.records["near"].out_why == ""
    assert desk.annunciated[-1][1] == "near"


def test_a_latched_trip_comes_back_latched_unless_it_was_reset_meanwhile():
    desk = Desk().on("stall").off("stall").act(ActKind.TAKE_OUT, "stall", why="test").act(ActKind.RETURN, "stall")
    assert desk.state("stall") is S.LATCHED_UNACKNOWLEDGED
    desk.act(ActKind.TAKE_OUT, "stall", why="test").reset().act(ActKind.RETURN, "stall")
    assert desk.state("stall") is S.NORMAL


def test_a_latching_warning_comes_back_from_the_shelf_latched():
    desk = Desk().on("held").off("held").shelve("held", 60.0).run(61.0, 1.0)
    assert desk.state("held") is S.LATCHED_UNACKNOWLEDGED


def test_design_logic_suppresses_a_warning_and_gives_it_back():
    desk = Desk().on("near")
    desk.suppress = frozenset({"near"})
    desk.step()
    assert desk.state("near") is S.SUPPRESSED_BY_DESIGN
    desk.off("near").on("near").run(100.0)
    assert desk.sounds("near") == 1
    desk.suppress = frozenset()
    desk.step()
    assert desk.state("near") is S.UNACKNOWLEDGED
    assert desk.sounds("near") == 2


def test_design_logic_never_hides_a_trip_that_stands():
    desk = Desk().on("stall")
    desk.suppress = frozenset({"stall"})
    desk.step()
    assert desk.state("stall") is S.UNACKNOWLEDGED
    desk.acknowledge().off("stall").reset()
    assert desk.state("stall") is S.SUPPRESSED_BY_DESIGN
    desk.on("stall")
    assert desk.state("stall") is S.SUPPRESSED_BY_DESIGN
    desk.suppress = frozenset()
    desk.step()
    assert desk.state("stall") is S.UNACKNOWLEDGED


def test_suppressing_does_not_swallow_a_trip_that_waits_for_reset_out_of_service():
    desk = Desk().on("stall").off("stall").act(ActKind.TAKE_OUT, "stall", why="test")
    desk.suppress = frozenset({"stall"})
    desk.act(ActKind.RETURN, "stall")
    assert desk.state("stall") is S.LATCHED_UNACKNOWLEDGED


def test_shelf_and_design_logic_give_way_to_each_other_and_both_are_remembered():
    desk = Desk().shelve("near", 60.0)
    desk.suppress = frozenset({"near"})
    desk.step()
    assert desk.state("near") is S.SUPPRESSED_BY_DESIGN
    desk.suppress = frozenset()
    desk.step()
    assert desk.state("near") is S.SHELVED
    desk.suppress = frozenset({"near"})
    desk.step()
    desk.run(70.0, 1.0)
    assert desk.state("near") is S.SUPPRESSED_BY_DESIGN
    desk.shelve("near", 60.0)
    assert desk.state("near") is S.SHELVED
    desk.run(70.0, 1.0)
    assert desk.state("near") is S.SUPPRESSED_BY_DESIGN
    desk.shelve("near", 60.0)
    desk.suppress = frozenset()
    desk.step()
    assert desk.state("near") is S.SHELVED
    desk.act(ActKind.TAKE_OUT, "near", why="x").act(ActKind.RETURN, "near")
    assert desk.state("near") is S.NORMAL


# --- sounds ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("alarm", ALARMS, ids=[alarm.key for alarm in ALARMS])
def test_a_square_wave_at_ten_hertz_is_one_alarm_and_not_many(alarm):
    # this project's fault matrix; a condition that never lasts as long as its on-delay is none.
    desk, key = Desk(*ALARMS), alarm.key
    for n in range(1300):
        desk.true = {key: Condition("wave", desk.t_s)} if n % 2 else {}
        desk.step(0.05)
    assert desk.sounds(key) == len(desk.transitions) == (0 if alarm.on_delay_s > 0.05 else 1)


@pytest.mark.slow
def test_without_an_off_delay_and_always_answered_it_is_still_one_a_minute():
    desk = Desk()
    for n in range(3700):
        desk.true = {"near": Condition("wave", desk.t_s)} if n % 2 else {}
        desk.step(0.05)
        if n % 2:
            desk.acknowledge("near")
    assert desk.sounds("near") == pytest.approx(185.0 / 60.0, abs=1.0)
    times_s = [t_s for t_s, _ in desk.annunciated]
    assert min(b - a for a, b in itertools.pairwise(times_s)) >= 59.99
    assert desk.book.records["near"].held_back > 1000


def test_an_annunciation_held_back_is_made_up_while_nobody_has_answered():
    desk = Desk().on("near").off("near").acknowledge().run(5.0).on("near").run(50.0)
    assert desk.sounds("near") == 1
    desk.run(10.0)
    assert desk.sounds("near") == 2
    assert desk.run(200.0).sounds("near") == 2


def test_an_annunciation_held_back_is_dropped_once_it_is_answered():
    desk = Desk().on("near").off("near").acknowledge().on("near").acknowledge().run(100.0)
    assert desk.sounds("near") == 1


def test_a_trip_after_reset_sounds_however_soon():
    desk = Desk().on("stall").acknowledge().off("stall").reset().on("stall")
    assert desk.sounds("stall") == 2


def test_an_unanswered_trip_sounds_again_every_minute_and_is_counted_apart():
    desk = Desk().on("stall").run(300.5)
    assert desk.sounds("stall") == 1
    assert [round(t_s - 100.0) for t_s, _ in desk.repeated] == [60, 120, 180, 240, 300]
    record = desk.book.records["stall"]
    assert (record.annunciations, record.repeats) == (1, 5)
    desk.off("stall").run(60.0)
    assert len(desk.repeated) == 6
    desk.acknowledge().run(300.0)
    assert len(desk.repeated) == 6


def test_a_warning_does_not_repeat():
    assert Desk().on("near").run(300.0).repeated == []


def test_other_times_are_obeyed():
    desk = Desk(STALL)
    desk.book = new_book((STALL,), AlarmSettings(shelve_max_s=10.0, annunciation_gap_s=5.0, repeat_s=20.0))
    desk.on("stall").run(60.5)
    assert len(desk.repeated) == 3


# --- groups and order -----------------------------------------------------------------------------------------


def test_followers_of_an_unanswered_first_out_are_silent_and_answered_with_it():
    # this project's fault matrix: one root alarm and its group, at most 3 annunciations.
    desk = Desk()
    desk.first_out = "link"
    desk.on("link").on("stall").on("heat").on("near")
    assert [key for _, key in desk.annunciated] == ["link", "near"]
    assert [leader_of(desk.book, key) for key in ("link", "stall", "heat", "near")] == ["", "link", "link", ""]
    assert keys(desk) == ["link", "stall", "heat", "near"]
    desk.run(61.0)
    assert [key for _, key in desk.repeated] == ["link"]
    desk.acknowledge("heat")
    assert {desk.state(key) for key in ("link", "stall", "heat")} == {S.ACKNOWLEDGED}
    assert desk.state("near") is S.UNACKNOWLEDGED


def test_all_at_once_the_first_out_sounds_alone_wherever_it_stands_in_the_table():
    desk = Desk()
    desk.first_out = "link"
    desk.on("stall", "heat", "link")
    assert [key for _, key in desk.annunciated] == ["link"]


def test_a_follower_after_the_answer_sounds_for_itself():
    desk = Desk()
    desk.first_out = "link"
    desk.on("link").acknowledge("link").on("stall")
    assert [key for _, key in desk.annunciated] == ["link", "stall"]
    assert keys(desk) == ["link", "stall"]
    assert [key for _, key in desk.run(61.0).repeated] == ["stall"]


def test_acknowledging_the_first_out_answers_its_group_and_nothing_else():
    desk = Desk()
    desk.first_out = "link"
    desk.on("link", "stall", "near").acknowledge("link")
    assert desk.state("stall") is S.ACKNOWLEDGED
    assert desk.state("near") is S.UNACKNOWLEDGED


def test_a_corrected_first_out_takes_the_group_over():
    desk = Desk()
    desk.first_out = "stall"
    desk.on("stall", "heat")
    desk.first_out = "heat"
    desk.step()
    assert (leader_of(desk.book, "stall"), leader_of(desk.book, "heat")) == ("heat", "")
    assert keys(desk) == ["heat", "stall"]


def test_a_first_out_that_has_no_alarm_leads_no_group():
    desk = Desk().on("link", "stall")
    assert sorted(key for _, key in desk.annunciated) == ["link", "stall"]
    desk.first_out = "heat"
    desk.step()
    assert leader_of(desk.book, "stall") == ""


def test_a_permit_that_fails_to_open_stands_on_top_by_itself_and_sounds():
    desk = Desk()
    desk.first_out = "link"
    desk.on("link").on("permit_failed_to_open")
    assert [key for _, key in desk.annunciated] == ["link", "permit_failed_to_open"]
    assert keys(desk) == ["permit_failed_to_open", "link"]


def test_order_is_answer_then_rank_then_sample_time_with_first_out_on_top():
    # this project's screen rules
    desk = Desk()
    desk.on("disk", "slow").run(6.0).on("held").on("near")
    desk.true["held"] = Condition("held", 90.0)
    assert keys(desk) == ["slow", "held", "near", "disk"]
    desk.acknowledge("slow")
    assert keys(desk) == ["held", "near", "disk", "slow"]
    desk.first_out = "link"
    desk.true["stall"] = Condition("stall", 50.0)
    desk.true["heat"] = Condition("heat", math.nan)
    desk.on("link")
    assert keys(desk) == ["link", "stall", "heat", "held", "near", "disk", "slow"]
    desk.acknowledge("link")
    assert keys(desk) == ["held", "near", "disk", "link", "stall", "heat", "slow"]
    desk.first_out = ""
    desk.step()
    assert keys(desk)[3:] == ["stall", "link", "heat", "slow"]


def test_what_is_aside_is_listed_apart_the_first_to_return_on_top():
    desk = Desk().act(ActKind.TAKE_OUT, "held", why="x").shelve("disk", 100.0).shelve("near", 50.0).on("near")
    assert keys(desk) == []
    assert [record.definition.key for record in put_aside(desk.book)] == ["near", "disk", "held"]


def test_a_pulled_hub_makes_at_most_three_annunciations_with_the_real_table():
    # the fault matrix: all channels at once from one root cause, in any order of arrival. What comes first is the
    # first-out until the guard corrects it by sample time.
    rng = random.Random(6)
    for _ in range(100):
        desk = Desk(*ALARMS)
        arrival = ["rig_box", "sensor_fault", "overheat", "interlock", "stall", "channel_lost"]
        rng.shuffle(arrival)
        for key in arrival:
            if key == "rig_box" or (not desk.first_out and key != "channel_lost"):
                desk.first_out = key
            desk.on(key)
        desk.run(50.0, 0.5)
        assert len(desk.annunciated) <= 3
        assert desk.sounds("rig_box") == desk.sounds("channel_lost") == 1
        assert keys(desk)[0] == "rig_box"


def test_the_book_is_never_changed_in_place():
    book = new_book((STALL, HEAT, LINK, DISK))
    before = dict(book.records)
    moved, _ = advance(book, AlarmInput(1.0, 1.0, {"stall": Condition("Stall.", 1.0)}))
    assert book.records == before
    assert moved.records["stall"].state is S.UNACKNOWLEDGED
