"""Adds healthy nuisances at the contact, the lever, in the room and in the wiring. Reads `plan`, `rig`."""

import itertools
import math
from dataclasses import replace

import numpy as np
from world_b.values import Kind, Klass, Nuisance

from world_l.draws import chance, log_uniform
from world_l.plan import Act, Happening, Plan
from world_l.rig import Rig

KIND_OF = {
    Act.FILM: Kind.FILM_TRANSITION,
    Act.DEBRIS: Kind.DEBRIS,
    Act.BUMP: Kind.BUMP,
    Act.LEAN: Kind.BUMP,
    Act.STARVE: Kind.OIL_TOP_UP,
    Act.DROP: Kind.OIL_TOP_UP,
    Act.STICK_SLIP: Kind.STICK_SLIP,
    Act.SQUEAL: Kind.SQUEAL,
    Act.SLAM: Kind.DOOR_SLAM,
    Act.NEIGHBOUR: Kind.NEIGHBOUR,
    Act.VOICES: Kind.VOICES,
    Act.DIP: Kind.BRIEF_DIP,
}
"""The nearest kind of the closed set; what is missing here (wiping, foam, cover, gain) is not listed."""

PER_RECORDING = {
    Act.FILM: 0.35,
    Act.DEBRIS: 0.9,
    Act.BUMP: 0.5,
    Act.LEAN: 0.25,
    Act.WIPE: 0.2,
    Act.STARVE: 0.18,
    Act.FOAM: 0.15,
    Act.DROP: 0.2,
    Act.STICK_SLIP: 0.15,
    Act.SQUEAL: 0.25,
    Act.SLAM: 0.8,
    Act.NEIGHBOUR: 0.4,
    Act.VOICES: 0.6,
    Act.COVER: 0.2,
    Act.MIC: 0.08,
    Act.DIP: 0.25,
}
"""Mean count in a recording (assumed)."""

AT_THE_CONTACT = (Act.FILM, Act.DEBRIS, Act.WIPE, Act.STARVE, Act.FOAM, Act.DROP, Act.STICK_SLIP, Act.BUMP, Act.LEAN)
"""These end before anything goes wrong at the contact, so that the truth stays unambiguous."""

STAMP_KINDS = {
    Kind.SPIKES: 0.3,
    Kind.SHORT_DROPOUTS: 0.25,
    Kind.HOLES: 0.25,
    Kind.DUPLICATE_STAMPS: 0.12,
    Kind.BACKWARD_STAMPS: 0.08,
}


def add_acts(
    rng: np.random.Generator, klass: Klass, rig: Rig, plan: Plan, event_s: float, nuisances: list[Nuisance]
) -> Plan:
    """Draw the nuisances of a recording, and give the plan with every one of them noted."""
    found: list[Happening] = []
    for act, mean in PER_RECORDING.items():
        if act is Act.STICK_SLIP and rig.sliding_m_s > 1.0:
            continue  # the falling branch of friction over speed ends well below this (from memory)
        for _ in range(int(rng.poisson(mean))):
            found.extend(_draw_act(rng, act, plan, event_s))
    if klass in (Klass.STICK_SLIP, Klass.SQUEAL):
        found = [h for h in found if h.act not in (Act.STICK_SLIP, Act.SQUEAL)]
        found.extend(_episodes(rng, Act.STICK_SLIP if klass is Klass.STICK_SLIP else Act.SQUEAL, plan))
    found.sort(key=lambda h: h.t_s)
    for h in found:
        if h.act in KIND_OF:
            nuisances.append(Nuisance(KIND_OF[h.act], h.t_s, h.lasts_s))
    kinds = tuple(kind for kind, probability in STAMP_KINDS.items() if chance(rng, probability))
    return replace(plan, happenings=tuple(found), nuisances=tuple(nuisances), kinds_of_stamps=kinds)


def _draw_act(rng: np.random.Generator, act: Act, plan: Plan, event_s: float) -> list[Happening]:
    lasts_s, size = _draw_size(rng, act)
    end_s = plan.duration_s
    if act in AT_THE_CONTACT or act is Act.DIP:
        end_s = min(end_s, event_s - 15.0)
    begin_s = max(plan.switched[0][0] + 15.0, 0.0)
    if end_s - lasts_s <= begin_s:
        return []
    return [Happening(act, float(rng.uniform(begin_s, end_s - lasts_s)), lasts_s, size, int(rng.integers(2**31)))]


def _draw_size(rng: np.random.Generator, act: Act) -> tuple[float, float]:
    """Draw duration in s and size; relative to friction or supply, dB for sound."""
    sizes = {
        Act.FILM: (log_uniform(rng, 40.0, 400.0), rng.uniform(-0.3, 0.5)),
        Act.DEBRIS: (log_uniform(rng, 0.1, 2.0), log_uniform(rng, 0.1, 0.8)),
        Act.BUMP: (log_uniform(rng, 0.3, 2.5), log_uniform(rng, 0.05, 0.6)),
        Act.LEAN: (rng.uniform(3.0, 25.0), rng.uniform(-0.05, 0.05)),
        Act.WIPE: (rng.uniform(2.0, 9.0), rng.uniform(-0.25, 0.3)),
        Act.STARVE: (log_uniform(rng, 50.0, 250.0), rng.uniform(0.05, 0.4)),
        Act.FOAM: (rng.uniform(30.0, 150.0), rng.uniform(0.02, 0.2)),
        Act.DROP: (rng.uniform(8.0, 60.0), rng.uniform(-0.25, -0.05)),
        Act.STICK_SLIP: (rng.uniform(5.0, 60.0), rng.uniform(0.08, 0.4)),
        Act.SQUEAL: (rng.uniform(2.0, 60.0), rng.uniform(4.0, 20.0)),
        Act.SLAM: (log_uniform(rng, 0.1, 0.6), rng.uniform(8.0, 30.0)),
        Act.NEIGHBOUR: (log_uniform(rng, 15.0, 400.0), rng.uniform(4.0, 18.0)),
        Act.VOICES: (log_uniform(rng, 4.0, 90.0), rng.uniform(4.0, 16.0)),
        Act.COVER: (rng.uniform(10.0, 90.0), rng.uniform(2.0, 7.0)),
        Act.MIC: (math.inf, rng.uniform(-10.0, 10.0)),
        Act.DIP: (log_uniform(rng, 0.03, 0.4), rng.uniform(0.1, 0.6)),
    }
    lasts_s, size = sizes[act]
    return (1.0 if math.isinf(lasts_s) else lasts_s), size


def _episodes(rng: np.random.Generator, act: Act, plan: Plan) -> list[Happening]:
    """Give three to eight episodes of one act, or one that fills most of the recording."""
    begin_s = max(plan.switched[0][0] + 15.0, 5.0)
    if chance(rng, 0.3):
        spans = [(begin_s, plan.duration_s - begin_s - 5.0)]
    else:
        count = int(rng.integers(3, 9))
        edges = np.linspace(begin_s, plan.duration_s - 5.0, count + 1)
        spans = [(float(a), float((b - a) * rng.uniform(0.15, 0.9))) for a, b in itertools.pairwise(edges)]
    low, high = (0.1, 0.6) if act is Act.STICK_SLIP else (6.0, 30.0)
    return [Happening(act, t_s, max(s, 3.0), log_uniform(rng, low, high), int(rng.integers(2**31))) for t_s, s in spans]
