"""The law of friction: hydrodynamic film and boundary layer share the load; the boundary layer lets go when hot.

Reads the draws; gives a friction coefficient from sliding speed, load, pin temperature and roughness.
"""

from dataclasses import dataclass
from math import exp, sqrt

from .draws import Rng, log_uniform, uniform

FILM_SPEED_POWER = 0.67
"""Film thickness goes with (viscosity times speed)**0.67: Hamrock and Dowson 1977, hard contacts."""

FILM_LOAD_POWER = -0.13
"""Film thickness goes with load**-0.13 or less, the same source gives -0.067 for points; lines lie near -0.13."""


USUAL_FRICTION = 0.1
"""Friction coefficient a designer reckons with."""


@dataclass(frozen=True, slots=True)
class Law:
    """Constants of the law for one rig; `fresh` is added roughness, `wear_rate` in 1/J, `unrest` a share."""

    film: float
    adsorbed: float
    bare: float
    film_ratio: float
    sharpness: float
    stiction: float
    stiction_speed_m_s: float
    reference_degc: float
    thinning_k: float
    reference_slide_m_s: float
    reference_load_n: float
    flash_k: float
    desorption_degc: float
    desorption_width_k: float
    fresh: float
    wear_rate: float
    scuffed: float
    unrest: float
    unrest_slope: float

    def boundary(self, slide_m_s: float, load_n: float, pin_degc: float) -> float:
        """Give the friction of the boundary layer, adsorbed where cool and bare where the flash has lifted it.

        Source: flash temperature goes with load**0.5 x speed**0.5 for a contact that conforms (H. Blok 1937);
        coverage over temperature as an adsorption isotherm, a logistic curve (J. J. Frewing 1944).
        """
        flash_k = self.flash_k * sqrt(slide_m_s / self.reference_slide_m_s * load_n / (2.0 * self.reference_load_n))
        hot = (pin_degc + flash_k - self.desorption_degc) / self.desorption_width_k
        uncovered = 1.0 / (1.0 + exp(-hot)) if hot > -30.0 else 0.0
        layer = self.adsorbed * (1.0 + self.stiction * exp(-slide_m_s / self.stiction_speed_m_s))
        return layer + uncovered * (self.bare - self.adsorbed)

    def film_over_roughness(self, slide_m_s: float, load_n: float, pin_degc: float, roughness: float) -> float:
        """Give film thickness over roughness, dimensionless; roughness is 1 when run in."""
        thinner = exp((self.reference_degc - pin_degc) / self.thinning_k)
        speed = slide_m_s / self.reference_slide_m_s * thinner
        load = max(load_n / self.reference_load_n, 0.02)
        return self.film_ratio * float(speed**FILM_SPEED_POWER) * float(load**FILM_LOAD_POWER) / roughness

    def friction(self, slide_m_s: float, load_n: float, pin_degc: float, roughness: float) -> float:
        """Give the friction coefficient."""
        ratio = self.film_over_roughness(slide_m_s, load_n, pin_degc, roughness)
        touching = 1.0 / (1.0 + float(ratio**self.sharpness))
        sheared = self.film * (0.6 + 0.4 * min(slide_m_s / self.reference_slide_m_s, 10.0))
        return touching * self.boundary(slide_m_s, load_n, pin_degc) + (1.0 - touching) * sheared


def draw_law(rng: Rng, usual_degc: float, rise_k: float, slide_m_s: float, top_load_n: float) -> Law:
    """Draw what rubs: its film is stated at set speed, half the top load and the usual temperature."""
    adsorbed = uniform(rng, 0.08, 0.128)
    flash_k = log_uniform(rng, 8.0, 70.0)
    return Law(
        film=uniform(rng, 0.025, 0.055), adsorbed=adsorbed, bare=uniform(rng, 0.2, 0.35),
        film_ratio=log_uniform(rng, 0.15, 1.6), sharpness=uniform(rng, 1.2, 2.4), stiction=uniform(rng, 0.0, 0.5),
        stiction_speed_m_s=log_uniform(rng, 0.003, 0.05), reference_degc=usual_degc,
        thinning_k=uniform(rng, 28.0, 60.0), reference_slide_m_s=slide_m_s, reference_load_n=0.5 * top_load_n,
        flash_k=flash_k, desorption_degc=usual_degc + rise_k + flash_k + uniform(rng, 45.0, 110.0),
        desorption_width_k=uniform(rng, 8.0, 16.0), fresh=uniform(rng, 0.1, 0.8),
        wear_rate=2.0 / (log_uniform(rng, 8.0, 120.0) * top_load_n * slide_m_s), scuffed=uniform(rng, 0.28, 0.65),
        unrest=log_uniform(rng, 0.01, 0.045), unrest_slope=uniform(rng, 0.8, 1.8),
    )  # fmt: skip
