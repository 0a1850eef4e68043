"""One story a class: what the operator does and what befalls the rig.

Reads draws and a rig, gives a `Plan`. A story writes with a `Draft` and then says when it ends.
"""

from collections.abc import Callable
from dataclasses import replace
from math import inf, isfinite, nan

from world_b.values import MOTOR_CURRENT, Fault, Kind, Klass, Nuisance

from .chance import Chance
from .draft import Draft
from .mishaps import damage_of, lead_s_of, sensor_trouble
from .plan import Damage, HeatTrouble, Jam, Plan
from .rig import Rig
from .sprinkle import happen, near_end, spells, spin_up_s, throughout


def write_plan(chance: Chance, rig: Rig, klass: Klass, fault: Fault | None) -> Plan:
    """Write the story of a class."""
    draft = Draft(chance, rig)
    return _STORIES[klass](draft, klass, fault)


def _finish(draft: Draft, end_s: float, quiet_from_s: float = inf) -> Plan:
    """Close the draft: sprinkle what happens by itself, leave out what would reach into the event."""
    chance, rig = draft.chance, draft.rig
    more = near_end(happen(chance, rig, 15.0, end_s), quiet_from_s) + throughout(chance, rig)
    starts = draft.switches[1:] if draft.mid_run else draft.switches
    if starts and 0.9 * rig.drive.held_a > rig.gauges[MOTOR_CURRENT].high:
        more.append(Nuisance(Kind.CURRENT_RAIL, starts[0][0]))
    return Plan(
        duration_s=end_s,
        mid_run=draft.mid_run,
        loads_n=tuple(draft.loads_n),
        hands=tuple(draft.hands),
        switches=tuple(draft.switches),
        nights_s=tuple(draft.nights_s),
        nuisances=tuple(sorted(draft.nuisances + more, key=lambda each: each.t_s)),
    )


def _climb(draft: Draft) -> None:
    draft.staircase(draft.chance.count(2, 8), draft.chance.ratio(25.0, 110.0))


def _staircase(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    n = draft.chance.count(3, 12)
    dwell_s = min(draft.chance.ratio(35.0, 300.0), 1300.0 / n)
    draft.staircase(n, dwell_s)
    draft.wait(dwell_s, 1.3 * dwell_s)
    if draft.chance.yes(0.5):
        draft.switch_off()
        draft.wait(5.0, 25.0)
    return _finish(draft, draft.now_s)


def _endurance(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    chance = draft.chance
    draft.staircase(chance.count(1, 4), chance.ratio(60.0, 300.0))
    end_s = 3600.0 * chance.ratio(0.45, 2.0)
    night = chance.yes(0.2)
    for t_s in chance.moments(draft.now_s + 60.0, end_s - 120.0, 1.3):
        if t_s < draft.now_s + 60.0:
            continue
        draft.now_s = t_s
        _pause(draft, night)
        night = False
    return _finish(draft, end_s)


def _pause(draft: Draft, night: bool) -> None:
    """Stop the motor, do something else, start again; at night for the rest of the day."""
    begun_s = draft.now_s
    draft.switch_off()
    draft.now_s += draft.chance.ratio(4.0, 60.0)
    if night:
        left_out_s = 3600.0 * draft.chance.between(9.0, 20.0)
        draft.note(Kind.DAY_BETWEEN, draft.now_s, left_out_s)
        draft.nights_s.append((draft.now_s, left_out_s))
        draft.wait(5.0, 30.0)
    else:
        draft.note(Kind.PAUSE, begun_s, draft.now_s - begun_s)
    if draft.chance.yes(0.35) and draft.load_n > 0.0:
        load_n = draft.load_n
        draft.set_load(0.0)
        draft.switch_on()
        draft.wait(5.0, 15.0)
        draft.put_on(load_n)
    else:
        draft.switch_on()


def _scuffing(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    chance = draft.chance
    lead_s = lead_s_of(chance, klass)
    damage = _climb_to_damage(draft, klass, lead_s)
    by_hand = chance.yes(1.0 / 3.0)
    off_s = damage.onset_s + chance.between(5.0, 12.0) if by_hand else nan
    if by_hand:
        draft.now_s = off_s
        draft.switch_off()
    end_s = (off_s if by_hand else damage.onset_s + 7.0) + chance.between(5.0, 30.0)
    plan = replace(_finish(draft, end_s, damage.first_s - 5.0), damage=damage, hand_off_s=off_s)
    if fault is None:
        return plan
    t_s = max(damage.onset_s - chance.ratio(4.0, 220.0), draft.switches[0][0] + 20.0)
    return replace(plan, sensor=sensor_trouble(chance, draft.rig, fault, min(t_s, damage.onset_s - 4.0)))


def _climb_to_damage(draft: Draft, klass: Klass, lead_s: float) -> Damage:
    """Climb the staircase to its last load, where the damage comes; one in five times soon after that load."""
    chance = draft.chance
    soon = chance.yes(0.2)
    if soon and draft.way == "stops":
        draft.way = "adds"
    _climb(draft)
    if soon:
        draft.wait(max(lead_s, 30.0), max(lead_s, 30.0) + 40.0)
        extra_n = round(draft.rig.top_load_n * chance.between(1.05, 1.25), 1)
        draft.loads_n.append(extra_n)
        draft.set_load(extra_n, chance.yes(0.1))
        onset_s = draft.hands[-1].t_s + chance.between(2.0, 8.0)
    else:
        onset_s = draft.now_s + lead_s + chance.between(25.0, 90.0)
    draft.now_s = onset_s
    return damage_of(chance, klass, onset_s, lead_s)


def _seizure(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    damage = _climb_to_damage(draft, klass, lead_s_of(draft.chance, klass))
    end_s = damage.onset_s + 1.6 * damage.grow_s + draft.chance.between(8.0, 30.0)
    return replace(_finish(draft, end_s, damage.first_s - 5.0), damage=damage)


def _jam(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    chance = draft.chance
    _climb(draft)
    draft.wait(15.0, 150.0)
    ramp_s = chance.ratio(0.01, 0.3) if chance.yes(0.8) else chance.ratio(0.3, 3.0)
    jam = Jam(draft.now_s, ramp_s, chance.between(1.5, 4.0))
    return replace(_finish(draft, jam.t_s + chance.between(11.0, 35.0), jam.t_s - 5.0), jam=jam)


def _overheat(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    """Let the heat go wrong; where the recording ends is known only when the limit has been passed."""
    chance = draft.chance
    _climb(draft)
    draft.wait(40.0, 240.0)
    kinds = ("cooling", "heater", "starved") if draft.rig.heat.heater_w > 0.0 else ("cooling", "starved")
    kind = chance.one(kinds)
    strength = {"cooling": 0.15, "heater": 1.0, "starved": 1.6}[kind] * chance.ratio(0.75, 1.2)
    heat = HeatTrouble(kind, draft.now_s, strength, chance.ratio(5.0, 200.0))
    return replace(_finish(draft, heat.t_s + 1200.0), heat=heat)


def _spelled(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    chance = draft.chance
    kind = Kind.STICK_SLIP if klass is Klass.STICK_SLIP else Kind.SQUEAL
    draft.staircase(chance.count(1, 6), chance.ratio(25.0, 90.0))
    from_s = draft.switches[0][0] + 20.0
    end_s = draft.now_s + chance.ratio(120.0, 600.0)
    draft.nuisances += spells(chance, kind, from_s, end_s)
    return _finish(draft, end_s)


def _sensor_fault(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    if fault is None:
        raise ValueError("a sensor fault needs a fault")
    _climb(draft)
    draft.wait(20.0, 240.0)
    sensor = sensor_trouble(draft.chance, draft.rig, fault, draft.now_s)
    draft.wait(60.0, 240.0)
    return replace(_finish(draft, draft.now_s), sensor=sensor)


def _supply_lost(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    chance = draft.chance
    _climb(draft)
    draft.wait(15.0, 200.0)
    lost_s = draft.now_s
    back_s = lost_s + chance.between(0.5, 3.0) if chance.yes(0.25) else inf
    plan = _finish(draft, lost_s + chance.between(15.0, 70.0), lost_s - 5.0)
    return replace(plan, supply_lost=(lost_s, back_s))


def _starts_and_stops(draft: Draft, klass: Klass, fault: Fault | None) -> Plan:
    chance = draft.chance
    draft.way = "adds"
    draft.staircase(chance.count(1, 3), chance.ratio(20.0, 60.0))
    night_at = chance.count(1, 8) if chance.yes(0.2) else 0
    for start in range(1, chance.count(8, 30)):
        draft.wait(8.0, 35.0)
        if start == night_at:
            _pause(draft, night=True)
        elif chance.yes(0.12):
            _restart_early(draft)
        elif chance.yes(0.1):
            _inch(draft)
        else:
            _pause(draft, night=False)
    draft.wait(15.0, 40.0)
    return _finish(draft, draft.now_s)


def _restart_early(draft: Draft) -> None:
    begun_s = draft.now_s
    draft.switch_off()
    draft.now_s += draft.chance.between(0.2, 0.6) * spin_up_s(draft.rig)
    draft.note(Kind.RESTART_BEFORE_REST, begun_s, draft.now_s - begun_s)
    draft.switches.append((draft.now_s, inf))


def _inch(draft: Draft) -> None:
    """Stop, then turn the ring a little at a time, then start."""
    begun_s = draft.now_s
    draft.switch_off()
    draft.wait(4.0, 12.0)
    for _ in range(draft.chance.count(2, 6)):
        draft.switches.append((draft.now_s, draft.now_s + draft.chance.ratio(0.12, 0.8)))
        draft.now_s = draft.switches[-1][1]
        draft.wait(0.8, 4.0)
    draft.note(Kind.INCHING, begun_s, draft.now_s - begun_s)
    draft.switch_on()


def cut(plan: Plan, end_s: float) -> Plan:
    """Give the plan with an earlier end; what had not begun by then is left out."""
    if not isfinite(end_s) or end_s >= plan.duration_s:
        return plan
    kept = tuple(each for each in plan.nuisances if each.t_s < end_s)
    return replace(plan, duration_s=end_s, nuisances=kept)


_STORIES: dict[Klass, Callable[[Draft, Klass, Fault | None], Plan]] = {
    Klass.STAIRCASE: _staircase,
    Klass.ENDURANCE: _endurance,
    Klass.SCUFFING_LONG: _scuffing,
    Klass.SCUFFING_SHORT: _scuffing,
    Klass.SCUFFING_SUDDEN: _scuffing,
    Klass.SEIZURE: _seizure,
    Klass.JAM: _jam,
    Klass.OVERHEAT: _overheat,
    Klass.STICK_SLIP: _spelled,
    Klass.SQUEAL: _spelled,
    Klass.SENSOR_FAULT: _sensor_fault,
    Klass.SCUFFING_WITH_FAULT: _scuffing,
    Klass.SUPPLY_LOST: _supply_lost,
    Klass.STARTS_AND_STOPS: _starts_and_stops,
}
