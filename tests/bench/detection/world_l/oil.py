"""The oil: its viscosity over temperature. Reads nothing."""

import math
from dataclasses import dataclass

KELVIN = 273.15


@dataclass(frozen=True, slots=True)
class Oil:
    """A lubricating oil by the two viscosities on its data sheet, mm2/s at 40 and 100 degC."""

    nu40_mm2_s: float
    nu100_mm2_s: float

    @property
    def walther(self) -> tuple[float, float]:
        """Give A and B of Walther's law.

        Source: ASTM D341: log10 log10 (nu + 0.7) = A - B log10 T.
        """
        x40, x100 = math.log10(40 + KELVIN), math.log10(100 + KELVIN)
        y40 = math.log10(math.log10(self.nu40_mm2_s + 0.7))
        y100 = math.log10(math.log10(self.nu100_mm2_s + 0.7))
        slope = (y40 - y100) / (x100 - x40)
        return y40 + slope * x40, slope

    def viscosity_mm2_s(self, temperature_degc: float) -> float:
        """Give the kinematic viscosity, mm2/s, at a temperature between -20 and 250 degC."""
        a, b = self.walther
        kelvin = min(max(temperature_degc, -20.0), 250.0) + KELVIN
        return float(10.0 ** (10.0 ** (a - b * math.log10(kelvin))) - 0.7)
