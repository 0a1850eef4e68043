"""Friction of the simulated contact: viscosity, mixed friction after Stribeck, running-in and scuffing.

Reads speed, load and temperature, gives the friction coefficient.
"""

import bisect
import math
from dataclasses import dataclass

from scuffwatch.sim.params import RigParams

_KELVIN = 273.15
_REFRESH_S = 0.1
"""Temperatures move by hundredths of a kelvin in this time; the viscosity is taken anew only then."""


def walther_constants(nu_40_cst: float, nu_100_cst: float, kelvin: float = _KELVIN) -> tuple[float, float]:
    """Give A and B of lg lg Z = A - B lg T through two viscosities.

    Args:
        nu_40_cst, nu_100_cst: kinematic viscosity at 40 and 100 °C, mm²/s, > 0.2.
        kelvin: what is added to °C.
    Source:
        ASTM D341.
    """
    low, high = (math.log10(math.log10(_z_of(nu))) for nu in (nu_40_cst, nu_100_cst))
    lg_low, lg_high = math.log10(40.0 + kelvin), math.log10(100.0 + kelvin)
    slope = (low - high) / (lg_high - lg_low)
    return low + slope * lg_low, slope


def walther_viscosity_cst(constants: tuple[float, float], temperature_degc: float, kelvin: float = _KELVIN) -> float:
    """Give the kinematic viscosity at a temperature, mm²/s. Source: ASTM D341."""
    z: float = 10.0 ** (10.0 ** (constants[0] - constants[1] * math.log10(temperature_degc + kelvin)))
    x = z - 0.7
    return x - math.exp(-0.7487 - 3.295 * x + 0.6119 * x**2 - 0.3193 * x**3) if x < 8.0 else x


def _z_of(nu_cst: float) -> float:
    return nu_cst + 0.7 + math.exp(-1.47 - 1.84 * nu_cst - 0.51 * nu_cst**2)


class Contact:
    """The healthy contact: share of load on asperities after a film parameter, and running-in after a load step.

    What survives a call: seated load, running-in excess, viscosity, how dry the contact has run, the last coefficient.
    """

    __slots__ = (
        "_constants",
        "_dt_s",
        "_length_m",
        "_params",
        "_refresh_in_s",
        "coefficient_now",
        "excess",
        "film",
        "seated_n",
        "viscosity",
    )

    def __init__(self, params: RigParams, dt_s: float) -> None:
        self._params = params
        self._dt_s = dt_s
        self._constants = walther_constants(params.viscosity_40_cst, params.viscosity_100_cst)
        self._length_m = params.contact_length_mm / 1000.0
        self._refresh_in_s = 0.0
        self.excess = 0.0
        self.film = 1.0
        self.seated_n = 0.0
        self.viscosity = 0.0
        self.coefficient_now = 0.0

    def coefficient(self, speed_m_s: float, load_n: float, temperature_degc: float, bath_up: bool) -> float:
        """Give the friction coefficient of the undamaged contact for one step; 0 where nothing is pressed."""
        self._refresh_in_s -= self._dt_s
        if self._refresh_in_s <= 0.0:
            self._refresh(temperature_degc, bath_up)
        if load_n < 0.5:
            self.seated_n = min(self.seated_n, load_n)
            self.coefficient_now = 0.0
            return 0.0
        params = self._params
        self._run_in(speed_m_s, load_n)
        film = self.film * self.viscosity * speed_m_s * self._length_m / load_n / params.film_ratio
        asperity = 1.0 / (1.0 + film**params.film_power)
        boundary = params.boundary_coefficient * (1.0 + self.excess)
        self.coefficient_now = boundary * asperity + params.fluid_coefficient * (1.0 - asperity)
        return self.coefficient_now

    def _run_in(self, speed_m_s: float, load_n: float) -> None:
        params = self._params
        excess = self.excess * (1.0 - speed_m_s * self._dt_s / params.run_in_distance_m)
        if load_n > self.seated_n:
            excess += params.run_in_gain * (load_n - self.seated_n) / load_n
            self.seated_n = load_n
        self.excess = excess if excess < params.run_in_limit else params.run_in_limit

    def _refresh(self, temperature_degc: float, bath_up: bool) -> None:
        self._refresh_in_s += _REFRESH_S
        nu_m2_s = walther_viscosity_cst(self._constants, temperature_degc) * 1e-6
        self.viscosity = nu_m2_s * self._params.density_kg_m3
        wet = 1.0 if bath_up else 0.0
        self.film += (wet - self.film) * -math.expm1(-_REFRESH_S / (0.5 if bath_up else self._params.dry_s))


@dataclass(frozen=True, slots=True)
class Burst:
    """A short rise of friction that recovers: a precursor of scuffing.

    Attributes:
        t_s: start on the run's clock, s.
        length_s: s.
        share: relative rise at its top.
    """

    t_s: float
    length_s: float
    share: float


@dataclass(frozen=True, slots=True)
class Damage:
    """How the contact is destroyed, on the run's clock.

    Attributes:
        onset_t_s: from here the friction does not recover.
        growth_s: time constant of the rise.
        scuffed_coefficient: where scuffing alone leads.
        weld_per_s: growth of the coefficient by welding after that, until the ring seizes.
        bursts: before the onset, in order of time, not overlapping.
    """

    onset_t_s: float
    growth_s: float
    scuffed_coefficient: float
    weld_per_s: float
    bursts: tuple[Burst, ...]

    def extent(self, t_s: float) -> float:
        """Give how far scuffing has gone, 0 healthy to 1."""
        if t_s <= self.onset_t_s:
            return 0.0
        return -math.expm1(-(((t_s - self.onset_t_s) / self.growth_s) ** 2))

    def coefficient(self, healthy: float, t_s: float) -> float:
        """Give the coefficient of the damaged contact at a time of the run, s."""
        if t_s <= self.onset_t_s:
            return healthy * (1.0 + self._burst(t_s))
        extent = self.extent(t_s)
        weld_s = t_s - self.onset_t_s - 2.0 * self.growth_s
        weld = min(max(weld_s, 0.0) * self.weld_per_s, 1.0)
        return healthy + (self.scuffed_coefficient - healthy) * extent + weld

    def _burst(self, t_s: float) -> float:
        place = bisect.bisect_right(self.bursts, t_s, key=lambda burst: burst.t_s) - 1
        if place < 0:
            return 0.0
        burst = self.bursts[place]
        x = (t_s - burst.t_s) / burst.length_s
        return burst.share * math.sin(math.pi * x) if x < 1.0 else 0.0
