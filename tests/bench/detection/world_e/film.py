"""The slow life of a lubricated contact: a scar that widens under a new load, a film that must grow on the fresh part.

Reads dice, a rig, a load and a temperature, gives the friction of the film and the share of load the oil carries.
How much load a contact bears depends on how long its film had to grow (DETECTION 1.1); the equations are derived here.
"""

from math import exp

import numpy as np
from world_b.values import Flags, Floats, Kind

from .chance import Dice, between, window
from .plan import Plan
from .rig import Contact, Rig

SLOW_S = 0.25
_WARM_DEGC = 40.0
_HIGHEST_MU = 0.138
"""Films of antiwear oils are reported at 0.09 to 0.14 (DETECTION 1.1)."""


def film_course(
    dice: Dice, rig: Rig, plan: Plan, t_s: Floats, load_n: Floats, on: Flags, bath_degc: Floats
) -> tuple[Floats, Floats]:
    """Give friction without help of the oil's pressure, and what the oil carries over what the film carries.

    The scar bears what it has been worn to bear; under more it widens with `wear_in_s`. Fresh metal has no film, so
    that friction rises for seconds and heals with `film_s`. The oil carries more where the pressure is low and the oil
    is cold. Both are as at set speed.

    Args:
        dice: for the state at the beginning and the film transitions.
        rig, plan: as drawn.
        t_s, load_n, on, bath_degc: (n,) on the inner clock.
    Returns:
        Two courses, (n,), dimensionless.
    """
    contact = rig.contact
    slow_t = np.arange(t_s[0], t_s[-1] + SLOW_S, SLOW_S)
    load = np.interp(slow_t, t_s, load_n).tolist()
    runs = np.interp(slow_t, t_s, on.astype(np.float64)).tolist()
    thin = np.exp(-contact.viscosity_per_k * (np.interp(slow_t, t_s, bath_degc) - _WARM_DEGC)).tolist()
    borne_n = plan.loads[0].load_n * (1.0 if rig.mid_run else between(dice, 0.3, 0.9))
    grown = 1.0 if rig.mid_run else between(dice, 0.2, 0.9)
    widen, grow = SLOW_S / contact.wear_in_s, 1.0 - exp(-SLOW_S / contact.film_s)
    film, fluid = [], []
    for force, run, viscosity in zip(load, runs, thin, strict=True):
        if run > 0.5 and force > 0.0:
            more_n = max(0.0, force - borne_n) * min(widen, 1.0)
            borne_n += more_n
            grown *= 1.0 - more_n / borne_n
            grown += (1.0 - grown) * grow
        film.append(contact.film_mu * (1.0 + contact.bare_share * (1.0 - grown)))
        fluid.append(contact.fluid_ratio * viscosity * min(borne_n / max(force, 1e-3), 4.0))
    changed = np.asarray(film) * _transitions(dice, plan, slow_t)
    top = max(_HIGHEST_MU, contact.film_mu)
    bounded = np.where(changed > top, top + 0.15 * (changed - top), changed)
    return np.interp(t_s, slow_t, bounded), np.interp(t_s, slow_t, np.asarray(fluid))


def usual_mu(contact: Contact, bath_degc: float) -> float:
    """Give friction of a grown film at set speed, as somebody who knows the rig would expect it."""
    ratio = contact.fluid_ratio * exp(-contact.viscosity_per_k * (bath_degc - _WARM_DEGC))
    return contact.film_mu + (contact.fluid_mu - contact.film_mu) * ratio / (1.0 + ratio)


def _transitions(dice: Dice, plan: Plan, t_s: Floats) -> Floats:
    """Give the factor that slow changes of the film leave behind."""
    factor = np.ones(len(t_s))
    for change in plan.of(Kind.FILM_TRANSITION):
        goal = between(dice, 0.6, 0.88) if dice.random() < 0.5 else between(dice, 1.12, 1.4)
        done = window(t_s, change.t_s, np.inf, change.duration_s)
        factor *= 1.0 + (goal - 1.0) * done
    return factor
