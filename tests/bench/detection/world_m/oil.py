"""Oil between pin and ring: viscosity over temperature, film over viscosity, friction over film.

Reads nothing. All laws are vectorised by numpy where they are given arrays.
"""

from dataclasses import dataclass
from math import exp, log10

ZERO_DEGC_K = 273.15
EFFECTIVE_MODULUS_PA = 2.3e11
"""Of steel on steel: E / (1 - nu^2) with 2.1e11 Pa and 0.3."""
PRESSURE_VISCOSITY_1_PA = 2.0e-8
"""Of mineral oils, from memory: 1.5e-8 to 2.5e-8."""
SPEED_POWER = 0.7
LOAD_POWER = -0.13
SHARE_POWER = 1.2
"""How fast the solid share of the contact dies with the film; ours, chosen so that it is 37 % at the knee."""


@dataclass(frozen=True, slots=True)
class Oil:
    """An oil after Walther's law.

    Attributes:
        walther_a, walther_b: of log10 log10 (nu + 0.7) = a - b log10 T, nu in mm2/s, T in K (ASTM D341).
        density_kg_m3: taken as constant.
    """

    walther_a: float
    walther_b: float
    density_kg_m3: float

    def viscosity_pa_s(self, temperature_degc: float) -> float:
        """Give the dynamic viscosity at -10..250 degC, in Pa s."""
        double_log = self.walther_a - self.walther_b * log10(temperature_degc + ZERO_DEGC_K)
        return float((10.0 ** (10.0**double_log) - 0.7) * 1e-6 * self.density_kg_m3)


def oil_of(at_40_mm2_s: float, at_100_mm2_s: float, density_kg_m3: float) -> Oil:
    """Fit Walther's law to the two viscosities on an oil's data sheet.

    Raises:
        ValueError: an oil that does not thin between 40 and 100 degC.
    """
    if not at_40_mm2_s > at_100_mm2_s > 0.5:
        raise ValueError(f"viscosities {at_40_mm2_s} and {at_100_mm2_s} mm2/s do not fall from 40 to 100 degC")
    low, high = log10(log10(at_40_mm2_s + 0.7)), log10(log10(at_100_mm2_s + 0.7))
    cold, warm = log10(40.0 + ZERO_DEGC_K), log10(100.0 + ZERO_DEGC_K)
    slope = (low - high) / (warm - cold)
    return Oil(low + slope * cold, slope, density_kg_m3)


def film_m(viscosity_pa_s: float, sliding_m_s: float, load_n: float, radius_m: float, width_m: float) -> float:
    """Give the least film of a line contact in m; the pin stands, so the oil is drawn in at half the sliding speed.

    Source: Dowson and Higginson, H = 2.65 U^0.7 G^0.54 W^-0.13, from memory.
    """
    speed = viscosity_pa_s * 0.5 * sliding_m_s / (EFFECTIVE_MODULUS_PA * radius_m)
    load = max(load_n, 0.1) / (EFFECTIVE_MODULUS_PA * radius_m * width_m)
    material = PRESSURE_VISCOSITY_1_PA * EFFECTIVE_MODULUS_PA
    return float(2.65 * radius_m * speed**SPEED_POWER * material**0.54 * load**LOAD_POWER)


def solid_share(film_over_knee: float) -> float:
    """Give the share of the load that metal or boundary film carries, 1 without oil film, towards 0 in a thick one."""
    return exp(-(film_over_knee**SHARE_POWER))
