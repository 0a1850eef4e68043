"""Viscosity of the oil. Reads two table values, gives the viscosity at any temperature."""

import math
from dataclasses import dataclass

ZERO_DEGC_IN_K = 273.15
DENSITY_KG_M3 = 870.0


@dataclass(frozen=True, slots=True)
class Oil:
    """Constants of the Walther line lg lg(v + 0.7) = a - b lg T, v in mm2/s, T in K."""

    a: float
    b: float


def _double_log(viscosity_mm2_s: float) -> float:
    return math.log10(math.log10(viscosity_mm2_s + 0.7))


def oil_through(cold_mm2_s: float, hot_mm2_s: float, cold_degc: float = 40.0, hot_degc: float = 100.0) -> Oil:
    """Give the oil whose line goes through the viscosities at two temperatures.

    Source: ASTM D341, the form for v above 2 mm2/s (from memory).
    """
    low, high = math.log10(ZERO_DEGC_IN_K + cold_degc), math.log10(ZERO_DEGC_IN_K + hot_degc)
    b = (_double_log(cold_mm2_s) - _double_log(hot_mm2_s)) / (high - low)
    return Oil(_double_log(cold_mm2_s) + b * low, b)


def kinematic_mm2_s(oil: Oil, temperature_degc: float) -> float:
    """Give the kinematic viscosity in mm2/s."""
    return float(10.0 ** (10.0 ** (oil.a - oil.b * math.log10(temperature_degc + ZERO_DEGC_IN_K)))) - 0.7


def dynamic_pa_s(oil: Oil, temperature_degc: float) -> float:
    """Give the dynamic viscosity in Pa s, at one density for all temperatures."""
    return kinematic_mm2_s(oil, temperature_degc) * 1e-6 * DENSITY_KG_M3
