"""Draws what goes wrong for good: scuffing, seizure, jam, overheat, a failed sensor, a lost supply.

Reads dice, a rig and the hands' timetable; gives a plan without the lesser nuisances. Magnitudes: DETECTION 1.1, 1.3.
"""

from dataclasses import replace

from world_b.values import NAN, SCUFFINGS, Klass, Precursor

from .chance import Dice, even, happens, pick, spread
from .overheating import draw_overheat
from .plan import Hanging, Jam, Plan, Scuffing, SensorFault
from .rig import Rig
from .timetable import Timetable

_LEAST_DWELL_S = 18.0
_SET_DOWN = 1.6
"""Longest time to set a weight down, of these hands' usual time; see `lever`."""
_LONG = {Precursor.BURSTS: 0.3, Precursor.ONCE_PER_TURN: 0.22, Precursor.CREEP: 0.26, Precursor.MICRO_SCUFF: 0.22}
_SHORT = {Precursor.BURSTS: 0.35, Precursor.ONCE_PER_TURN: 0.2, Precursor.CREEP: 0.25, Precursor.MICRO_SCUFF: 0.2}


def break_down(dice: Dice, rig: Rig, timetable: Timetable, klass: Klass) -> Plan:
    """Give the plan of a class, with its event at the end of the timetable."""
    plan = Plan(
        duration_s=timetable.duration_s,
        loads=timetable.loads,
        switches=timetable.switches,
        mishaps=timetable.mishaps,
        running=timetable.running,
        nights=timetable.nights,
    )
    end_s = plan.duration_s
    if klass in SCUFFINGS or klass is Klass.SEIZURE:
        plan = replace(plan, scuffing=_scuffing(dice, klass, end_s))
    if klass is Klass.JAM:
        grows_s = pick(dice, {0.0: 0.2, spread(dice, 0.01, 0.3): 0.8})
        plan = replace(plan, jam=Jam(end_s - even(dice, 12.0, 30.0), grows_s, even(dice, 1.3, 3.0)))
    if klass is Klass.OVERHEAT:
        plan = replace(plan, overheat=draw_overheat(dice, rig, plan))
    if klass is Klass.SUPPLY_LOST:
        plan = replace(plan, supply_lost_s=end_s - even(dice, 15.0, 60.0))
    if klass is Klass.SENSOR_FAULT:
        plan = replace(plan, fault=_fault(dice, even(dice, 0.3, 0.85) * end_s))
    if klass is Klass.SCUFFING_WITH_FAULT and plan.scuffing is not None:
        plan = replace(
            plan, fault=_fault(dice, plan.scuffing.sign_s - min(spread(dice, 8.0, 120.0), plan.scuffing.sign_s - 40.0))
        )
    return _hands_off(dice, rig, plan)


def _fault(dice: Dice, t_s: float) -> SensorFault:
    return SensorFault(t_s, even(dice, 0.0, 1.0), even(dice, 0.0, 1.0))


def _scuffing(dice: Dice, klass: Klass, end_s: float) -> Scuffing:
    lead = pick(dice, {"none": 0.4, "short": 0.35, "long": 0.25})
    lead = {
        Klass.SCUFFING_LONG: "long",
        Klass.SCUFFING_SHORT: "short",
        Klass.SCUFFING_SUDDEN: "none",
    }.get(klass, lead)
    precursor = {"none": Precursor.NONE, "short": pick(dice, _SHORT), "long": pick(dice, _LONG)}[lead]
    lead_s = {"none": 0.0, "short": spread(dice, 1.5, 10.0), "long": spread(dice, 20.0, 240.0)}[lead]
    seizes = klass is Klass.SEIZURE
    onset_s = end_s - (even(dice, 40.0, 60.0) if seizes else even(dice, 20.0, 50.0))
    lead_s = min(lead_s, onset_s - 110.0)
    sudden = klass is Klass.SCUFFING_SUDDEN
    return Scuffing(
        sign_s=onset_s - lead_s,
        onset_s=onset_s,
        precursor=precursor,
        size=even(dice, 0.0, 1.0),
        growth_s=spread(dice, 0.1, 3.0) if sudden else spread(dice, 0.2, 12.0),
        share=even(dice, 0.6, 1.0),
        crowding=even(dice, 0.1, 0.9),
        stages=1 if sudden or seizes or happens(dice, 0.7) else int(dice.integers(2, 4)),
        eases_share=even(dice, 0.15, 0.5) if happens(dice, 0.25) and not seizes else 0.0,
        eases_s=even(dice, 6.0, 30.0),
        welds_in_s=spread(dice, 0.2, 15.0) if seizes else NAN,
    )


def _hands_off(dice: Dice, rig: Rig, plan: Plan) -> Plan:
    """Crowd the staircase so that its last weight hangs before the first sign; now and then only just."""
    until_s = plan.touched_until_s()
    if until_s == plan.duration_s:
        return plan
    soon = happens(dice, 0.25)
    gap_s = _SET_DOWN * rig.lever.set_down_s + (even(dice, 2.5, 10.0) if soon else even(dice, 15.0, 70.0))
    first_s, last_s = max(plan.loads[0].t_s, 0.0), plan.loads[-1].t_s
    share = (until_s - gap_s - first_s) / max(last_s - first_s, 1e-9)
    share = share if soon else min(share, 1.0)
    loads: list[Hanging] = []
    moved: dict[float, float] = {}
    for load in plan.loads:
        t_s = first_s + (load.t_s - first_s) * share if load.t_s > 0.0 else load.t_s
        if len(loads) > 1 and t_s - loads[-1].t_s < _LEAST_DWELL_S:
            gone_s = loads.pop().t_s
            moved = {was_s: is_s for was_s, is_s in moved.items() if is_s != gone_s}
        loads.append(replace(load, t_s=t_s))
        moved[load.t_s] = t_s
    was = {load.t_s for load in plan.loads}
    mishaps = tuple(
        replace(each, t_s=moved.get(each.t_s, each.t_s))
        for each in plan.mishaps
        if each.t_s not in was or each.t_s in moved
    )
    return replace(plan, loads=tuple(loads), mishaps=mishaps)
