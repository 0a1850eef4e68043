"""The contact: an oil film, a grown boundary layer, and a surface that friction heats.

Reads load, speed and temperatures step by step, gives the coefficient of friction. Scuffing is nobody's curve: once the
layer is weakened, friction heats the surface, heat takes the layer away, and friction rises.
"""

from dataclasses import dataclass
from math import exp

_VISCOSITY_POWER = 0.68
_LOAD_POWER = -0.13
"""Film thickness goes with these powers of (viscosity x speed) and of load in the usual fits for hard contacts
(Hamrock, Dowson, J. Lubrication Technology 99 (1977) 264: 0.68 and -0.073; a line contact lies near -0.13; from
memory)."""


@dataclass(frozen=True, slots=True)
class ContactFacts:
    """What a pair of surfaces and an oil are.

    Attributes:
        boundary_friction, film_friction: coefficients where surfaces touch through their layer, and in the oil.
        adhesive_friction: where they touch without a layer.
        asperity_share: of the load at the top load, set speed, `warm_degc`, run in.
        top_load_n: N.
        viscosity_per_k: relative loss of viscosity per kelvin, 1/K.
        warm_degc: inlet temperature for which `asperity_share` holds.
        film_lag_s: of the oil film behind its steady value.
        surface_rise_k, surface_lag_s: of the surface above the pin at the top load's healthy friction power.
        critical_degc: where the layer goes as fast as `layer_per_s` grows it.
        width_k: temperature by which the loss grows e-fold.
        layer_per_s: rate at which the layer grows.
        running_in_share, running_in_s: roughness added by a first load, and its decay.
    """

    boundary_friction: float
    film_friction: float
    adhesive_friction: float
    asperity_share: float
    top_load_n: float
    viscosity_per_k: float
    warm_degc: float
    film_lag_s: float
    surface_rise_k: float
    surface_lag_s: float
    critical_degc: float
    width_k: float
    layer_per_s: float
    running_in_share: float
    running_in_s: float

    @property
    def top_friction(self) -> float:
        """Give the coefficient at the top load, warm and run in."""
        return self.boundary_friction * self.asperity_share + self.film_friction * (1.0 - self.asperity_share)


@dataclass(frozen=True, slots=True)
class Damage:
    """How a contact scuffs once it does.

    Attributes:
        pace: of everything that runs away, 1 = as the rig has it.
        overshoot: by how many `width_k` the surface is beyond its critical temperature when the layer fails.
        final_ratio: adhesive friction over that at the onset.
        final_friction: lower bound of adhesive friction.
        weld_per_s: growth of the coefficient by welding, 1/s at pace 1; 0 for none.
        most_scuffed: share of the contact that can scuff.
    """

    pace: float
    overshoot: float
    final_ratio: float
    final_friction: float
    weld_per_s: float
    most_scuffed: float = 1.0


class Contact:
    """State of the contact; everything but `facts` changes with each step."""

    __slots__ = (
        "adhesive", "cover", "damage", "facts", "film_at_top", "film_ratio", "most_load_n", "rough", "scuffed",
        "surface_k", "weakened_k", "weld",
    )  # fmt: skip

    def __init__(self, facts: ContactFacts, run_in: bool) -> None:
        """Begin at rest, with a layer; `run_in` contacts have no roughness to lose."""
        self.facts = facts
        self.film_at_top = (1.0 / facts.asperity_share - 1.0) ** 0.5
        self.film_ratio = 0.0
        self.cover = 1.0
        self.scuffed = 0.0
        self.surface_k = 0.0
        self.rough = 0.0
        self.most_load_n = facts.top_load_n if run_in else 0.0
        self.weld = 0.0
        self.weakened_k = 0.0
        self.adhesive = facts.adhesive_friction
        self.damage: Damage | None = None

    def fail(self, damage: Damage, friction: float, pin_degc: float) -> None:
        """Weaken the layer for good, so that the surface is hotter than it bears."""
        facts = self.facts
        self.damage = damage
        self.weakened_k = facts.critical_degc - pin_degc - self.surface_k + damage.overshoot * facts.width_k
        self.adhesive = max(damage.final_friction, damage.final_ratio * friction)

    def rest(self, away_s: float) -> None:
        """Leave it alone: the surface cools, and after hours some of the running-in is lost."""
        self.surface_k = 0.0
        self.film_ratio = 0.0
        self.rough += 0.3 * self.facts.running_in_share * (1.0 - exp(-away_s / 20_000.0))

    def step(self, dt_s: float, load_n: float, speed_share: float, inlet_degc: float, film: float) -> float:
        """Let the film follow and give the coefficient of friction.

        Args:
            dt_s: length of the step.
            load_n: at the contact.
            speed_share: of the set speed.
            inlet_degc: temperature of the oil.
            film: factor on the steady film, 1 = undisturbed.
        """
        facts = self.facts
        if load_n > self.most_load_n:
            self.rough += facts.running_in_share * (load_n - self.most_load_n) / load_n
            self.most_load_n = load_n
        if speed_share > 0.05 and load_n > 0.0:
            self.rough *= exp(-dt_s * speed_share / facts.running_in_s)
        thin = -facts.viscosity_per_k * (inlet_degc - facts.warm_degc)
        steady = (
            self.film_at_top
            * film
            * (exp(thin) * speed_share) ** _VISCOSITY_POWER
            * max(load_n / facts.top_load_n, 0.01) ** _LOAD_POWER
            / (1.0 + self.rough)
        )
        self.film_ratio += (steady - self.film_ratio) * (1.0 - exp(-dt_s / facts.film_lag_s))
        touching = 1.0 / (1.0 + self.film_ratio * self.film_ratio)
        touching = 1.0 - (1.0 - touching) * (1.0 - self.scuffed)
        covered = self.cover * (1.0 - self.scuffed)
        solid = covered * facts.boundary_friction + (1.0 - covered) * self.adhesive
        return touching * solid + (1.0 - touching) * facts.film_friction + self.weld

    def heat(self, dt_s: float, power_share: float, pin_degc: float) -> None:
        """Heat the surface by friction, and let the layer grow and go.

        Args:
            dt_s: length of the step.
            power_share: friction power over that of the healthy top load.
            pin_degc: of the pin's body.
        """
        facts, damage = self.facts, self.damage
        pace = 1.0 if damage is None else damage.pace
        self.surface_k += (facts.surface_rise_k * power_share - self.surface_k) * (
            1.0 - exp(-dt_s * pace / facts.surface_lag_s)
        )
        beyond = (pin_degc + self.surface_k - facts.critical_degc + self.weakened_k) / facts.width_k
        loss_per_s = facts.layer_per_s * pace * exp(min(beyond, 3.0))
        gain_per_s = facts.layer_per_s * pace
        total_per_s = loss_per_s + gain_per_s
        self.cover += (gain_per_s / total_per_s - self.cover) * (1.0 - exp(-dt_s * total_per_s))
        if damage is not None and power_share > 0.0:
            bare = 1.0 - self.cover
            self.scuffed += (damage.most_scuffed - self.scuffed) * (1.0 - exp(-dt_s * loss_per_s * bare))
            self.weld += dt_s * damage.pace * damage.weld_per_s * self.scuffed
