"""What healthy rigs do and what goes on around them.

Reads a rig and a plan, adds nuisances between two times.
"""

from dataclasses import dataclass

from world_b.values import Kind

from .dice import Dice
from .plan import FilmChange, Noise, Plan, Rise, Sag, Spell
from .rig import Rig


@dataclass(frozen=True, slots=True)
class Busy:
    """Events an hour of one workshop."""

    doors: float
    neighbours: float
    voices: float
    sags: float
    debris: float
    bubbles: float
    films: float
    squeaks: float


def draw_busy(dice: Dice) -> Busy:
    """Give a workshop, from a quiet room to a shop floor."""
    scale = dice.even_log(0.15, 2.5)
    return Busy(8.0 * scale, 2.5 * scale, 4.0 * scale, 0.7 * scale, *(dice.even_log(0.1, 8.0) for _ in range(4)))


def surround(dice: Dice, rig: Rig, plan: Plan, begin_s: float, end_s: float) -> None:
    """Let surroundings and contact be as they are, between the two times."""
    busy = draw_busy(dice)
    _hear(dice, plan, busy, begin_s, end_s)
    for t_s in dice.times_s(begin_s, end_s, busy.sags):
        sag = Sag(t_s, dice.even_log(0.04, 1.5), dice.flat(0.6, 0.95))
        plan.sags.append(sag)
        plan.note(Kind.BRIEF_DIP, t_s, sag.duration_s)
    for t_s in dice.times_s(begin_s, end_s, busy.debris):
        rise = Rise(t_s, dice.even_log(0.05, 1.2), dice.even_log(0.03, 0.45), 0.02, dice.even_log(0.03, 0.4))
        plan.rises.append(rise)
        plan.note(Kind.DEBRIS, t_s, rise.length_s)
    for t_s in dice.times_s(begin_s, end_s, busy.bubbles):
        hold_s = dice.even_log(1.0, 12.0)
        plan.films.append(FilmChange(t_s, dice.flat(0.3, 1.5), dice.flat(0.6, 0.95), hold_s))
    for t_s in dice.times_s(begin_s, end_s, 0.5 * busy.films):
        change = FilmChange(t_s, dice.even_log(20.0, 600.0), dice.one_of((dice.flat(0.55, 0.85), dice.flat(1.15, 1.9))))
        plan.films.append(change)
        plan.note(Kind.FILM_TRANSITION, t_s, change.over_s)
    for t_s in dice.times_s(begin_s, end_s, busy.squeaks):
        length_s = dice.even_log(0.2, 3.0)
        squeak(dice, plan, t_s, length_s, dice.flat(3.0, 15.0))
        if rig.drive.belt_share < float("inf") and dice.chance(0.6):
            plan.creeps.append(Rise(t_s, length_s, dice.even_log(0.005, 0.06), 0.05, 0.1))
    if dice.chance(0.15):
        _pump(dice, plan, begin_s, end_s)
    if dice.chance(0.04):
        slip(dice, plan, dice.flat(begin_s, end_s), dice.flat(3.0, 40.0))
    if end_s - begin_s > 600.0 and dice.chance(0.35):
        t_s = dice.flat(begin_s + 100.0, end_s)
        plan.top_ups.append((t_s, dice.flat(0.5, 6.0)))
        plan.films.append(FilmChange(t_s, 2.0, dice.flat(1.0, 1.25)))
        plan.note(Kind.OIL_TOP_UP, t_s)


def _hear(dice: Dice, plan: Plan, busy: Busy, begin_s: float, end_s: float) -> None:
    for t_s in dice.times_s(begin_s, end_s, busy.doors):
        plan.noises.append(Noise(Kind.DOOR_SLAM, t_s, dice.flat(0.03, 0.25), dice.flat(10.0, 40.0), 0.005))
        plan.note(Kind.DOOR_SLAM, t_s)
    if dice.chance(0.2):
        _compressor(dice, plan, begin_s, end_s)
    for t_s in dice.times_s(begin_s, end_s, busy.neighbours):
        length_s = dice.even_log(5.0, 300.0)
        plan.noises.append(Noise(Kind.NEIGHBOUR, t_s, length_s, dice.flat(0.0, 18.0), dice.even_log(0.1, 3.0)))
        plan.note(Kind.NEIGHBOUR, t_s, length_s)
        if dice.chance(0.3):
            plan.sags.append(Sag(t_s, dice.flat(0.2, 1.5), dice.flat(0.8, 0.96)))
            plan.note(Kind.BRIEF_DIP, t_s, plan.sags[-1].duration_s)
    for t_s in dice.times_s(begin_s, end_s, busy.voices):
        length_s = dice.even_log(3.0, 60.0)
        spoken_s = t_s
        while spoken_s < t_s + length_s:
            word_s = dice.flat(0.3, 1.5)
            plan.noises.append(Noise(Kind.VOICES, spoken_s, word_s, dice.flat(2.0, 14.0), 0.08))
            spoken_s += word_s + dice.even_log(0.2, 4.0)
        plan.note(Kind.VOICES, t_s, length_s)


def _compressor(dice: Dice, plan: Plan, begin_s: float, end_s: float) -> None:
    """Let a compressor come and go by its pressure switch."""
    t_s, rest_s, run_s, above_db = begin_s, dice.flat(40.0, 400.0), dice.flat(10.0, 90.0), dice.flat(2.0, 14.0)
    t_s += dice.flat(0.0, rest_s)
    while t_s < end_s:
        length_s = run_s * dice.flat(0.8, 1.2)
        plan.noises.append(Noise(Kind.NEIGHBOUR, t_s, length_s, above_db, 0.6))
        plan.note(Kind.NEIGHBOUR, t_s, length_s)
        if dice.chance(0.5):
            plan.sags.append(Sag(t_s, 0.4, dice.flat(0.93, 0.98)))
            plan.note(Kind.BRIEF_DIP, t_s, 0.4)
        t_s += length_s + rest_s * dice.flat(0.8, 1.2)


def _pump(dice: Dice, plan: Plan, begin_s: float, end_s: float) -> None:
    """Let an oil pump or a fan by the bath switch on and off: heard, and felt a little in the film."""
    t_s, above_db, factor = begin_s + dice.flat(5.0, 120.0), dice.flat(1.0, 10.0), dice.flat(0.92, 1.12)
    while t_s < end_s:
        run_s = dice.even_log(20.0, 200.0)
        plan.noises.append(Noise(Kind.NEIGHBOUR, t_s, run_s, above_db, 0.3))
        plan.note(Kind.NEIGHBOUR, t_s, run_s)
        plan.films.append(FilmChange(t_s, 1.5, factor, run_s))
        t_s += run_s + dice.even_log(20.0, 200.0)


def squeak(dice: Dice, plan: Plan, t_s: float, length_s: float, above_db: float) -> None:
    """Let belt, seal or contact squeak: sound and nothing else."""
    plan.squeals.append(Noise(Kind.SQUEAL, t_s, length_s, above_db, dice.even_log(0.02, 0.5)))
    plan.note(Kind.SQUEAL, t_s, length_s)


def slip(dice: Dice, plan: Plan, t_s: float, length_s: float) -> None:
    """Let the pin holder stick and slip for a while."""
    length_s = min(length_s, plan.length_s - t_s)
    plan.spells.append(Spell(t_s, length_s, dice.even_log(0.3, 1.0)))
    plan.note(Kind.STICK_SLIP, t_s, length_s)
