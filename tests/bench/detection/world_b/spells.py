"""Healthy things that come and go: film transitions, particles, stick-slip, squeal, topped-up oil, noises in the room.

Reads a story, gives a list of spells. Each is also written down as a nuisance.
"""

from dataclasses import dataclass

from .draws import Draw
from .events import Story
from .values import Kind, Klass, Nuisance


@dataclass(frozen=True, slots=True)
class Spell:
    """One passing thing.

    Attributes:
        kind: what.
        t_s, duration_s: when and how long, s.
        size: depth, log ratio, K, dB or ratio, by kind.
        hz: of stick-slip, Hz.
    """

    kind: Kind
    t_s: float
    duration_s: float
    size: float
    hz: float = 0.0

    @property
    def nuisance(self) -> Nuisance:
        """Give it as a nuisance."""
        return Nuisance(self.kind, self.t_s, self.duration_s)


def draw_spells(draw: Draw, story: Story) -> list[Spell]:
    """Give every spell of a recording, those of the contact only while the story is quiet.

    Args:
        draw: the stream that decides them.
        story: gives class, duration and the end of the quiet.
    Returns:
        Spells, unordered.
    """
    quiet_s = min(story.quiet_s, story.duration_s)
    spells = [*_contact_spells(draw, story, quiet_s), *_room_spells(draw, story.duration_s)]
    if story.klass is Klass.STICK_SLIP:
        spells += _runs(draw, story, quiet_s, Kind.STICK_SLIP)
    if story.klass is Klass.SQUEAL:
        spells += _runs(draw, story, quiet_s, Kind.SQUEAL)
    return spells


def _contact_spells(draw: Draw, story: Story, quiet_s: float) -> list[Spell]:
    spells = []
    for t_s in draw.times(0.8, 20.0, quiet_s - 40.0):
        length_s = min(draw.log_within(20.0, 600.0), quiet_s - t_s)
        spells.append(Spell(Kind.FILM_TRANSITION, t_s, length_s, draw.within(-0.35, 0.35)))
    for t_s in draw.times(1.5, 10.0, quiet_s - 2.0):
        spells.append(Spell(Kind.DEBRIS, t_s, draw.log_within(0.02, 0.25), draw.within(0.15, 0.6)))
    for t_s in draw.times(0.25, 30.0, quiet_s - 60.0):
        spells.append(Spell(Kind.OIL_TOP_UP, t_s, draw.log_within(15.0, 60.0), draw.within(0.03, 0.15)))
    if draw.chance(0.1):
        for t_s in draw.times(3.0, 10.0, quiet_s - 30.0):
            spells.append(_stick_slip(draw, t_s, min(draw.log_within(2.0, 40.0), quiet_s - t_s - 5.0)))
    if draw.chance(0.15):
        for t_s in draw.times(4.0, 10.0, quiet_s - 30.0):
            spells.append(_squeal(draw, t_s, min(draw.log_within(0.5, 60.0), quiet_s - t_s - 5.0)))
    if draw.chance(0.15):
        for t_s in draw.times(2.0, 15.0, quiet_s - 15.0):
            spells.append(Spell(Kind.BRIEF_DIP, t_s, draw.within(0.02, 0.12), 1.0))
    return spells


def _room_spells(draw: Draw, end_s: float) -> list[Spell]:
    spells = []
    for t_s in draw.times(draw.log_within(0.5, 12.0), 0.0, end_s):
        spells.append(Spell(Kind.DOOR_SLAM, t_s, draw.log_within(0.05, 0.4), draw.within(8.0, 35.0)))
    if draw.chance(0.4):
        level_db = draw.within(2.0, 16.0)
        for t_s in draw.times(draw.log_within(1.0, 10.0), 0.0, end_s):
            spells.append(Spell(Kind.NEIGHBOUR, t_s, draw.log_within(5.0, 900.0), level_db + draw.normal()))
    if draw.chance(0.4):
        for t_s in draw.times(6.0, 0.0, end_s):
            spells.append(Spell(Kind.VOICES, t_s, draw.log_within(2.0, 90.0), draw.within(3.0, 18.0)))
    return spells


def _runs(draw: Draw, story: Story, quiet_s: float, kind: Kind) -> list[Spell]:
    spells, end_s = [], quiet_s - 8.0
    t_s = min(max(story.script.running_since_s, 0.0) + draw.within(15.0, 60.0), 0.4 * quiet_s)
    make = _stick_slip if kind is Kind.STICK_SLIP else _squeal
    typical_hz, typical_size = draw.log_within(0.4, 30.0), draw.within(0.7, 1.4)
    while t_s < end_s - 5.0:
        length_s = min(draw.log_within(4.0, 400.0), end_s - t_s)
        spell = make(draw, t_s, length_s)
        hz = typical_hz * draw.within(0.8, 1.25) if kind is Kind.STICK_SLIP else 0.0
        spells.append(Spell(kind, t_s, length_s, spell.size * typical_size, hz))
        t_s += length_s / max(story.spell_share, 0.1) * draw.within(0.9, 1.3)
    return spells


def _stick_slip(draw: Draw, t_s: float, length_s: float) -> Spell:
    return Spell(Kind.STICK_SLIP, t_s, max(length_s, 1.0), draw.within(0.08, 0.6), draw.log_within(0.5, 25.0))


def _squeal(draw: Draw, t_s: float, length_s: float) -> Spell:
    return Spell(Kind.SQUEAL, t_s, max(length_s, 0.5), draw.within(6.0, 26.0))
