"""What people do to alarms: acknowledge, shelve, take out of service, and the ways back.

Reads one act; changes the step under way or says in one sentence why not. Part of `alarms.advance`.
"""

from dataclasses import replace

from scuffwatch.guard.alarm_book import HALF_STEP_S, ActKind, AlarmAct, Work, leader_of, move
from scuffwatch.guard.alarm_cycle import LifeEvent, Shelving
from scuffwatch.model.alarm import AlarmState, Priority

_WHO_AND_WHY = "Say who and why."


def do(work: Work, act: AlarmAct) -> None:
    """Do one act, or put a sentence into `work.refused`.

    Args:
        work: the step; changed in place.
        act: what a person asks for.
    """
    if act.kind is ActKind.ACKNOWLEDGE and not act.key:
        for key in work.records:
            move(work, key, LifeEvent.ACKNOWLEDGE, act.actor)
        return
    if act.key not in work.records:
        work.refused.append(f"Cannot {act.kind.value}: alarm {act.key} is not in the table.")
        return
    why_not = _ACTS[act.kind](work, act)
    if why_not:
        short_name = work.records[act.key].definition.short_name
        work.refused.append(f"{short_name}: {act.kind.value} refused. {why_not}")


def _acknowledge(work: Work, act: AlarmAct) -> str:
    leader = leader_of(work, act.key) or act.key
    group = [key for key in work.records if key in (leader, act.key) or leader_of(work, key) == leader]
    for key in group:
        move(work, key, LifeEvent.ACKNOWLEDGE, act.actor)
    return ""


def _shelve(work: Work, act: AlarmAct) -> str:
    record = work.records[act.key]
    if record.definition.priority is Priority.TRIP:
        return "A trip alarm cannot be shelved."
    if not act.actor or not act.why:
        return _WHO_AND_WHY
    length_s, longest_s = act.until_mono_s - work.t_mono_s, work.settings.shelve_max_s
    if not 0 < length_s <= longest_s + HALF_STEP_S:
        return f"{length_s:.0f} s asked for, limit {longest_s:.0f} s."
    if not move(work, act.key, LifeEvent.SHELVE, act.actor, f"for {length_s:.0f} s, {act.why}"):
        return f"It is {record.state.value}."
    shelving = Shelving(act.actor, act.why, act.until_mono_s)
    work.records[act.key] = replace(work.records[act.key], shelving=shelving)
    return ""


def _unshelve(work: Work, act: AlarmAct) -> str:
    record = work.records[act.key]
    if record.state is not AlarmState.SHELVED:
        return "It is not shelved."
    work.records[act.key] = replace(record, shelving=None)
    move(work, act.key, LifeEvent.UNSHELVE, act.actor)
    return ""


def _take_out(work: Work, act: AlarmAct) -> str:
    if not act.actor or not act.why:
        return _WHO_AND_WHY
    if not move(work, act.key, LifeEvent.TAKE_OUT, act.actor, act.why):
        return "It is out of service already."
    work.records[act.key] = replace(work.records[act.key], shelving=None, out_why=act.why)
    return ""


def _return(work: Work, act: AlarmAct) -> str:
    if not move(work, act.key, LifeEvent.RETURN, act.actor):
        return "It is in service."
    work.records[act.key] = replace(work.records[act.key], out_why="")
    return ""


_ACTS = {
    ActKind.ACKNOWLEDGE: _acknowledge,
    ActKind.SHELVE: _shelve,
    ActKind.UNSHELVE: _unshelve,
    ActKind.TAKE_OUT: _take_out,
    ActKind.RETURN: _return,
}
