"""Laws of the healthy contact: how the film shares the load, running-in, surface film, ageing at rest, wear.

Reads nothing; gives plain numbers to the slow and the fast integration.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Contact:
    """What the pair of pin and ring is like.

    Attributes:
        boundary_friction: coefficient of bare boundary films at `temperature_ref_degc` and `load_ref_n`.
        traction: coefficient where the oil carries all.
        film_ratio_ref: film thickness over roughness at the reference load, set speed and warm oil, run in.
        speed_exponent, load_exponent: of the film thickness (0.67/-0.067 point, 0.7/-0.13 line, 0.5/-0.5 flat scar).
        friction_load_exponent: of the boundary coefficient over the load.
        friction_per_kelvin: relative change of the boundary coefficient with heat; either sign.
        surface_film_effect: relative change by a full-grown surface film; antiwear films raise, modifiers lower.
        surface_film_s: time to grow it at `temperature_ref_degc`.
        run_in_excess: relative excess of friction at a new load, fading over `run_in_m` of sliding.
        ageing: relative gain of static friction by decade (natural log) of rest, see `breakaway_gain`.
        wear_mm3_per_nm: specific wear rate.
        film_memory_s: lag of the film behind speed.
    """

    boundary_friction: float
    traction: float
    film_ratio_ref: float
    speed_exponent: float
    load_exponent: float
    friction_load_exponent: float
    friction_per_kelvin: float
    temperature_ref_degc: float
    load_ref_n: float
    surface_film_effect: float
    surface_film_s: float
    run_in_excess: float
    run_in_m: float
    ageing: float
    wear_mm3_per_nm: float
    film_memory_s: float


def asperity_share(film_ratio: float) -> float:
    """Give the part of the load borne by touching asperities, 1 at no film.

    Source: Olver & Spikes 1998, Proc. IMechE J 212, 321: 1 / (1 + film ratio)^2.
    """
    return 1.0 / ((1.0 + film_ratio) * (1.0 + film_ratio))


def film_ratio(contact: Contact, viscosity_ratio: float, speed_ratio: float, load_n: float) -> float:
    """Give film thickness over roughness, as Hamrock and Dowson's power law relative to the reference state."""
    squeezed = max(load_n / contact.load_ref_n, 0.02)
    moved = max(viscosity_ratio * speed_ratio, 0.0)
    return float(contact.film_ratio_ref * moved**contact.speed_exponent * squeezed**contact.load_exponent)


def boundary_coefficient(contact: Contact, temperature_degc: float, load_n: float, surface_film: float) -> float:
    """Give the boundary friction coefficient with its surface film (0 none, 1 full grown)."""
    heat = 1.0 + contact.friction_per_kelvin * (temperature_degc - contact.temperature_ref_degc)
    load = max(load_n / contact.load_ref_n, 0.05) ** contact.friction_load_exponent
    film = 1.0 + contact.surface_film_effect * surface_film
    return float(contact.boundary_friction * min(max(heat, 0.75), 1.3) * load * film)


def surface_film_rate_per_s(contact: Contact, temperature_degc: float) -> float:
    """Give the growth rate of the surface film: doubling every 20 K (Arrhenius near 100 degC, from memory)."""
    warmer_k = min(max(temperature_degc - contact.temperature_ref_degc, -60.0), 60.0)
    return float(2.0 ** (warmer_k / 20.0) / contact.surface_film_s)


def breakaway_gain(ageing: float, rest_s: float) -> float:
    """Give static over kinetic friction after a rest.

    Source: Dieterich 1972, J. Geophys. Res. 77, 3690: 1 + A log(1 + t), here with the natural logarithm and t in s.
    """
    return 1.0 + ageing * math.log1p(rest_s)


def worn_mm3(wear_mm3_per_nm: float, load_n: float, slid_m: float) -> float:
    """Give the volume worn off the pin.

    Source: Archard 1953, J. Appl. Phys. 24, 981: volume goes with load times sliding distance.
    """
    return wear_mm3_per_nm * load_n * slid_m


def crowding(worn_volume_mm3: float, start_volume_mm3: float) -> float:
    """Give the pressure of a round-nosed pin, relative to its start, as its flat grows.

    Source: derived here: volume of a spherical cap goes with the square of its area.
    """
    return math.sqrt(start_volume_mm3 / (start_volume_mm3 + worn_volume_mm3))
