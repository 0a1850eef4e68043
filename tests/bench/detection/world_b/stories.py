"""What happens in a recording of each class: the operator's script, the damage, the fault.

Reads a class, draws and a rig, gives a `Story`. No signal is made here; everything is in true time, s, without breaks.
"""

from collections.abc import Callable

from .draws import Draw
from .events import FaultPlan, Jam, Overheat, Scuff, Story
from .rigs import Rig
from .script import Script
from .values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NAN,
    NORMAL_LOAD,
    RING_SPEED,
    SCUFFINGS,
    SOUND_LEVEL,
    Fault,
    Kind,
    Klass,
    Precursor,
)


def tell(klass: Klass, seed: int, draw: Draw, rig: Rig) -> Story:
    """Give the story of one recording.

    Args:
        klass: what kind of recording.
        seed: only its remainder by seven is used, so the seven sensor faults take turns.
        draw: the stream that decides the story.
        rig: as drawn for this class.
    Returns:
        The story; `quiet_s` is when nuisances of the contact must end.
    """
    story = Story(klass, rig, Script(draw, rig))
    if klass in SCUFFINGS or klass is Klass.SEIZURE:
        _scuffing(story, seed)
    else:
        TELLERS[klass](story, seed)
    return story


def _run_up(story: Story, dwell_s: float, most: int = 10) -> None:
    script, draw = story.script, story.script.draw
    script.begin()
    script.climb(draw.whole(1, min(most, len(story.rig.loads_n))), dwell_s)


def _staircase(story: Story, seed: int) -> None:
    script, draw = story.script, story.script.draw
    dwell_s = draw.log_within(25.0, 420.0)
    script.begin()
    half = len(story.rig.loads_n) // 2
    if half and draw.chance(0.1):
        script.climb(half, dwell_s)
        script.dwell(dwell_s)
        script.day_between()
    script.climb(len(story.rig.loads_n), dwell_s)
    script.dwell(dwell_s)
    script.finish()
    story.duration_s = script.t_s


def _endurance(story: Story, seed: int) -> None:
    script, draw = story.script, story.script.draw
    hours = draw.log_within(0.5, 3.0)
    script.begin()
    script.climb(draw.whole(1, 4), 40.0)
    legs = draw.whole(1, 4)
    for leg in range(legs):
        script.dwell(3600.0 * hours / legs)
        if leg < legs - 1:
            if draw.chance(0.25):
                script.day_between()
            elif draw.chance(0.4):
                script.pause(draw.log_within(10.0, 600.0))
    script.finish()
    story.duration_s = script.t_s


def _starts_and_stops(story: Story, seed: int) -> None:
    script, draw, rig = story.script, story.script.draw, story.rig
    script.begin(mid_run_share=0.0)
    if draw.chance(0.7):
        script.place(draw.pick(rig.loads_n))
    for _ in range(draw.whole(8, 30)):
        act = draw.pick(["stop", "quick", "inch", "load", "day"], (0.55, 0.12, 0.12, 0.18, 0.03))
        script.wait(draw.log_within(4.0, 90.0))
        if act == "load":
            script.place(draw.pick(rig.loads_n))
        elif act == "inch":
            script.pause(draw.within(6.0, 20.0), restart=False)
            _inch(script)
        elif act == "day":
            script.day_between()
        else:
            rest_s = draw.log_within(0.3, 2.0) if act == "quick" else draw.log_within(3.0, 120.0)
            if act == "stop" and draw.chance(0.3):
                script.move(0.0)
                script.wait(4.0)
            if act == "quick":
                script.note(Kind.RESTART_BEFORE_REST)
            script.pause(rest_s)
    script.wait(draw.within(5.0, 30.0))
    script.finish()
    story.duration_s = script.t_s


def _inch(script: Script) -> None:
    from_s, draw = script.t_s, script.draw
    for _ in range(draw.whole(1, 5)):
        script.switch(True)
        script.wait(draw.within(0.15, 1.0))
        script.switch(False)
        script.wait(draw.within(0.5, 5.0))
    script.note(Kind.INCHING, from_s, script.t_s - from_s)
    script.wait(6.0)
    script.start()


def _jam(story: Story, seed: int) -> None:
    draw, script = story.script.draw, story.script
    _run_up(story, draw.log_within(20.0, 200.0))
    script.dwell(draw.log_within(12.0, 600.0))
    hard = draw.chance(0.75)
    story.jam = Jam(
        t_s=script.t_s + 3.0,
        rise_s=draw.log_within(0.01, 0.3) if hard else draw.log_within(0.3, 3.0),
        most_share=draw.within(1.5, 4.0),
        on_motor=draw.chance(0.5),
        knock_db=draw.within(0.0, 25.0) if draw.chance(0.6) else -99.0,
    )
    story.quiet_s = script.t_s
    script.wait(3.0 + story.jam.rise_s + draw.within(6.0, 20.0))
    story.duration_s = script.t_s


def _overheat(story: Story, seed: int) -> None:
    draw, script, rig = story.script.draw, story.script, story.rig
    script.begin()
    script.climb(len(rig.loads_n), 25.0)
    script.dwell(draw.log_within(60.0, 900.0))
    causes = ["fan", "starved"] if rig.heat.heater_w == 0.0 else ["fan", "heater", "starved"]
    cause = draw.pick(causes)
    story.quiet_s = script.t_s
    factor = {"fan": draw.within(0.02, 0.12), "heater": 1.0, "starved": draw.within(6.0, 12.0)}[cause]
    story.overheat = Overheat(script.t_s, cause, factor)
    script.wait(7200.0)
    story.duration_s = script.t_s


def _spells(story: Story, seed: int) -> None:
    draw, script = story.script.draw, story.script
    _run_up(story, draw.log_within(30.0, 250.0))
    script.dwell(draw.log_within(200.0, 1500.0))
    script.finish()
    story.spell_share = draw.within(0.2, 0.9)
    story.duration_s = script.t_s


def _supply(story: Story, seed: int) -> None:
    draw, script = story.script.draw, story.script
    _run_up(story, draw.log_within(20.0, 200.0))
    script.dwell(draw.log_within(15.0, 600.0))
    story.quiet_s = script.t_s
    story.supply_lost_s = script.t_s + 2.0
    if draw.chance(0.25):
        story.supply_back_s = story.supply_lost_s + draw.log_within(0.15, 3.0)
    script.wait(draw.within(20.0, 90.0))
    story.duration_s = script.t_s


def _faulty(story: Story, seed: int) -> None:
    draw, script = story.script.draw, story.script
    _run_up(story, draw.log_within(30.0, 250.0))
    script.dwell(draw.log_within(30.0, 900.0))
    plan_fault(story, list(Fault)[seed % 7], script.t_s)
    script.dwell(draw.log_within(60.0, 900.0))
    script.finish()
    story.duration_s = script.t_s


def plan_fault(story: Story, fault: Fault, t_s: float) -> None:
    """Choose the channel of a fault and how large it is; a rig without such a channel is a mistake of the caller."""
    draw = story.script.draw
    channel = draw.pick(channels_for(fault, story.rig))
    rate = draw.log_within(0.004, 0.08)  # share of the range a second, for drift
    story.fault = FaultPlan(fault, t_s, channel, rate * draw.pick([-1.0, 1.0]))


def channels_for(fault: Fault, rig: Rig) -> list[str]:
    """Give the channels of a rig on which a fault can happen."""
    has = CHANNELS_OF[rig.channel_set]
    hot = [name for name in has if name.endswith("_degc")]
    straight = [name for name in has if name in (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT)]
    return {
        Fault.STUCK: list(has),
        Fault.SATURATED: [*straight, *(name for name in has if name == SOUND_LEVEL)],
        Fault.OPEN_THERMOCOUPLE: hot,
        Fault.DROPOUT: list(has),
        Fault.DRIFT: [*straight, *hot],
        Fault.SIGN_FLIP: straight,
        Fault.TACHOMETER_LOST: [name for name in has if name == RING_SPEED],
    }[fault]


def _scuffing(story: Story, seed: int) -> None:
    draw, script, klass = story.script.draw, story.script, story.klass
    _run_up(story, draw.log_within(25.0, 250.0))
    since_step_s = draw.within(2.0, 8.0) if draw.chance(0.2) else draw.log_within(10.0, 700.0)
    if klass is Klass.SCUFFING_WITH_FAULT:
        script.wait(10.0)
        plan_fault(story, list(Fault)[seed % 7], script.t_s)
        since_step_s = draw.log_within(4.0, 200.0)
    if since_step_s > 60.0:
        script.dwell(since_step_s - 20.0)
        since_step_s = 20.0
    script.wait(since_step_s)
    onset_s = script.t_s
    story.scuff = _damage(story, onset_s)
    story.precursor, story.precursor_s = _warning(story, onset_s)
    story.quiet_s = (onset_s if story.precursor is Precursor.NONE else story.precursor_s) - 3.0
    tail_s = draw.within(14.0, 30.0)
    if klass is not Klass.SEIZURE and draw.chance(0.35):
        script.t_s = onset_s + draw.within(5.0, 12.0)
        script.switch(False)
    story.duration_s = onset_s + tail_s + (story.scuff.rise_s * 2.0 if klass is Klass.SEIZURE else 0.0)


def _damage(story: Story, onset_s: float) -> Scuff:
    draw, rig = story.script.draw, story.rig
    mu = rig.mu_at(story.script.load_n)
    ratio = draw.within(0.25, 0.65) / mu if draw.chance(0.85) else draw.within(1.8, 2.9)
    if story.klass is Klass.SEIZURE:
        ratio = max(ratio, draw.within(1.3, 2.0) * holding_mu(story) / mu)
    ratio = max(ratio, 1.6)
    sudden = story.klass is Klass.SCUFFING_SUDDEN
    triple_s = draw.log_within(0.08, 3.0) if sudden else draw.log_within(0.2, 9.0)
    shape = draw.pick(["saturating", "smooth", "steps", "late"], (0.4, 0.25, 0.2, 0.15))
    return Scuff(
        onset_s=onset_s,
        ratio=ratio,
        rise_s=triple_s * (1.0 if story.klass is not Klass.SEIZURE else draw.within(1.0, 2.0)),
        shape=shape,
        chatter_share=draw.log_within(0.03, 0.25),
        chatter_s=draw.log_within(0.01, 0.15),
    )


def holding_mu(story: Story) -> float:
    """Give the friction ratio that would hold the ring at the present load."""
    held_nm = story.rig.drive.stall_torque_nm - 0.5 * story.rig.drive.drag_nm
    return held_nm / (story.rig.ring_radius_m * max(story.script.load_n, 1e-3))


def _warning(story: Story, onset_s: float) -> tuple[Precursor, float]:
    draw, klass = story.script.draw, story.klass
    kinds = [kind for kind in Precursor if kind is not Precursor.NONE]
    if klass is Klass.SCUFFING_SUDDEN:
        return Precursor.NONE, NAN
    long = klass is Klass.SCUFFING_LONG or (klass is not Klass.SCUFFING_SHORT and draw.chance(0.4))
    if klass in (Klass.SEIZURE, Klass.SCUFFING_WITH_FAULT) and not long and draw.chance(0.4):
        return Precursor.NONE, NAN
    lead_s = draw.log_within(20.0, 400.0) if long else draw.log_within(1.2, 12.0)
    begin_s = max(onset_s - lead_s, story.script.running_since_s + 10.0)
    if begin_s > onset_s - 1.0:
        return Precursor.NONE, NAN
    return draw.pick(kinds, (0.4, 0.2, 0.25, 0.15)), begin_s


TELLERS: dict[Klass, Callable[[Story, int], None]] = {
    Klass.STAIRCASE: _staircase,
    Klass.ENDURANCE: _endurance,
    Klass.JAM: _jam,
    Klass.OVERHEAT: _overheat,
    Klass.STICK_SLIP: _spells,
    Klass.SQUEAL: _spells,
    Klass.SENSOR_FAULT: _faulty,
    Klass.SUPPLY_LOST: _supply,
    Klass.STARTS_AND_STOPS: _starts_and_stops,
}
