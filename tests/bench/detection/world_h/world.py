"""One world: rig, plan, acts with and without the event, and both courses.

Reads seed, class and attempt, gives a `World`; knows no instrument and no rate.
"""

import copy
import math
from dataclasses import dataclass

import numpy as np
from world_b.values import BATH_TEMPERATURE, NAN, PIN_TEMPERATURE, Klass

from .acts import SLOW, SLOW_S, Acts, nothing_done
from .chance import Purpose, chance, generator
from .contact_nuisances import disturb_contact, wander
from .diary import Diary
from .drives import DT_S
from .events import Event, draw_event, lay_over
from .hands import load_rig
from .motor_hands import disturb_motor
from .plan import Plan, draw_plan
from .rig import Rig
from .rig_draw import draw_rig
from .room import Voice, disturb_room, draw_voice
from .state import State
from .turning import Course, turn, turn_until

_EARLIER_S = 5.0
"""How long a rig that is found running is turned before its recording begins."""
_AFTER_LIMIT_S = (12.0, 40.0)


@dataclass(slots=True)
class World:
    """One world.

    Attributes:
        rig, plan, event, voice: see there.
        acts, course: as it was.
        still_acts, still: the same without the event; the same objects where there is none.
        limits_degc: of both thermocouples, as set on the healthy course.
        end_s: of the recording.
    """

    rig: Rig
    plan: Plan
    event: Event
    voice: Voice
    acts: Acts
    course: Course
    still_acts: Acts
    still: Course
    limits_degc: dict[str, float]
    end_s: float


def make_world(seed: int, klass: Klass, attempt: int) -> World:
    """Make the world of one attempt; it may not keep the promise of its class."""
    rig = draw_rig(generator(seed, klass, attempt, Purpose.RIG), tight=klass is Klass.SEIZURE)
    chances = generator(seed, klass, attempt, Purpose.EVENT)
    event = draw_event(chances, klass)
    plan_rng = generator(seed, klass, attempt, Purpose.PLAN)
    plan = draw_plan(plan_rng, rig, klass, event.quiet_s)
    still_acts = nothing_done(plan.end_s + 1.0)
    load_rig(plan_rng, rig, plan, still_acts)
    contact_rng = generator(seed, klass, attempt, Purpose.CONTACT)
    diary = Diary(contact_rng, plan)
    if klass in (Klass.STICK_SLIP, Klass.SQUEAL):
        disturb_contact(contact_rng, rig, klass, diary, still_acts)
        disturb_motor(plan_rng, rig, klass, diary, still_acts)
    else:
        disturb_motor(plan_rng, rig, klass, diary, still_acts)
        disturb_contact(contact_rng, rig, klass, diary, still_acts)
    room_rng = generator(seed, klass, attempt, Purpose.ROOM)
    voice = draw_voice(room_rng)
    disturb_room(room_rng, voice, plan, still_acts)
    state = _beginning(plan_rng, rig, plan, still_acts)
    if event.quiet_s <= 0.0:
        course = turn(rig, still_acts, state)
        limits = _limits_degc(chances, course)
        return World(rig, plan, event, voice, still_acts, course, still_acts, course, limits, plan.end_s)
    acts = lay_over(chances, rig, event, plan.first_sign_s, still_acts)
    fork = int(plan.first_sign_s / SLOW_S)
    before, forked = turn_until(rig, still_acts, state, fork)
    still = turn(rig, still_acts, copy.deepcopy(forked), before, fork)
    course = turn(rig, acts, forked, before, fork)
    limits = _limits_degc(chances, still)
    world = World(rig, plan, event, voice, acts, course, still_acts, still, limits, plan.end_s)
    if klass is Klass.OVERHEAT:
        passed_s = passes_s(world, PIN_TEMPERATURE)
        world.end_s = min(plan.end_s, passed_s + chances.uniform(*_AFTER_LIMIT_S)) if passed_s > 0.0 else plan.end_s
    return world


def passes_s(world: World, channel: str) -> float:
    """Give when the true temperature of a thermocouple passes its limit, s; NaN if it does not."""
    degc = world.course.pin_degc if channel == PIN_TEMPERATURE else world.course.bath_degc
    above = np.flatnonzero(degc > world.limits_degc[channel])
    return float(above[0]) * SLOW_S if len(above) else NAN


def _limits_degc(rng: "np.random.Generator", healthy: Course) -> dict[str, float]:
    hottest = {PIN_TEMPERATURE: float(healthy.pin_degc.max()), BATH_TEMPERATURE: float(healthy.bath_degc.max())}
    return {name: 5.0 * math.ceil((degc + rng.uniform(15.0, 30.0)) / 5.0) for name, degc in hottest.items()}


def _beginning(rng: "np.random.Generator", rig: Rig, plan: Plan, acts: Acts) -> State:
    """Give the state at the beginning of the recording: cold, preheated, or in mid run."""
    warmth, rest_share = rig.warmth, rng.uniform(0.1, 0.85)
    slowly = wander(rng, len(acts.film) + round(_EARLIER_S / SLOW_S), rig.contact.wander_ratio)
    earlier = round(_EARLIER_S / SLOW_S)
    state = State(rig, slowly[:earlier], rest_share)
    degc = warmth.set_degc if warmth.heater_w > 0.0 and chance(rng, 0.75) else warmth.ambient_degc
    film, rough = (rng.uniform(0.3, 1.0), rng.uniform(0.0, 0.4)) if chance(rng, 0.25) else (0.0, 1.0)
    if plan.mid_run:
        load_n = plan.stages[0].load_n
        warm_k = 0.1 * load_n * rig.set_m_s / warmth.bath_w_k * rng.uniform(0.2, 1.0)
        degc = max(degc, min(warmth.ambient_degc + warm_k, 110.0))
        state.warm_through(degc, rng.uniform(0.2, 0.9), rng.uniform(0.0, 0.5))
        state.settle(load_n)
        before = nothing_done(_EARLIER_S)
        before.load_n[:] = load_n
        before.supply[:] = acts.supply[0]
        turn(rig, before, state)
        state.heat_j = 0.0
    else:
        state.warm_through(degc, film, rough)
    state.wander = slowly[earlier:]
    return state


def fine(at_s: float) -> int:
    """Give the fine step at a time."""
    return round(at_s / DT_S)


__all__ = ["SLOW", "World", "fine", "make_world", "passes_s"]
