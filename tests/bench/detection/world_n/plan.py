"""Draws the whole plan of a recording: course, event, broken sensor, nuisances, oddities.

Reads seed, class and rig, gives a frozen `Scene`. Nothing here depends on the rate.
"""

from world_b.values import Klass

from world_n.course import draw_course
from world_n.draft import Draft
from world_n.draws import Rng, between, stream
from world_n.events import draw_broken
from world_n.nuisances import put_nuisances
from world_n.oddities import put_oddities
from world_n.scene import Rig, Scene

BEFORE_DAMAGE_S = 15.0
BEFORE_END_S = 90.0
TRIES = 200


def _fault_s(rng: Rng, draft: Draft) -> float:
    """Give when a sensor goes wrong: well before any damage or the end, with the motor running."""
    last_s = draft.quiet_s - (BEFORE_END_S if draft.event is None else BEFORE_DAMAGE_S)
    low_s = draft.ready_s + 0.3 * (last_s - draft.ready_s)
    for _ in range(TRIES):
        t_s = between(rng, low_s, last_s)
        if draft.is_free(t_s - 5.0, t_s + 15.0):
            break
    return t_s


def draw_scene(seed: int, klass: Klass, rig: Rig) -> Scene:
    """Give the whole plan of a recording, the same at any rate."""
    draft = draw_course(stream(seed, klass, "course"), klass, rig)
    broken = None
    if klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        rng = stream(seed, klass, "fault")
        t_s = _fault_s(rng, draft)
        draft.take(t_s - 8.0, t_s + 15.0)
        broken = draw_broken(rng, klass, rig, t_s)
    put_nuisances(stream(seed, klass, "nuisances"), klass, draft, rig)
    put_oddities(stream(seed, klass, "oddities"), draft, rig)
    return Scene(
        seed=seed,
        klass=klass,
        rig=rig,
        duration_s=draft.duration_s,
        steps=tuple(draft.steps),
        runs=tuple(draft.runs),
        event=draft.event,
        broken=broken,
        marks=tuple(sorted(draft.marks, key=lambda m: m.t_s)),
        night_s=draft.night_s,
        night_length_s=draft.night_length_s,
    )
