"""Stories of the first world: for each class of recording, what is done and what goes wrong.

Reads class, rig and random numbers, gives a plan. Sizes and times without a source are plausible and invented.
"""

import math
from random import Random

from world_b.values import SCUFFINGS, Fault, Kind, Klass, Precursor

from scuffwatch.sim.friction import Burst, Damage

from .plan import Hands, Knock, Noise, Plan, Swell, Swing
from .rigs import Rig, log_uniform


def tell(klass: Klass, rig: Rig, chance: Random, fault: tuple[Fault, str] | None) -> tuple[Plan, float]:
    """Give the plan of a recording and its length, s.

    Args:
        klass: of the recording.
        rig: it is played on.
        chance: its numbers are used up.
        fault: and the channel it befalls, for the classes with one.
    """
    plan, hands = Plan(), Hands(chance, rig)
    plan.t_s = chance.uniform(2.0, 12.0)
    if klass is Klass.STARTS_AND_STOPS:
        _starts_and_stops(plan, hands, rig, chance)
    else:
        _stairs(plan, hands, rig, chance, klass)
    end_s = _fate(plan, rig, chance, klass, fault)
    _disturb(plan, rig, chance, klass, end_s)
    if klass is Klass.ENDURANCE and chance.random() < 0.25:
        pauses = [n.t_s for n in plan.nuisances if n.kind is Kind.PAUSE]
        if pauses:
            plan.days.append(chance.choice(pauses) + 1.0)
    if chance.random() < 0.1 and plan.on[0][0] + 25.0 < end_s and not plan.is_on(0.0):
        plan.skip_s = plan.on[0][0] + rig.line.ramp_s + chance.uniform(8.0, 20.0)
        plan.note(Kind.MID_RUN, 0.0, plan.skip_s)
    return plan, end_s


def _stairs(plan: Plan, hands: Hands, rig: Rig, chance: Random, klass: Klass) -> None:
    """Bring the loads on, one after the other."""
    endurance = klass is Klass.ENDURANCE
    count = chance.randint(1, 4) if endurance else chance.randint(2, 9) if klass is Klass.STAIRCASE else None
    count = chance.randint(1, 6) if count is None else count
    first = chance.uniform(0.1, 0.9) if count > 1 else 1.0
    loads = [rig.top_load_n * (first + (1.0 - first) * k / max(count - 1, 1)) for k in range(count)]
    dwell_s = log_uniform(chance, 20.0, 150.0)
    if chance.random() < 0.2 and rig.starts_loaded:
        hands.set_load(plan, loads.pop(0))
        plan.start()
    else:
        plan.start()
        plan.t_s += hands.spin_up_s()
    plan.t_s += hands.spin_up_s()
    for load_n in loads:
        hands.set_load(plan, load_n)
        plan.t_s += dwell_s
    if endurance:
        _go_on(plan, hands, chance)
    elif klass in (Klass.STICK_SLIP, Klass.SQUEAL, Klass.SENSOR_FAULT):
        plan.t_s += chance.uniform(60.0, 400.0)


def _go_on(plan: Plan, hands: Hands, chance: Random) -> None:
    end_s = plan.t_s + log_uniform(chance, 600.0, 3000.0)
    while plan.t_s < end_s:
        plan.t_s += chance.expovariate(1.0 / 700.0) + 20.0
        if plan.t_s < end_s and chance.random() < 0.5:
            hands.pause(plan)
            plan.t_s += 20.0


def _starts_and_stops(plan: Plan, hands: Hands, rig: Rig, chance: Random) -> None:
    loaded = rig.starts_loaded and chance.random() < 0.6
    if loaded:
        hands.set_load(plan, rig.top_load_n * chance.uniform(0.2, 1.0))
    for _ in range(chance.randint(6, 20)):
        plan.start()
        kind = chance.random()
        if kind < 0.12:
            plan.note(Kind.INCHING)
            plan.t_s += chance.uniform(0.1, 0.8)
        else:
            plan.t_s += hands.spin_up_s() + chance.uniform(0.0, 40.0)
        if not loaded and kind > 0.6:
            hands.set_load(plan, rig.top_load_n * chance.uniform(0.2, 1.0))
            plan.t_s += chance.uniform(5.0, 40.0)
            hands.set_load(plan, 0.0)
        plan.stop()
        if chance.random() < 0.15:
            plan.note(Kind.RESTART_BEFORE_REST)
            plan.t_s += chance.uniform(0.2, 1.2)
        else:
            plan.t_s += log_uniform(chance, 2.0, 40.0)


def _fate(plan: Plan, rig: Rig, chance: Random, klass: Klass, fault: tuple[Fault, str] | None) -> float:
    """Let happen what the class is about and give the end of the recording, s."""
    end_s = plan.t_s + chance.uniform(5.0, 20.0)
    at_s = moment(plan, chance, end_s)
    if klass in (*SCUFFINGS, Klass.SEIZURE):
        at_s = _scuff(plan, rig, chance, klass, at_s)
        end_s = at_s + chance.uniform(15.0, 45.0)
        if klass is not Klass.SEIZURE and chance.random() < 0.33:
            _switch_off(plan, at_s + chance.uniform(5.0, 12.0))
    elif klass is Klass.JAM:
        ramp_s = log_uniform(chance, 0.01, 0.3) if chance.random() < 0.75 else chance.uniform(0.3, 3.0)
        plan.jam = (at_s, rig.most_torque_nm * log_uniform(chance, 1.3, 8.0), ramp_s)
        end_s = at_s + chance.uniform(10.0, 40.0)
    elif klass is Klass.SUPPLY_LOST:
        back_s = at_s + chance.uniform(0.8, 3.0) if chance.random() < 0.25 else math.inf
        plan.supply_off.append((at_s, back_s))
        end_s = at_s + chance.uniform(10.0, 40.0)
    elif klass is Klass.OVERHEAT:
        if chance.random() < 0.5:
            plan.heater_sticks_s = at_s
        else:
            plan.dry_s = at_s
        end_s = at_s + 1500.0
    if fault is not None:
        lead_s = log_uniform(chance, 4.0, 120.0)
        begin_s = (
            at_s - min(lead_s, at_s - 10.0) if klass is Klass.SCUFFING_WITH_FAULT else chance.uniform(0.3, 0.8) * end_s
        )
        plan.fault = (*fault, begin_s)
    return end_s


def moment(plan: Plan, chance: Random, end_s: float) -> float:
    """Give a moment at which the loaded ring has been turning for a while; one in five soon after a change of load."""
    hangs = [at_s for at_s, hang in plan.hangs if hang.load_n > 0.0]
    last_s = max(plan.t_s, 60.0)
    for _ in range(500):
        soon = chance.random() < 0.2 and bool(hangs)
        at_s = chance.choice(hangs) + chance.uniform(3.0, 8.0) if soon else chance.uniform(30.0, last_s)
        loaded = [hang.load_n for t, hang in plan.hangs if t < at_s - 2.0]
        if plan.is_on(at_s, 20.0, 3.0) and loaded and loaded[-1] > 0.0:
            return at_s
    return last_s


def _switch_off(plan: Plan, at_s: float) -> None:
    for spell in plan.on:
        if spell[0] < at_s < spell[1]:
            spell[1] = at_s
    plan.on = [spell for spell in plan.on if spell[0] < at_s]


def _scuff(plan: Plan, rig: Rig, chance: Random, klass: Klass, at_s: float) -> float:
    """Let the contact scuff at about `at_s` and give the onset."""
    lead_s = {
        Klass.SCUFFING_LONG: log_uniform(chance, 15.0, 240.0),
        Klass.SCUFFING_SHORT: chance.uniform(1.0, 12.0),
        Klass.SEIZURE: chance.choice((0.0, chance.uniform(2.0, 40.0))),
        Klass.SCUFFING_WITH_FAULT: chance.choice((0.0, chance.uniform(1.0, 30.0))),
    }.get(klass, 0.0)
    onset_s = at_s
    if lead_s > 15.0:  # the long precursor needs its time: it begins at the moment found, and the last load stays on
        onset_s = at_s + lead_s
        _hold_from(plan, at_s)
    growth_s = log_uniform(chance, 0.25, 4.0) if klass is Klass.SCUFFING_SUDDEN else log_uniform(chance, 0.4, 8.0)
    healthy = rig.params.boundary_coefficient
    partial = klass is not Klass.SEIZURE and chance.random() < 0.14
    reached = healthy * chance.uniform(1.8, 2.7) if partial else chance.uniform(0.28, 0.65)
    weld = chance.uniform(0.05, 0.5) if klass is Klass.SEIZURE else 0.0 if partial else chance.choice((0.0, 0.1))
    bursts = tuple(_bursts(chance, onset_s, lead_s)) if lead_s else ()
    plan.precursor = Precursor.BURSTS if bursts else Precursor.NONE
    plan.damage = Damage(onset_s, growth_s, reached, weld, bursts)
    return onset_s


def _hold_from(plan: Plan, at_s: float) -> None:
    """Let nothing be done after `at_s`: the last load stays, the motor goes on."""
    done = [n for n, (t, _) in enumerate(plan.hangs) if t < at_s]
    plan.hangs = [plan.hangs[n] for n in done]
    plan.on = [spell if spell[1] < at_s else [spell[0], math.inf] for spell in plan.on if spell[0] < at_s]
    plan.nuisances = [n for n in plan.nuisances if n.t_s < at_s]


def _bursts(chance: Random, onset_s: float, lead_s: float) -> list[Burst]:
    """Give bursts of +10-60 %, closer and larger towards the onset."""
    found, t_s = [], onset_s - lead_s
    while t_s < onset_s - 0.1:
        near = 1.0 - (onset_s - t_s) / lead_s
        length_s = min(chance.uniform(0.05, 0.8), onset_s - t_s)
        found.append(Burst(t_s, length_s, 0.1 + chance.uniform(0.1, 0.5) * (0.4 + 0.6 * near)))
        t_s += length_s + chance.expovariate(1.0) * min(8.0, lead_s / 4.0) * (1.0 - 0.8 * near)
    return found


def _disturb(plan: Plan, rig: Rig, chance: Random, klass: Klass, end_s: float) -> None:
    """Add healthy nuisances, the more the longer the recording."""

    def times(every_s: float) -> list[float]:
        found, t_s = [], chance.expovariate(1.0 / every_s)
        while t_s < end_s:
            found.append(t_s)
            t_s += chance.expovariate(1.0 / every_s)
        return found

    for t_s in times(900.0):
        decay_s = chance.uniform(0.1, 0.6)
        plan.knocks.append(Knock(t_s, chance.uniform(0.1, 0.9) * chance.choice((-1, 1)), chance.uniform(2, 9), decay_s))
        plan.note(Kind.BUMP, 0.0, t_s)
    for t_s in times(600.0):
        length_s = log_uniform(chance, 0.02, 0.3)
        plan.swells.append(Swell(t_s, length_s / 2, 0.0, length_s / 2, chance.uniform(0.08, 0.6)))
        plan.note(Kind.DEBRIS, length_s, t_s)
    for t_s in times(900.0):
        _film(plan, rig, chance, t_s)
    background_db = rig.params.background_db
    for kind, every_s, most_s in (
        (Kind.DOOR_SLAM, 400.0, 0.4),
        (Kind.NEIGHBOUR, 1200.0, 60.0),
        (Kind.VOICES, 900.0, 8),
    ):
        for t_s in times(every_s):
            length_s = chance.uniform(0.15 * most_s, most_s)
            plan.noises.append(Noise(t_s, length_s, background_db + chance.uniform(2.0, 30.0)))
            plan.note(kind, length_s, t_s)
    if klass is Klass.STICK_SLIP or chance.random() < 0.04:
        _spells(plan, rig, chance, Kind.STICK_SLIP, end_s, klass is Klass.STICK_SLIP)
    if klass is Klass.SQUEAL or chance.random() < 0.06:
        _spells(plan, rig, chance, Kind.SQUEAL, end_s, klass is Klass.SQUEAL)
    if chance.random() < 0.05 and klass is not Klass.SUPPLY_LOST:
        t_s = chance.uniform(0.0, end_s)
        length_s = min(chance.uniform(0.02, 0.15), 0.3 * rig.coasts_s)
        plan.supply_off.append((t_s, t_s + length_s))
        plan.note(Kind.BRIEF_DIP, length_s, t_s)


def _film(plan: Plan, rig: Rig, chance: Random, t_s: float) -> None:
    """Let the film change slowly, up or down, for good or for a while; the slow ratio stays below 0.19."""
    rise_s = log_uniform(chance, 20.0, 500.0)
    most = min(0.4, 0.19 / (rig.params.boundary_coefficient * (1.0 + 0.3 * rig.params.run_in_limit)) - 1.0)
    share = chance.uniform(0.05, max(most, 0.06)) if chance.random() < 0.6 else -chance.uniform(0.05, 0.3)
    hold_s = chance.uniform(30.0, 400.0)
    if any(s.rise_s > 5.0 and abs(s.t_s - t_s) < s.rise_s + s.hold_s + s.fall_s + rise_s for s in plan.swells):
        return  # one at a time, so that they do not add up
    plan.swells.append(Swell(t_s, rise_s, hold_s, log_uniform(chance, 20.0, 500.0), share))
    plan.note(Kind.FILM_TRANSITION, rise_s, t_s)


def _spells(plan: Plan, rig: Rig, chance: Random, kind: Kind, end_s: float, often: bool) -> None:
    """Add spells of stick-slip or squeal: over 20 to 90 % of the time, or one."""
    share = chance.uniform(0.2, 0.9)
    t_s = chance.uniform(0.02, 0.5) * end_s if not often else chance.uniform(5.0, 40.0)
    hz, size = log_uniform(chance, 0.5, 25.0), chance.uniform(0.06, 0.6)
    tone_db = rig.params.background_db + chance.uniform(6.0, 36.0)
    while t_s < end_s:
        length_s = log_uniform(chance, 1.0, 90.0)
        if kind is Kind.STICK_SLIP:
            spell_hz = hz * chance.uniform(0.8, 1.25)
            plan.swings.append(Swing(t_s, length_s, spell_hz, size * chance.uniform(0.5, 1.1), chance.uniform(0, 8)))
        else:
            plan.noises.append(Noise(t_s, length_s, tone_db + chance.uniform(-3.0, 3.0), of_contact=True))
        plan.note(kind, length_s, t_s)
        if not often:
            return
        t_s += length_s + length_s * (1.0 - share) / share * chance.uniform(0.5, 1.5)
