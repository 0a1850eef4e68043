"""Whether a world keeps the promise of its class; one that does not is drawn again.

Reads rig, plan and the noise-free world, says yes or no.
"""

import numpy as np
from scipy.ndimage import uniform_filter1d
from world_b.values import BATH_TEMPERATURE, MOTOR_CURRENT, PIN_TEMPERATURE, Flags, Klass, Truth

from .bench import Made
from .chance import STEP_S
from .people import BOUTS
from .plan import Plan
from .rig import Rig

HEALTHY_MU = 0.2
"""No healthy contact rubs harder over a second; boundary films go up to 0.14 (DETECTION 1.1)."""
_COMES_UP_S = 6.0


def kept(rig: Rig, plan: Plan, klass: Klass, made: Made, truth: Truth, limits: dict[str, float]) -> bool:
    """Say whether the recording is what its class promises."""
    if not _healthy(rig, plan, made, limits):
        return False
    if klass in (Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN, Klass.SCUFFING_WITH_FAULT):
        return _rise(plan, made) >= 2.0
    if klass is Klass.SEIZURE:
        return truth.stall_s < truth.onset_s + 25.0
    if klass is Klass.JAM:
        return truth.stall_s < truth.jam_s + 9.0
    if klass is Klass.OVERHEAT:
        return truth.overheat_s > truth.earliest_legitimate_trip_s + 8.0
    bout = BOUTS.get(klass)
    return bout is None or bool(plan.of(bout))


def _healthy(rig: Rig, plan: Plan, made: Made, limits: dict[str, float]) -> bool:
    """Say whether all is well up to the first sign: friction, speed, temperatures, current and the friction cell."""
    world, end_s = made.world, np.inf if plan.event is None else plan.event.first_s
    well = world.t_s < end_s
    turned = world.turned
    if (world.pin_degc[well] > limits[PIN_TEMPERATURE] - 3.0).any():
        return False
    if (world.bath_degc[well] > limits.get(BATH_TEMPERATURE, np.inf) - 3.0).any():
        return False
    if (turned.current_a[well] > 0.95 * limits.get(MOTOR_CURRENT, np.inf)).any():
        return False
    if (turned.friction_n[well] > rig.sensing.cell_n).any():
        return False
    return _rubs_softly(rig, made, world.t_s < end_s - 1.0) and _comes_up(rig, plan, made, end_s)


def _rubs_softly(rig: Rig, made: Made, well: Flags) -> bool:
    turned = made.world.turned
    each = round(1.0 / STEP_S)
    force, load = uniform_filter1d(turned.friction_n, each), uniform_filter1d(turned.normal_n, each)
    loaded = well & (load > 0.03 * rig.most_load_n) & (turned.ring_rad_s > 0.3 * rig.motor.set_speed_rad_s)
    return not (force[loaded] > HEALTHY_MU * load[loaded]).any()


def _comes_up(rig: Rig, plan: Plan, made: Made, end_s: float) -> bool:
    """Say whether the ring comes up after each start and keeps its speed until it is switched off."""
    pace = made.world.turned.ring_rad_s / rig.motor.set_speed_rad_s
    t_s = made.world.t_s
    offs = [t for t, on in plan.switches if not on]
    for start_s in (t for t, on in plan.switches if on):
        up_s = max(start_s, 0.0) + rig.motor.ramp_s + _COMES_UP_S
        stop_s = min((t for t in offs if t > start_s), default=end_s)
        span = (t_s >= up_s) & (t_s < min(stop_s, end_s))
        if span.any() and pace[span].min() < 0.5:
            return False
    return True


def _rise(plan: Plan, made: Made) -> float:
    """Give how many times the friction force of before the first sign it has become, averaged over half a second."""
    event, t_s = plan.event, made.world.t_s
    assert event is not None
    force = uniform_filter1d(made.world.turned.friction_n, round(0.5 / STEP_S))
    before = force[(t_s > event.first_s - 2.0) & (t_s < event.first_s - 0.3)].mean()
    return float(force[t_s > event.onset_s].max() / before)
