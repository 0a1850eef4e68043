"""Whether a world is what its class promises; where it is not, it is drawn again."""

import math

import numpy as np
from world_b.values import BATH_TEMPERATURE, FRICTION_FORCE, PIN_TEMPERATURE, Flags, Kind, Klass

from .courses import Courses
from .plan import Plan
from .rig import Rig
from .sound import Shop, metered_db, sound_db
from .truth import Moments, trailing
from .turning import Turned

HEALTHY_MU = 0.22
"""Nothing healthy stays above it for a second."""
_MOST_RISE = 2.0
_DOUBLED = 2.0


def is_kept(
    rig: Rig, klass: Klass, plan: Plan, courses: Courses, turned: Turned, moments: Moments, limits: dict[str, float]
) -> bool:
    """Say whether the world keeps its promise."""
    if not _turns_and_stays_well(rig, plan, turned, limits):
        return False
    if plan.harm is not None and not _doubles(plan, turned):
        return False
    if klass in (Klass.SEIZURE, Klass.JAM):
        begin_s = plan.harm.onset_s if plan.harm else plan.first_s
        return moments.stall_s - begin_s < (18.0 if plan.harm else 5.0)
    kinds = {nuisance.kind for nuisance in plan.nuisances}
    wanted = {Klass.STICK_SLIP: Kind.STICK_SLIP, Klass.SQUEAL: Kind.SQUEAL}.get(klass)
    return wanted is None or wanted in kinds


def squeals(rig: Rig, plan: Plan, courses: Courses, turned: Turned, shop: Shop) -> bool:
    """Say whether every bout of squeal is heard: 6 dB over what was before."""
    heard = metered_db(sound_db(rig, shop, courses, turned), rig.sensing.meter_s)
    t_s = turned.t_s
    for bout in plan.nuisances:
        if bout.kind is Kind.SQUEAL:
            before = np.median(heard[(t_s > bout.t_s - 4.0) & (t_s < bout.t_s)])
            if heard[(t_s > bout.t_s) & (t_s < bout.t_s + bout.duration_s)].max() < before + 6.0:
                return False
    return True


def _turns_and_stays_well(rig: Rig, plan: Plan, turned: Turned, limits: dict[str, float]) -> bool:
    t_s, first_s = turned.t_s, math.inf if math.isnan(plan.first_s) else plan.first_s
    well = (t_s >= 0.0) & (t_s < min(first_s, plan.duration_s) - 0.1)
    quick = turned.ring_rad_s > 0.8 * rig.set_rad_s
    for begin_s, end_s in plan.hands.stages:
        stage = well & (t_s > begin_s + 6.0) & (t_s < end_s - 0.5)
        if stage.any() and float(quick[stage].mean()) < 0.97:
            return False
    load, force = trailing(turned.load_n, 1.0), trailing(turned.friction_n, 1.0)
    loaded = well & quick & (load > 0.03 * rig.most_load_n)
    if not loaded.any():
        return False
    mu = force[loaded] / load[loaded]
    if mu.max() > HEALTHY_MU or mu.max() > _MOST_RISE * float(np.median(mu)) or np.median(mu) < 0.03:
        return False
    return _is_cool(turned, well, limits)


def _is_cool(turned: Turned, well: Flags, limits: dict[str, float]) -> bool:
    return (
        float(turned.pin_degc[well].max()) < limits[PIN_TEMPERATURE] - 3.0
        and float(turned.bath_degc[well].max()) < limits[BATH_TEMPERATURE] - 3.0
        and float(trailing(turned.friction_n, 0.1)[well].max()) < limits.get(FRICTION_FORCE, math.inf)
    )


def _doubles(plan: Plan, turned: Turned) -> bool:
    assert plan.harm is not None
    t_s, force = turned.t_s, trailing(turned.friction_n, 0.5)
    before = turned.friction_n[(t_s >= plan.first_s - 2.0) & (t_s < plan.first_s)].mean()
    after = force[(t_s >= plan.harm.onset_s) & (t_s < plan.harm.onset_s + 12.0)]
    return bool(after.max() >= _DOUBLED * before) and before > 0.0
