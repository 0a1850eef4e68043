"""Whether a world keeps the promise of its class; one that does not is drawn again.

Reads the noise-free inside of a `World`, gives what is broken, or nothing.
"""

import numpy as np
from scipy.signal import lfilter
from world_b.values import NAN, PIN_TEMPERATURE, SCUFFINGS, Floats, Kind, Klass

from .drives import DT_S
from .events import onset_s
from .room import level_db
from .world import World, fine, passes_s

STANDS = 0.02
"""Part of the set speed below which a ring stands."""
_RISE = 1.6
_AUDIBLE_DB = 3.0
_BLOCK = fine(0.5)
_BACK = 60
_CONTACT_KINDS = {
    Klass.STICK_SLIP: Kind.STICK_SLIP,
    Klass.SQUEAL: Kind.SQUEAL,
}


def broken(world: World) -> str:
    """Give which promise a world breaks, in words; empty if it keeps them all."""
    klass = world.event.klass
    for name, kept in (
        ("the motor turns the healthy ring", _turns(world)),
        ("a healthy contact stays healthy", _stays_healthy(world)),
        ("the first sign is under load on a turning ring", world.event.quiet_s == 0.0 or _is_at_work(world)),
    ):
        if not kept:
            return name
    if klass in SCUFFINGS and not _scuffs(world):
        return "a scuffing raises the force and stays"
    if klass in (Klass.SEIZURE, Klass.JAM) and not world.plan.first_sign_s < stall_s(world) < world.end_s - 3.0:
        return "the motor stalls"
    if klass is Klass.OVERHEAT and not world.plan.first_sign_s + 3.0 < passes_s(world, PIN_TEMPERATURE) < world.end_s:
        return "the limit is passed"
    if klass is Klass.OVERHEAT and not _only_warms(world):
        return "what overheats does not scuff"
    if klass in _CONTACT_KINDS and not _is_heard(world, _CONTACT_KINDS[klass]):
        return "it is heard"
    if klass is Klass.STARTS_AND_STOPS and len(world.plan.off) < 2:
        return "there are stops"
    return ""


def stall_s(world: World) -> float:
    """Give when the ring, supplied, falls below `STANDS` of its set speed after the first sign, s; NaN if never."""
    begin = fine(min(world.plan.first_sign_s, world.end_s))
    stands = world.course.ring_rad_s[begin:] < STANDS * world.rig.set_rad_s
    supplied = world.acts.supply[begin:] > 0.0
    found = np.flatnonzero(stands & supplied)
    return (begin + int(found[0])) * DT_S if len(found) else NAN


def severe_s(world: World) -> float:
    """Give when the mean force of 50 ms first reaches three times that of the two seconds before the first sign, s."""
    begin, mean = fine(world.plan.first_sign_s), averaged(world.course.friction_n, 0.05)
    usual_n = float(world.course.friction_n[begin - fine(2.0) : begin].mean())
    found = np.flatnonzero(mean[begin : fine(world.end_s)] >= 3.0 * usual_n)
    return (begin + int(found[0])) * DT_S if len(found) else NAN


def averaged(values: Floats, length_s: float) -> Floats:
    """Give the mean of the last `length_s`, (n,) float64."""
    count = fine(length_s)
    return np.asarray(lfilter(np.full(count, 1.0 / count), [1.0], values))


def _turns(world: World) -> bool:
    """Check that under every stage the ring of the healthy course comes up to speed."""
    ready_s = 8.0 + 1.5 * world.rig.motor.ramp_s
    supplied = averaged((world.still_acts.supply > 0.0).astype(np.float64), ready_s) > 0.999
    speed = world.still.ring_rad_s[supplied] / world.rig.set_rad_s
    return bool(len(speed)) and float(speed.min()) > 0.55


def _stays_healthy(world: World) -> bool:
    """Check that under one load friction never stands far above what it was in the half minute before."""
    quiet = np.ones(len(world.still.friction_n), dtype=np.bool_)
    for nuisance in world.plan.nuisances:
        if nuisance.kind in (Kind.STICK_SLIP, Kind.DEBRIS):
            quiet[fine(nuisance.t_s) : fine(nuisance.t_s + nuisance.duration_s + 0.5)] = False
    turning = averaged(world.still.ring_rad_s, 4.0) > 0.6 * world.rig.set_rad_s
    for stage in world.plan.stages:
        part = slice(fine(stage.ready_s), fine(min(stage.end_s, world.plan.end_s) - 1.0))
        good = (quiet & turning & (world.still_acts.load_n > 0.5 * stage.load_n))[part]
        force_n = world.still.friction_n[part][good]
        blocks = force_n[: len(force_n) // _BLOCK * _BLOCK].reshape(-1, _BLOCK).mean(axis=1)
        for at in range(4, len(blocks)):
            if blocks[at] > _RISE * blocks[max(0, at - _BACK) : at].mean():
                return False
    return True


def _is_at_work(world: World) -> bool:
    first = world.plan.first_sign_s
    part = slice(fine(first - 3.0), fine(first))
    return (
        world.plan.stages[-1].ready_s < first - 3.0
        and float(world.course.ring_rad_s[part].min()) > 0.7 * world.rig.set_rad_s
        and float(world.course.normal_n[part].min()) > 0.5 * world.plan.stages[-1].load_n
    )


def _scuffs(world: World) -> bool:
    """Check that the force doubles within ten seconds, or rises 1.6 times and stays; a ring that stalls has done."""
    begin_s = onset_s(world.event, world.plan.first_sign_s)
    usual_n = float(world.course.friction_n[fine(world.plan.first_sign_s - 2.0) : fine(world.plan.first_sign_s)].mean())
    stop_s = stall_s(world)
    until_s = world.end_s if np.isnan(stop_s) else stop_s
    mean_n = averaged(world.course.friction_n, 0.3)[fine(begin_s) : fine(min(until_s, world.end_s))]
    soon = mean_n[: fine(10.0)]
    if not len(soon) or stop_s < begin_s:
        return False
    stays = float(mean_n[int(np.argmax(soon)) :].min()) if np.isnan(stop_s) else float(soon.max())
    return float(soon.max()) >= _RISE * usual_n and stays >= 0.9 * min(float(soon.max()), 2.0 * usual_n)


def _only_warms(world: World) -> bool:
    begin, end = fine(world.plan.first_sign_s), fine(world.end_s)
    usual_n = float(world.course.friction_n[begin - fine(2.0) : begin].mean())
    return float(averaged(world.course.friction_n, 0.5)[begin:end].max()) <= _RISE * usual_n


def _is_heard(world: World, kind: Kind) -> bool:
    bare = world.acts.copy()
    bare.clang_db[:], bare.tone_db[:] = 0.0, -60.0
    louder = level_db(world.rig, world.voice, world.acts, world.course)
    louder -= level_db(world.rig, world.voice, bare, world.course)
    spans = [one for one in world.plan.nuisances if one.kind is kind]
    return bool(spans) and all(
        float(np.median(louder[fine(one.t_s) : fine(one.t_s + one.duration_s)])) > _AUDIBLE_DB for one in spans
    )
