"""Sound level at the microphone: room, motor, friction, and everything that makes a noise.

Reads what the rig does, gives dB before and after the meter. Exponential weighting of 125 ms or 1 s: IEC 61672-1:2013.
"""

from dataclasses import dataclass

import numpy as np

from .contact import growth
from .draws import Draw, lag, slow_unrest, unrest
from .events import Story
from .rigs import Rig
from .spells import Spell
from .turning import Turning
from .values import Flags, Floats, Kind


@dataclass(frozen=True, slots=True)
class Heard:
    """What makes sound besides the room: (n,) rate of stick-slip slips 0 to 1, and dB of squeal."""

    stick_slip: Floats
    spells: list[Spell]


def sound_power(draw: Draw, story: Story, t_s: Floats, turning: Turning, heard: Heard) -> Floats:
    """Give sound power at the microphone, relative to 0 dB, before the meter; (n,)."""
    rig, room = story.rig, story.rig.room
    part = turning.motor_rad_s / rig.drive.set_rad_s
    power = _power(room.ambient_db + 1.0 * slow_unrest(draw, t_s, 40.0))
    power += 10.0 ** (0.1 * room.motor_db) * part**3
    power += _friction_power(rig, story, t_s, turning, heard)
    for spell in heard.spells:
        _add_spell(power, draw, story, t_s, (spell, part > 0.3))
    _add_clanks(power, draw, story, t_s)
    return power


def _power(level_db: Floats) -> Floats:
    return np.asarray(np.exp(level_db * (np.log(10.0) / 10.0)))


def _friction_power(rig: Rig, story: Story, t_s: Floats, turning: Turning, heard: Heard) -> Floats:
    top_w = rig.top_mu * rig.top_load_n * rig.speed_m_s
    done_w = turning.friction_n * turning.ring_rad_s * rig.ring_radius_m
    power: Floats = 10.0 ** (0.1 * rig.room.friction_db) * np.maximum(done_w / top_w, 0.0) ** rig.room.friction_power
    power *= 1.0 + 8.0 * heard.stick_slip
    if story.scuff is not None:
        first = int(np.searchsorted(t_s, story.scuff.onset_s))
        power[first:] *= _power(rig.room.scuff_db * growth(story.scuff, t_s[first:]))
    return power


def _add_spell(power: Floats, draw: Draw, story: Story, t_s: Floats, given: tuple[Spell, Flags]) -> None:
    spell, turning = given
    first, last = np.searchsorted(t_s, (spell.t_s, spell.t_s + max(spell.duration_s, 0.3) * 1.05 + 1.0))
    since_s, room = t_s[first:last] - spell.t_s, story.rig.room
    if spell.kind is Kind.DOOR_SLAM:
        power[first:last] += 10.0 ** (0.1 * (room.ambient_db + spell.size)) * np.exp(-since_s / spell.duration_s)
        return
    if spell.kind not in (Kind.NEIGHBOUR, Kind.VOICES, Kind.SQUEAL):
        return
    left_s = spell.duration_s - since_s
    edge = np.clip(np.minimum(since_s, left_s) / (0.1 if spell.kind is Kind.SQUEAL else 0.8), 0.0, 1.0)
    base_db = max(room.motor_db, room.ambient_db) if spell.kind is Kind.SQUEAL else room.ambient_db
    level_db = np.full_like(since_s, base_db + spell.size)
    if spell.kind is Kind.VOICES and len(since_s):
        level_db += 5.0 * slow_unrest(draw, since_s - since_s[0], 0.4)[: len(since_s)]
    if spell.kind is Kind.SQUEAL and len(since_s):
        level_db += 2.5 * slow_unrest(draw, since_s - since_s[0], 0.5)[: len(since_s)]
        edge *= turning[first:last]
    power[first:last] += edge * 10.0 ** (0.1 * level_db)


def _add_clanks(power: Floats, draw: Draw, story: Story, t_s: Floats) -> None:
    clanks = [(move.t_s + move.hand_s, draw.within(2.0, 22.0)) for move in story.script.moves]
    clanks += [(t, draw.within(0.0, 18.0)) for t, _ in story.script.switches]
    if story.jam is not None:
        clanks.append((story.jam.t_s, story.jam.knock_db))
    for at_s, size_db in clanks:
        first, last = np.searchsorted(t_s, (at_s, at_s + 1.0))
        since_s = t_s[first:last] - at_s
        power[first:last] += 10.0 ** (0.1 * (story.rig.room.ambient_db + size_db)) * np.exp(-since_s / 0.08)


def meter(draw: Draw, rig: Rig, power: Floats, rate_hz: float) -> Floats:
    """Give the reading of the sound level meter, (n,) dB, refreshed as often as it is."""
    room = rig.room
    flutter = np.exp(room.unrest_db * 0.2303 * unrest(draw, len(power), 0.03, rate_hz))
    level_db = 10.0 * np.log10(lag(power * flutter, room.weighting_s, rate_hz)) + room.offset_db
    return np.round(hold(level_db, room.refresh_s, rate_hz), 1)


def hold(x: Floats, refresh_s: float, rate_hz: float) -> Floats:
    """Give x as a slow converter shows it: sampled every refresh_s and held; x itself if that is below a sample."""
    every = round(refresh_s * rate_hz)
    if every <= 1:
        return x
    return np.repeat(x[::every], every)[: len(x)]


def slips(turning_on: Flags, spans: list[tuple[slice, Floats]], n: int) -> Floats:
    """Give how loud stick-slip is, 0 to 1, (n,): where friction falls quickly."""
    loud = np.zeros(n)
    for span, wave in spans:
        fall = np.maximum(-np.diff(wave, prepend=wave[:1]), 0.0)
        most = float(fall.max(initial=0.0))
        loud[span] = fall / most if most > 0.0 else 0.0
    return np.where(turning_on, loud, 0.0)
