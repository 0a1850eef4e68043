"""Whether a world keeps what its class promises; one that does not is drawn again.

Reads a `World` and its class; nothing that an instrument or a rate changes.
"""

from math import isnan

import numpy as np
from world_b.values import BATH_TEMPERATURE, PIN_TEMPERATURE, SCUFFINGS, Floats, Kind, Klass

from .chance import STEP_S, mean_over
from .moments import moments_of
from .sound import machine
from .world import World

MOST_MU = 0.24
"""Of a healthy contact, mean of 1 s."""
MOST_RISE = 1.9
"""Of the healthy friction coefficient over its median so far, mean of 1 s, under half the greatest load or more."""
_SQUEAL_DB = 6.0
_UNDER_LIMIT_K = 3.0


def keeps_promise(world: World, klass: Klass) -> bool:
    """Say whether the world is what its class says."""
    if not _is_healthy(world) or not _starts(world):
        return False
    moments = moments_of(world)
    if klass in SCUFFINGS:
        return _doubles(world)
    if klass is Klass.SEIZURE:
        return _doubles(world) and not isnan(moments.stall_s)
    if klass is Klass.JAM:
        return moments.stall_s - moments.jam_s < 2.0
    if klass is Klass.OVERHEAT:
        return not isnan(moments.overheat_s) and moments.overheat_s < world.plan.duration_s - 15.0
    if klass is Klass.SQUEAL:
        return bool(world.plan.of(Kind.SQUEAL)) and _is_heard(world)
    if klass is Klass.STICK_SLIP:
        return bool(world.plan.of(Kind.STICK_SLIP))
    return True


def _until_s(world: World) -> float:
    plan = world.plan
    return min(plan.touched_until_s(), plan.duration_s)


def healthy_mu(world: World) -> tuple[Floats, Floats]:
    """Give the friction coefficient, mean of 1 s, and its load, N, where the ring has run loaded and well for 1 s."""
    turned, rig = world.turned, world.rig
    load, force = mean_over(turned.load_n, 1.0), mean_over(turned.friction_n, 1.0)
    ready = (load > 0.05 * rig.most_load_n) & (turned.ring_rad_s > 0.5 * rig.motor.set_rad_s)
    ready &= mean_over(world.courses.supply, 1.0) > 0.8
    ready &= world.t_s < _until_s(world)
    return force[ready] / load[ready], load[ready]


def _is_healthy(world: World) -> bool:
    mu, _ = healthy_mu(world)
    if len(mu) < 20.0 / STEP_S or mu.max() > MOST_MU or mu.max() > MOST_RISE * np.median(mu):
        return False
    until = world.t_s < (_until_s(world) if world.plan.overheat is None else world.plan.overheat.t_s)
    courses = {PIN_TEMPERATURE: world.pin_degc, BATH_TEMPERATURE: world.bath_degc}
    limits = world.rig.limits
    return all(
        course[until].max() < limits[name] - _UNDER_LIMIT_K for name, course in courses.items() if name in limits
    )


def _starts(world: World) -> bool:
    """Say whether the motor comes up whenever it is left on for 10 s, and stays up."""
    until_s, ring = _until_s(world), world.turned.ring_rad_s / world.rig.motor.set_rad_s
    switches = world.plan.switches
    for switch, following in zip(switches, [*(each.t_s for each in switches[1:]), until_s], strict=True):
        up_s = max(switch.t_s, 0.0) + 8.0
        if switch.on and following > up_s:
            part = ring[round(up_s / STEP_S) : round(min(following, until_s) / STEP_S)]
            if len(part) and part.min() < 0.6:
                return False
    return True


def _doubles(world: World) -> bool:
    """Say whether the force doubles within 10 s of the onset."""
    scuffing = world.plan.scuffing
    assert scuffing is not None
    force = mean_over(world.turned.friction_n, 0.05)
    before = world.turned.friction_n[(world.t_s > scuffing.sign_s - 2.0) & (world.t_s < scuffing.sign_s)].mean()
    after = force[(world.t_s > scuffing.onset_s) & (world.t_s < scuffing.onset_s + 10.0)]
    return bool(after.max() > 2.1 * before) and before > 0.01 * world.rig.most_load_n


def _is_heard(world: World) -> bool:
    """Say whether squeal lifts the sound of shop and rig by 6 dB in every bout."""
    quiet = machine(world.rig, world.plan, world.turned, world.harm.share, world.t_s, world.texture, squeals=False)
    lift_db = 10.0 * np.log10((world.machine_power + world.ambient_power) / (quiet + world.ambient_power))
    bouts = [
        lift_db[round(bout.t_s / STEP_S) : round((bout.t_s + bout.duration_s) / STEP_S)]
        for bout in world.plan.of(Kind.SQUEAL)
    ]
    return all(float(np.percentile(bout, 80)) > _SQUEAL_DB for bout in bouts)
