"""Friction of pin on ring. Reads the slow state, gives the Stribeck curve of the moment for the fast loop.

Law: the film ratio lambda goes with (viscosity x speed)^0.68 (Hamrock and Dowson's exponent, from memory), with
pressure^-0.2, and with one over the roughness. Asperities carry 1 / (1 + lambda^m) of the load at boundary friction,
the oil carries the rest. Boundary friction lies between that of bare steel and that of a reacted film, which grows
with heat and additive and is rubbed off (after the idea of growth and wear-off, Ueda, Spikes and Kadiric 2022).
"""

import math
from dataclasses import dataclass

FILM_SPEED_EXPONENT = 0.68
FILM_PRESSURE_EXPONENT = -0.2
GROWTH_KELVIN = 2500.0
"""Activation of the film's growth over the gas constant, K; about 21 kJ/mol, from memory."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Pin, ring and oil as a friction pair.

    Attributes:
        film_friction, bare_friction, fluid_friction: coefficients of the three ways to carry load.
        film_ratio: lambda at full load, set speed, `reference_pa_s`, when run in, in units where half is carried dry.
        sharpness: m of the load-sharing law.
        reference_pa_s, reference_m_s, reference_pa: where `film_ratio` holds.
        fresh_roughness_ratio: roughness before running in over that after.
        rise_per_load_ratio: roughness opened again by a load step of the full load.
        run_in_m: sliding distance of running in.
        nose_radius_m: of the pin's end.
        wear_m3_nm: Archard's k.
        growth_per_s: of the film at 80 degC on bare steel.
        rub_per_s: wear-off at full load and set speed.
    """

    film_friction: float
    bare_friction: float
    fluid_friction: float
    film_ratio: float
    sharpness: float
    reference_pa_s: float
    reference_m_s: float
    reference_pa: float
    fresh_roughness_ratio: float
    rise_per_load_ratio: float
    run_in_m: float
    nose_radius_m: float
    wear_m3_nm: float
    growth_per_s: float
    rub_per_s: float


@dataclass(frozen=True, slots=True)
class Curve:
    """Friction over sliding speed: fluid + (boundary - fluid) / (1 + factor * v^exponent)."""

    boundary: float
    fluid: float
    factor: float
    exponent: float


def pressure_pa(pair: Pair, worn_m3: float, load_n: float) -> float:
    """Give the mean pressure on the worn flat of a round nose (cap volume pi a^4 / 4R)."""
    square_m2 = math.sqrt(4.0 * pair.nose_radius_m * worn_m3 / math.pi)
    return load_n / (math.pi * square_m2)


class Surface:
    """Roughness, worn volume and film of the pair; `step` moves on by the time of one block."""

    def __init__(self, pair: Pair, full_load_n: float, worn_m3: float, run_in: bool) -> None:
        self.pair = pair
        self.full_load_n = full_load_n
        self.worn_m3 = worn_m3
        self.roughness_ratio = 1.02 if run_in else pair.fresh_roughness_ratio
        self.covered = 0.7 if run_in else 0.15
        self.heaviest_n = full_load_n if run_in else 0.0

    def step(self, load_n: float, speed_m_s: float, asperity_share: float, film_degc: float, step_s: float) -> None:
        """Wear, run in, grow film and rub it off."""
        pair = self.pair
        way_m = speed_m_s * step_s
        self.worn_m3 += pair.wear_m3_nm * load_n * way_m * self.roughness_ratio
        if load_n > self.heaviest_n * 1.02:
            opened = pair.rise_per_load_ratio * (load_n - self.heaviest_n) / self.full_load_n
            self.roughness_ratio += opened
            self.heaviest_n = load_n
        self.roughness_ratio += (1.0 - self.roughness_ratio) * (1.0 - math.exp(-way_m / pair.run_in_m))
        heat = math.exp(GROWTH_KELVIN * (1.0 / 353.0 - 1.0 / (film_degc + 273.15)))
        grown = pair.growth_per_s * heat * asperity_share * (1.0 - self.covered) if speed_m_s > 0.0 else 0.0
        severity = load_n / self.full_load_n * speed_m_s / pair.reference_m_s
        rubbed = pair.rub_per_s * severity * asperity_share * self.covered
        self.covered = min(max(self.covered + (grown - rubbed) * step_s, 0.0), 1.0)

    def curve(self, load_n: float, viscosity_pa_s: float, oil_ratio: float) -> Curve:
        """Give the friction law of the moment; `oil_ratio` is the part of a full film that the supply still allows."""
        pair = self.pair
        boundary = pair.bare_friction + (pair.film_friction - pair.bare_friction) * self.covered
        exponent = FILM_SPEED_EXPONENT * pair.sharpness
        if load_n <= 0.0:
            return Curve(boundary, pair.fluid_friction, 0.0, exponent)
        pressure_ratio = pressure_pa(pair, self.worn_m3, load_n) / pair.reference_pa
        film = pair.film_ratio * oil_ratio / self.roughness_ratio * pressure_ratio**FILM_PRESSURE_EXPONENT
        film *= (viscosity_pa_s / (pair.reference_pa_s * pair.reference_m_s)) ** FILM_SPEED_EXPONENT
        return Curve(boundary, pair.fluid_friction, film**pair.sharpness, exponent)
