"""The law of friction: hydrodynamic film and boundary layer share the load; the boundary layer lets go when hot.

Reads the rig; gives a friction coefficient from sliding speed, load, pin temperature and roughness.
"""

from dataclasses import dataclass
from math import exp, sqrt

from .rig import USUAL_FRICTION, Rig

FILM_SPEED_POWER = 0.67
"""Film thickness goes with (viscosity times speed)**0.67: Hamrock and Dowson 1977, hard contacts."""

FILM_LOAD_POWER = -0.13
"""Film thickness goes with load**-0.13 or less, the same source gives -0.067 for points; lines lie near -0.13."""


@dataclass(frozen=True, slots=True)
class Law:
    """Constants of the law for one rig."""

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
        sheared = self.film * (0.6 + 0.4 * min(slide_m_s / self.reference_slide_m_s, 3.0))
        return touching * self.boundary(slide_m_s, load_n, pin_degc) + (1.0 - touching) * sheared


def friction_law(rig: Rig) -> Law:
    """Give the law of that rig: its film is measured at set speed, half the top load and the usual temperature."""
    contact, heat = rig.contact, rig.heat
    usual_degc = heat.heater_set_degc if heat.heater_lift_k else heat.room_degc + 0.5 * heat.bath_rise_k
    hottest_degc = usual_degc + heat.bath_rise_k + heat.pin_rise_k + contact.flash_k
    slide_m_s = rig.set_speed_rad_s * rig.ring_radius_m
    return Law(
        film=contact.film_friction,
        adsorbed=contact.adsorbed_friction,
        bare=contact.bare_friction,
        film_ratio=contact.film_ratio,
        sharpness=contact.film_sharpness,
        stiction=contact.stiction,
        stiction_speed_m_s=contact.stiction_speed_m_s,
        reference_degc=usual_degc,
        thinning_k=contact.thinning_k,
        reference_slide_m_s=slide_m_s,
        reference_load_n=0.5 * rig.top_load_n,
        flash_k=contact.flash_k,
        desorption_degc=hottest_degc + contact.desorption_margin_k,
        desorption_width_k=contact.desorption_width_k,
        fresh=contact.fresh_roughness,
        wear_rate=USUAL_FRICTION / (contact.running_in_s * 0.5 * rig.usual_power_w),
    )
