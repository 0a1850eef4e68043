"""What the technician writes down: limits from healthy running of the rig and from what the oil stands.

Reads a trace of the same rig in the same hands with nothing going wrong, and its readings.
"""

import numpy as np
from world_b.values import BATH_TEMPERATURE, FRICTION_FORCE, MOTOR_CURRENT, PIN_TEMPERATURE, Floats

from .draws import Rng, chance, uniform
from .engine import Trace

Ranges = dict[str, tuple[float, float]]


def _up_to(value: float, step: float) -> float:
    return float(np.ceil(value / step) * step)


def set_limits(rng: Rng, healthy: Trace, readings: dict[str, Floats], ends: Ranges) -> dict[str, float]:
    """Give the limits: temperatures always, force and current with some technicians and where the scale allows."""
    oil_degc = uniform(rng, 90.0, 150.0)
    hottest = {
        PIN_TEMPERATURE: float(healthy.pin_degc.max()) + uniform(rng, 10.0, 22.0),
        BATH_TEMPERATURE: float(healthy.bath_degc.max()) + uniform(rng, 10.0, 22.0),
    }
    careful = chance(rng, 0.5)
    limits = {}
    for name, degc in hottest.items():
        generous = max(degc, 0.5 * (degc + oil_degc)) if not careful and oil_degc > degc else degc
        limits[name] = _up_to(min(generous, degc + 25.0), 5.0)
    for name, factor in ((FRICTION_FORCE, uniform(rng, 1.4, 2.0)), (MOTOR_CURRENT, uniform(rng, 1.3, 1.8))):
        wanted = chance(rng, 0.35)
        most = float(np.nanmax(readings[name]))
        digits = 10.0 ** np.floor(np.log10(max(most, 1e-9)) - 1.0)
        limit = _up_to(factor * most, digits)
        if wanted and limit < 0.95 * ends[name][1]:
            limits[name] = limit
    return limits
