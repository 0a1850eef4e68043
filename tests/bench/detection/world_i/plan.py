"""What the operator does and what is to happen, on the world's own clock in s.

Reads the draws and the rig; gives a `Plan` of moves of the lever, turns of the switch, happenings and one event.
"""

from dataclasses import dataclass

from world_b.values import SCUFFINGS, Kind, Klass, Nuisance

from .draws import Rng, chance, uniform
from .events import Event, draw_event
from .rig import Rig
from .script import Happening, Move, Script

TOUCHED_BEFORE_S = 3.0
"""Nobody touches lever, motor or clock from so long before the first sign of an event until its end."""

FASTEST_STICK_SLIP_M_S = 0.6
"""Stick-slip is a matter of slow sliding, where friction falls with speed."""


@dataclass(frozen=True, slots=True)
class Plan:
    """All that is to happen in one recording."""

    duration_s: float
    moves: tuple[Move, ...]
    bumps: tuple[tuple[float, float], ...]
    switches: tuple[tuple[float, bool], ...]
    happenings: tuple[Happening, ...]
    loads_n: tuple[float, ...]
    event: Event
    fault_s: float
    day_gap_s: float
    day_gap_length_s: float

    @property
    def nuisances(self) -> tuple[Nuisance, ...]:
        """Give every healthy thing in order of time."""
        found = [Nuisance(h.kind, h.t_s, h.duration_s) for h in self.happenings]
        return tuple(sorted(found, key=lambda n: n.t_s))


PAUSES = (Kind.PAUSE, Kind.RESTART_BEFORE_REST, Kind.INCHING)
LEVER_WAYS = (Kind.HARD_SET_DOWN, Kind.SET_DOWN_TWICE, Kind.TAKEN_OFF_AGAIN, Kind.LIFTED)
CONTACT_WAYS = (Kind.FILM_TRANSITION, Kind.DEBRIS, Kind.STICK_SLIP, Kind.SQUEAL)
SOUND_WAYS = (Kind.DOOR_SLAM, Kind.NEIGHBOUR, Kind.VOICES)
RECORD_WAYS = (
    Kind.SPIKES,
    Kind.SHORT_DROPOUTS,
    Kind.HOLES,
    Kind.DUPLICATE_STAMPS,
    Kind.BACKWARD_STAMPS,
    Kind.MAINS_HUM,
    Kind.COARSE_TEMPERATURE,
)
DEAF_TO_TIME = (Kind.SPIKES, Kind.SHORT_DROPOUTS, Kind.MAINS_HUM, Kind.COARSE_TEMPERATURE)
"""Kinds that last the whole recording."""


def _pick(rng: Rng, kinds: tuple[Kind, ...]) -> Kind:
    return kinds[int(rng.integers(len(kinds)))]


def _stage_action(rng: Rng, klass: Klass, heat_can_rest: bool) -> Kind | None:
    if klass is Klass.STARTS_AND_STOPS:
        return _pick(rng, PAUSES)
    if not chance(rng, 0.22):
        return None
    common = (Kind.BUMP, Kind.PAUSE, Kind.RESTART_BEFORE_REST, Kind.OIL_TOP_UP, Kind.BRIEF_DIP, Kind.INCHING)
    return Kind.DAY_BETWEEN if klass is Klass.STAIRCASE and heat_can_rest and chance(rng, 0.12) else _pick(rng, common)


def _contact_happening(rng: Rng, script: Script, klass: Klass, start_s: float, end_s: float) -> None:
    room_s = end_s - start_s
    named = {Klass.STICK_SLIP: Kind.STICK_SLIP, Klass.SQUEAL: Kind.SQUEAL}.get(klass)
    if named is None and not chance(rng, 0.15):
        return
    kind = named if named and chance(rng, 0.8) else _pick(rng, CONTACT_WAYS)
    if kind is Kind.STICK_SLIP and script.rig.slide_m_s > FASTEST_STICK_SLIP_M_S:
        kind = Kind.DEBRIS
    longest_s = {Kind.DEBRIS: 1.2, Kind.FILM_TRANSITION: 240.0}.get(kind, 60.0 if named else 20.0)
    duration_s = min(uniform(rng, 0.2, 1.0) * longest_s, 0.8 * room_s)
    if kind is Kind.FILM_TRANSITION and duration_s < 30.0:
        return
    size = uniform(rng, -1.0, 1.0) if kind is Kind.FILM_TRANSITION else uniform(rng, 0.3, 1.0)
    script.happen(kind, start_s + uniform(rng, 0.0, 1.0) * (room_s - duration_s), duration_s, size)


def _records(rng: Rng, script: Script, length_s: float, event: Event) -> None:
    for kind in SOUND_WAYS:
        while chance(rng, 0.35):
            duration_s = {Kind.DOOR_SLAM: 0.4, Kind.VOICES: uniform(rng, 3.0, 40.0)}.get(
                kind, uniform(rng, 20.0, 150.0)
            )
            duration_s = min(duration_s, 0.4 * length_s)
            script.happen(kind, uniform(rng, 0.0, length_s - duration_s), duration_s, uniform(rng, 0.2, 1.0))
    for kind in RECORD_WAYS:
        if not chance(rng, 0.13):
            continue
        t_s = 0.0 if kind in DEAF_TO_TIME else uniform(rng, 0.05, 0.95) * length_s
        near = event.sign_s - TOUCHED_BEFORE_S - 1.0 < t_s < event.end_s + 1.0
        if kind in DEAF_TO_TIME or not near:
            script.happen(kind, t_s, length_s if kind in DEAF_TO_TIME else 0.0, uniform(rng, 0.2, 1.0))


def _stages(rng: Rng, klass: Klass, eventful: bool) -> tuple[int, int, float]:
    """Give the number of weights of the rig's set, how many of them are set, and the dwell at each in s."""
    length_s = uniform(rng, 370.0, 860.0)
    whole = int(rng.integers(1, 13))
    if klass is Klass.ENDURANCE:
        return 1, 1, uniform(rng, 2420.0, 3400.0)
    if eventful:
        whole = min(whole, 8)
        used = int(rng.integers((whole + 1) // 2, whole + 1))
        return whole, used, max(uniform(rng, 0.35, 0.6) * length_s, 290.0) / used
    return whole, whole, max(length_s / (whole + 0.5), 26.0)


def _set_weights(rng: Rng, script: Script, rig: Rig, klass: Klass, eventful: bool) -> None:
    whole, used, dwell_s = _stages(rng, klass, eventful)
    hand = uniform(rng, 0.0, 1.0)
    for stage in range(1, used + 1):
        load_n = rig.top_load_n * stage / whole
        way = _pick(rng, LEVER_WAYS) if chance(rng, 0.12 + 0.25 * hand) else None
        script.set_load(rng, way, load_n, uniform(rng, 0.2, 1.0) * (0.4 + hand))
        start_s = script.t_s + uniform(rng, 9.0, 14.0)
        script.wait(dwell_s * uniform(rng, 0.85, 1.15))
        is_last_of_event = eventful and stage == used
        action = None if is_last_of_event else _stage_action(rng, klass, stage > 1)
        if klass is Klass.ENDURANCE:
            for _ in range(int(rng.integers(0, 5))):
                _contact_happening(rng, script, klass, start_s, script.t_s)
            action = _pick(rng, (Kind.OIL_TOP_UP, Kind.BUMP)) if chance(rng, 0.5) else None
        else:
            _contact_happening(rng, script, klass, start_s, script.t_s)
        if action is not None:
            script.act(rng, action)
            script.wait(uniform(rng, 9.0, 20.0))


def draw_plan(rng: Rng, rig: Rig, klass: Klass) -> Plan:
    """Draw all that is to happen: again, until it takes 6 to 15 min, or 40 to 60 min for an endurance run."""
    least_s, most_s = (2400.0, 3600.0) if klass is Klass.ENDURANCE else (360.0, 900.0)
    while True:
        plan = _draw_once(rng, rig, klass)
        if least_s <= plan.duration_s <= most_s:
            return plan


def _draw_once(rng: Rng, rig: Rig, klass: Klass) -> Plan:
    timed = (Klass.SEIZURE, Klass.JAM, Klass.OVERHEAT, Klass.SUPPLY_LOST)
    eventful = klass in (*SCUFFINGS, *timed)
    script = Script(rig)
    script.begin(rng)
    _set_weights(rng, script, rig, klass, eventful)
    event = Event()
    if eventful:
        script.wait(uniform(rng, 12.0, 40.0) + TOUCHED_BEFORE_S)
        event = draw_event(rng, klass, script.t_s, rig)
        script.t_s = event.end_s
        if chance(rng, 0.4):
            script.wait(2.0)
            script.switch(False)
            script.wait(uniform(rng, 5.0, 15.0))
    elif chance(rng, 0.5):
        script.finish(rng)
    length_s = script.t_s
    _records(rng, script, length_s, event)
    return Plan(
        length_s,
        tuple(script.moves),
        tuple(script.bumps),
        tuple(script.switches),
        tuple(script.happenings),
        tuple(script.loads_n),
        event,
        uniform(rng, 0.35, 0.9) * (event.sign_s if eventful else length_s),
        script.day_gap_s,
        uniform(rng, 14.0, 60.0) * 3600.0,
    )
