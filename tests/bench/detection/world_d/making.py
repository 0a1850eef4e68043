"""Makes a recording of this world.

Reads seed, class, rate and channels, gives the recording, and the noise-free world behind it.
"""

from dataclasses import dataclass
from math import inf, isinf

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    ChannelSet,
    Floats,
    Inside,
    Kind,
    Klass,
    Recording,
)

from .breaking import broken
from .chance import Chance
from .courses import Damaged, run, steps_a_row
from .drawing import draw_rig
from .facts import Limits, facts_of, limits_of
from .gauges import as_planned, converted, lagged, noisy, with_dropouts, with_spikes
from .hands import quiet_load_at
from .hearing import metered, with_room
from .mishaps import fault_of
from .patches import scuffed
from .plan import Plan
from .pulsing import read_rpm
from .rig import Gauge, Rig
from .stamping import kept_rows, spoiled, stamped
from .stories import cut, write_plan
from .unrest import remembered, slow_factor
from .verity import is_its_class, truth_of
from .warmth import STEP_S, Slow, Visits, film_and_heat

_ATTEMPTS = 60
_CHANNELS = (
    NORMAL_LOAD,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    SOUND_LEVEL,
    PIN_TEMPERATURE,
    BATH_TEMPERATURE,
    RING_SPEED,
)
_FULL_GROWN_RATIO = 0.65


@dataclass(frozen=True, slots=True)
class Prepared:
    """All that does not depend on the rate: rig, plan, limits, slow course, damage."""

    rig: Rig
    plan: Plan
    limits: Limits
    slow: Slow
    visits: Visits
    damaged: Damaged | None


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording with its truth.

    Args:
        seed: >= 0.
        klass: what happens.
        rate_hz: rows a second, 5 to 2000.
        channel_set: channels of the rig; None draws them.
    Returns:
        The same bits for the same arguments.
    """
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording, and the noise-free world behind it.

    Raises:
        ValueError: a rate out of range.
    """
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate {rate_hz} Hz is not within 5 to 2000 Hz")
    for attempt in range(_ATTEMPTS):
        chance = chance_of(seed, klass, attempt)
        prepared = prepare(chance, seed, klass, channel_set)
        if prepared is None:
            continue
        made, inside = _made(prepared, klass, rate_hz, chance.child(5))
        damaged = prepared.damaged
        if is_its_class(made.truth, klass, inf if damaged is None else damaged.plateau):
            return made, inside
    raise RuntimeError(f"no recording of {klass.value} from seed {seed} after {_ATTEMPTS} attempts")


def chance_of(seed: int, klass: Klass, attempt: int) -> Chance:
    """Give the stream of one attempt."""
    return Chance(seed, list(Klass).index(klass), attempt)


def decide(chance: Chance, seed: int, klass: Klass, channel_set: ChannelSet | None = None) -> tuple[Rig, Plan]:
    """Draw a rig and write what happens to it."""
    fault = fault_of(seed, klass, channel_set)
    rig = draw_rig(chance.child(1), klass, fault, channel_set)
    return rig, write_plan(chance.child(2), rig, klass, fault)


def prepare(chance: Chance, seed: int, klass: Klass, channel_set: ChannelSet | None = None) -> Prepared | None:
    """Decide everything but the noise; None where a heat trouble never reaches the limit."""
    rig, plan = decide(chance, seed, klass, channel_set)
    slow_s = STEP_S * np.arange(int(plan.duration_s / STEP_S) + 1, dtype=np.float64)
    load_n = quiet_load_at(plan, slow_s)
    turns = _turns(plan, slow_s)
    wander = slow_factor(plan, rig.film, slow_s, chance.child(3))
    visits = _visits(plan, chance.child(4))
    slow = film_and_heat(rig, load_n, turns, wander, None, visits)
    limits = limits_of(rig, slow, load_n, chance.child(6))
    if plan.heat is not None:
        slow = film_and_heat(rig, load_n, turns, wander, plan.heat, visits)
        hot = (slow.pin_degc > limits.pin_degc + 0.5) | (slow.bath_degc > limits.bath_degc + 0.5)
        if not hot.any():
            return None
        plan = cut(plan, float(slow_s[int(np.argmax(hot))]) + chance.child(7).between(20.0, 60.0))
    return Prepared(rig, plan, limits, slow, visits, _damaged(rig, plan, slow, load_n, chance.child(8)))


def _turns(plan: Plan, slow_s: Floats) -> Floats:
    """Give where the ring is meant to turn, (n,) 0 or 1."""
    turns = np.zeros(len(slow_s))
    for on_s, off_s in plan.switches:
        turns[(slow_s >= on_s) & (slow_s < off_s)] = 1.0
    return turns


def _visits(plan: Plan, chance: Chance) -> Visits:
    poured = {
        int(each.t_s / STEP_S): chance.between(0.03, 0.2) for each in plan.nuisances if each.kind is Kind.OIL_TOP_UP
    }
    return Visits(frozenset(int(night_s / STEP_S) + 1 for night_s, _ in plan.nights_s), poured)


def _damaged(rig: Rig, plan: Plan, slow: Slow, load_n: Floats, chance: Chance) -> Damaged | None:
    """Size the damage by the contact it comes to; a seizure by the drive it has to hold."""
    if plan.damage is None:
        return None
    at = int(plan.damage.onset_s / STEP_S)
    healthy = float(slow.ratio[at])
    plateau = plan.damage.plateau
    if isinf(plateau):
        holds_n = 1.6 * min(rig.drive.top_torque_nm, rig.drive.belt_nm) / rig.radius_m
        plateau = max(holds_n / (healthy * float(load_n[at])), 4.0)
    elif plateau > 3.0:
        plateau = min(plateau, max(_FULL_GROWN_RATIO / healthy, 3.6))
    return Damaged(scuffed(chance, plan.damage, plateau, plan.duration_s), plateau * healthy, plateau)


def _made(prepared: Prepared, klass: Klass, rate_hz: float, chance: Chance) -> tuple[Recording, Inside]:
    rig, plan = prepared.rig, prepared.plan
    inside = run(rig, plan, prepared.slow, prepared.visits, prepared.damaged, rate_hz, chance.child(1))
    rows_s = inside.t_s[:: steps_a_row(rate_hz)]
    gauges = {
        name: as_planned(gauge, name, plan, chance.child(2, _CHANNELS.index(name)))
        for name, gauge in rig.gauges.items()
    }
    shown = {
        name: _shown(rig, plan, inside, rows_s, name, gauge, chance.child(3, _CHANNELS.index(name)))
        for name, gauge in gauges.items()
    }
    truth = truth_of(rig, plan, klass, inside, prepared.limits, shown, rows_s)
    channels = {
        name: _read(plan, rows_s, name, gauges[name], read, chance.child(4, _CHANNELS.index(name)))
        for name, (_, read) in shown.items()
    }
    kept = kept_rows(plan, rows_s, chance.child(5))
    stamps_s = spoiled(plan, stamped(plan, rows_s), chance.child(6))
    facts = facts_of(rig, plan, prepared.limits, chance.child(7))
    return Recording(stamps_s[kept], {name: read[kept] for name, read in channels.items()}, facts, truth), inside


def _shown(
    rig: Rig, plan: Plan, inside: Inside, rows_s: Floats, name: str, gauge: Gauge, chance: Chance
) -> tuple[Floats, Floats]:
    """Give the course behind the sensor without noise, and the reading of a healthy sensor, both at the rows."""
    step_s = float(inside.t_s[1])
    every = round(float(rows_s[1]) / step_s)
    if name == SOUND_LEVEL:
        quiet, loud = _heard(rig, plan, inside, chance.child(0))
    elif name == RING_SPEED:
        speed = inside.motor_speed_rad_s if rig.pulses.on_motor else inside.ring_speed_rad_s
        quiet = loud = read_rpm(rig.pulses, gauge, speed, step_s)
    else:
        quiet = loud = lagged(getattr(inside, name), step_s, gauge.lag_s)
    read = noisy(gauge, rows_s, loud[::every], chance.child(1))
    low, high = gauge.rails
    return np.clip(quiet[::every], low, high), converted(gauge, read, float(rows_s[1]))


def _heard(rig: Rig, plan: Plan, inside: Inside, chance: Chance) -> tuple[Floats, Floats]:
    """Give the level on the meter, of the rig alone and with room and flutter."""
    step_s, sound = float(inside.t_s[1]), rig.sound
    turning = inside.ring_speed_rad_s / rig.set_speed_rad_s
    loud_db = with_room(rig, plan, inside.t_s, inside.sound_level_db, turning, chance.child(0))
    loud_db = loud_db + sound.flutter_db * remembered(chance.child(1), len(loud_db), step_s, 0.05)
    alone = metered(inside.sound_level_db, step_s, sound.meter_s)
    return alone + sound.offset_db, metered(loud_db, step_s, sound.meter_s) + sound.offset_db


def _read(plan: Plan, rows_s: Floats, name: str, gauge: Gauge, read: Floats, chance: Chance) -> Floats:
    """Add what wires and faults do to a reading."""
    kinds = {each.kind for each in plan.nuisances}
    step_s = float(rows_s[1])
    if Kind.SPIKES in kinds and (name == MOTOR_CURRENT or chance.yes(0.4)):
        low, high = gauge.rails
        read = np.clip(with_spikes(gauge, read, step_s, chance.child(1)), low, high)
    if Kind.SHORT_DROPOUTS in kinds and (name == MOTOR_CURRENT or chance.yes(0.5)):
        read = with_dropouts(read, step_s, chance.child(2))
    if plan.sensor is not None and plan.sensor.channel == name:
        read = broken(read, rows_s, gauge, plan.sensor, chance.child(3))
    return read
