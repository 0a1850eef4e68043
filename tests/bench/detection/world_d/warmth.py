"""The slow half of the world: two warm bodies, and the healthy coefficient that follows load and warmth.

Reads rig, load and turning at even steps of half a second, gives coefficients and temperatures. A step of load and
warmth moves the film; the film makes the heat; so both are stepped together.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp

import numpy as np
from world_b.values import Floats

from .plan import HeatTrouble
from .rig import Film, Heat, Rig

STEP_S = 0.5
HIGHEST_HEALTHY_RATIO = 0.16
_DRY_PIN_LOSES = 0.7
"""Part of its cooling that a pin without oil loses; plausible, invented."""
_AT_ONCE = 0.6
"""Part of a change that the film follows within a step; the rest lags."""
_REFERENCE_OVER_AMBIENT_K = 25.0


@dataclass(frozen=True, slots=True)
class Slow:
    """Courses at steps of `STEP_S`.

    Attributes:
        ratio: (n,) healthy coefficient at set speed.
        bath_degc, pin_degc: (n,).
        put_in_j, lost_j, kept_j: work put in by friction and heater; heat given to the room; heat kept by both bodies.
    """

    ratio: Floats
    bath_degc: Floats
    pin_degc: Floats
    put_in_j: float
    lost_j: float
    kept_j: float


class Bodies:
    """Bath and pin, their heater, and where the heat goes; the balance is exact."""

    def __init__(self, heat: Heat, trouble: HeatTrouble | None) -> None:
        self._heat, self._trouble = heat, trouble
        begin_degc = heat.heater_set_degc if heat.heater_w > 0.0 else heat.ambient_degc
        self.bath_degc = self.pin_degc = begin_degc
        self._heating = False
        self.put_in_j = self.lost_j = self.kept_j = 0.0

    def starved(self, t_s: float) -> float:
        """Give the factor on the coefficient of a contact that runs out of oil."""
        return 1.0 if self._trouble is None else 1.0 + (self._trouble.strength - 1.0) * self._grown(t_s, "starved")

    def rest_over_night(self) -> None:
        """Cool down to the room; a heated bath is heated again before work begins. Not part of the balance."""
        self.bath_degc = self.pin_degc = (
            self._heat.heater_set_degc if self._heat.heater_w > 0.0 else self._heat.ambient_degc
        )

    def pour(self, share: float) -> None:
        """Replace a share of the bath by oil of the room's temperature; the heat of what goes counts as lost."""
        gone_k = share * (self.bath_degc - self._heat.ambient_degc)
        self.bath_degc -= gone_k
        self.lost_j += gone_k * self._heat.bath_j_per_k
        self.kept_j -= gone_k * self._heat.bath_j_per_k

    def step(self, t_s: float, friction_w: float) -> None:
        """Go on by `STEP_S`."""
        heat = self._heat
        cooled = 1.0
        if self._trouble is not None and self._trouble.kind == "cooling":
            cooled -= (1.0 - self._trouble.strength) * self._grown(t_s, "cooling")
        to_air_w = heat.bath_w_per_k * cooled * (self.bath_degc - heat.ambient_degc)
        dry = _DRY_PIN_LOSES * self._grown(t_s, "starved")
        to_bath_w = heat.pin_w_per_k * (1.0 - dry) * (self.pin_degc - self.bath_degc)
        heater_w = self._heater_w(t_s)
        pin_w = heat.pin_share * friction_w - to_bath_w
        bath_w = (1.0 - heat.pin_share) * friction_w + heater_w + to_bath_w - to_air_w
        self.pin_degc += STEP_S * pin_w / heat.pin_j_per_k
        self.bath_degc += STEP_S * bath_w / heat.bath_j_per_k
        self.put_in_j += STEP_S * (friction_w + heater_w)
        self.lost_j += STEP_S * to_air_w
        self.kept_j += STEP_S * (pin_w + bath_w)

    def _grown(self, t_s: float, kind: str) -> float:
        trouble = self._trouble
        if trouble is None or trouble.kind != kind or t_s <= trouble.t_s:
            return 0.0
        return 1.0 - exp(-(t_s - trouble.t_s) / trouble.lag_s)

    def _heater_w(self, t_s: float) -> float:
        """Give the power of the heater: on and off by a thermostat with a band of 1 K, or stuck on."""
        heat = self._heat
        if heat.heater_w <= 0.0:
            return 0.0
        if self._trouble is not None and self._trouble.kind == "heater" and t_s >= self._trouble.t_s:
            return heat.heater_w * self._trouble.strength
        if self.bath_degc > heat.heater_set_degc + 0.5:
            self._heating = False
        elif self.bath_degc < heat.heater_set_degc - 0.5:
            self._heating = True
        return heat.heater_w if self._heating else 0.0


@dataclass(frozen=True, slots=True)
class Visits:
    """What comes from outside at single steps: steps at which a day is left out, and shares of the oil replaced."""

    nights: frozenset[int]
    poured: Mapping[int, float]

    def visit(self, bodies: Bodies, step: int) -> bool:
        """Do what comes at a step, and say whether a day was left out."""
        if step in self.poured:
            bodies.pour(self.poured[step])
        if step in self.nights:
            bodies.rest_over_night()
        return step in self.nights


def film_and_heat(
    rig: Rig, load_n: Floats, turns: Floats, wander: Floats, trouble: HeatTrouble | None, visits: Visits
) -> Slow:
    """Step film and heat together.

    Args:
        rig: whose contact it is.
        load_n: (n,) N.
        turns: (n,) speed over set speed.
        wander: (n,) factor on the healthy coefficient.
        trouble: abnormal heating.
        visits: nights and fresh oil.
    """
    film = rig.film
    bodies = Bodies(rig.heat, trouble)
    share = behind = film.share_at_top * _AT_ONCE
    run_in, last_n = 0.0, float(load_n[0])
    ratio = np.empty(len(load_n))
    temperatures = np.empty((len(load_n), 2))
    reference_degc = rig.heat.ambient_degc + _REFERENCE_OVER_AMBIENT_K
    w_per_n = rig.radius_m * rig.set_speed_rad_s
    for i, newtons in enumerate(load_n.tolist()):
        if visits.visit(bodies, i):
            run_in = film.run_in_share
        rise = max(newtons - last_n, 0.0) / rig.top_load_n
        run_in = min(run_in + film.run_in_share * rise, film.run_in_share) * exp(-STEP_S * turns[i] / film.run_in_s)
        last_n = newtons
        if newtons > 0.0:
            wanted = _boundary_share(film, newtons / rig.top_load_n, bodies.bath_degc - reference_degc)
            behind += (wanted - behind) * min(STEP_S / film.lag_s, 1.0)
            share = _AT_ONCE * wanted + (1.0 - _AT_ONCE) * behind
        healthy = (film.film_ratio + (film.boundary_ratio - film.film_ratio) * share) * (1.0 + run_in) * wander[i]
        starved = bodies.starved(i * STEP_S)
        ratio[i] = min(healthy, HIGHEST_HEALTHY_RATIO) * starved
        bodies.step(i * STEP_S, ratio[i] * newtons * w_per_n * turns[i])
        temperatures[i] = bodies.bath_degc, bodies.pin_degc
    return _slow(ratio, temperatures, bodies)


def heat_alone(rig: Rig, friction_w: Floats, ratio: Floats, trouble: HeatTrouble | None, visits: Visits) -> Slow:
    """Step the heat under a friction power that is known, (n,) W."""
    bodies = Bodies(rig.heat, trouble)
    temperatures = np.empty((len(friction_w), 2))
    for i, power_w in enumerate(friction_w.tolist()):
        visits.visit(bodies, i)
        bodies.step(i * STEP_S, power_w)
        temperatures[i] = bodies.bath_degc, bodies.pin_degc
    return _slow(ratio, temperatures, bodies)


def _slow(ratio: Floats, temperatures: Floats, bodies: Bodies) -> Slow:
    bath_degc, pin_degc = temperatures.T
    return Slow(ratio, bath_degc, pin_degc, bodies.put_in_j, bodies.lost_j, bodies.kept_j)


def _boundary_share(film: Film, load_share: float, warmer_k: float) -> float:
    """Give the share of the load on boundary layers: falls with viscosity times speed over load (Hersey number)."""
    hersey = exp(-film.thinning_per_k * warmer_k) / load_share
    odds = (1.0 - film.share_at_top) / film.share_at_top * hersey**film.hersey_power
    return float(1.0 / (1.0 + odds))
