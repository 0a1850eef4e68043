"""What changes by the half second: scar, reaction film, heat, bearings. Holds the state of one rig."""

import math
from dataclasses import dataclass, field

import numpy as np
from world_b.values import Floats

from .chance import SLOW_S
from .plan import TroubleKind, TroublePlan
from .rig import Rig


@dataclass(slots=True)
class Slow:
    """Mutable state of a rig; `step` goes on by SLOW_S.

    Attributes:
        borne_n: load for which the scar is run in.
        covered: (patches,) share of each that has a reaction film.
        pin_degc, bath_degc: true temperatures.
        warm: 0 cold to 1 warm bearings.
        heating: whether the thermostat has the heater on.
        heat_in_j, heat_kept_j: put in by friction and heater, and kept by the bath, since `count` was set.
        mu_gain: of a contact that lost its oil.
    """

    rig: Rig
    borne_n: float
    covered: Floats
    pin_degc: float
    bath_degc: float
    warm: float
    heating: bool = False
    heat_in_j: float = 0.0
    heat_kept_j: float = 0.0
    mu_gain: float = 1.0
    pressed: float = field(default=1.0)

    def spots_mu(self) -> float:
        """Give the friction coefficient of the spots: film where there is one, bare metal elsewhere."""
        contact = self.rig.contact
        bare = 1.0 - float(self.covered.mean())
        return (contact.film_mu + bare * (contact.bare_mu - contact.film_mu)) * self.mu_gain

    def lift(self) -> float:
        """Give load borne by oil over load borne by spots at set speed."""
        contact = self.rig.contact
        film_degc = self.bath_degc + 0.3 * (self.pin_degc - self.bath_degc)
        thin = math.exp(-contact.thins_per_k * (film_degc - 40.0))
        lost = 1.0 / (self.mu_gain * self.mu_gain * self.mu_gain)
        return contact.lift * thin * lost / math.pow(max(self.pressed, 0.3), 0.7)

    def drag_nm(self) -> float:
        """Give drag of seals and bearings, N m."""
        motor = self.rig.motor
        return motor.drag_torque_nm * (1.0 + motor.cold_drag_share * (1.0 - self.warm))

    def night(self) -> None:
        """Let everything cool down."""
        self.pin_degc = self.bath_degc = self.rig.warmth.room_degc
        self.warm, self.heating = 0.0, False

    def step(self, t_s: float, power_w: float, load_n: float, turning: float, trouble: TroublePlan | None) -> None:
        """Go on by half a second.

        Args:
            t_s: now.
            power_w: mean work of the friction.
            load_n: mean load.
            turning: mean speed as a share of the set speed.
            trouble: abnormal heating, if any.
        """
        acting = trouble if trouble is not None and t_s >= trouble.t_s else None
        self._wear(load_n, turning)
        self._heat(power_w, t_s, acting)
        goal = 1.0 if turning > 0.3 else 0.0
        self.warm += (goal - self.warm) * SLOW_S / self.rig.motor.drag_warms_s * (1.0 if goal else 0.3)

    def _wear(self, load_n: float, turning: float) -> None:
        contact = self.rig.contact
        if turning > 0.1 and load_n > self.borne_n:
            grown_n = (load_n - self.borne_n) * (1.0 - math.exp(-SLOW_S * turning / contact.runs_in_s))
            self.borne_n += grown_n
            self.covered *= 1.0 - grown_n / self.borne_n
        self.pressed = load_n / self.borne_n if load_n > 0.0 else 1.0

    def tear(self, draws: Floats, turning: float) -> None:
        """Let the film grow on every patch and tear on some; draws: (patches,) even in 0..1."""
        contact = self.rig.contact
        if turning < 0.1:
            return
        quick = math.exp((self.bath_degc - 50.0) / 40.0)
        self.covered += (1.0 - self.covered) * (1.0 - math.exp(-SLOW_S * min(quick, 3.0) / contact.film_grows_s))
        torn = draws < SLOW_S * min(self.pressed, 2.5) / contact.film_torn_s
        self.covered[torn] *= 0.3

    def _heat(self, power_w: float, t_s: float, acting: TroublePlan | None) -> None:
        warmth = self.rig.warmth
        lost_w_k, pin_k_w = warmth.lost_w_k, warmth.pin_k_w
        self.mu_gain = 1.0
        if warmth.heater_w > 0.0:
            off_k = warmth.set_degc - self.bath_degc
            self.heating = off_k > -0.5 * warmth.heater_band_k if self.heating else off_k > 0.5 * warmth.heater_band_k
        heater_w = warmth.heater_w if self.heating else 0.0
        if acting is not None and acting.kind is TroubleKind.COOLING_FAILS:
            lost_w_k *= 0.2 - 0.18 * acting.strength
        elif acting is not None and acting.kind is TroubleKind.HEATER_STAYS_ON:
            heater_w = warmth.heater_w
        elif acting is not None:
            gone = 1.0 - math.exp(-(t_s - acting.t_s) / 15.0)
            pin_k_w *= 1.0 + gone * (2.5 + 5.0 * acting.strength)
            self.mu_gain = 1.0 + gone * (0.05 + 0.3 * acting.strength)
        flows_w = (self.pin_degc - self.bath_degc) / pin_k_w
        self.pin_degc += SLOW_S * (power_w * warmth.pin_share - flows_w) / warmth.pin_j_k
        lost_w = lost_w_k * (self.bath_degc - warmth.room_degc)
        gained_w = power_w * (1.0 - warmth.pin_share) + flows_w + heater_w - lost_w
        self.bath_degc += SLOW_S * gained_w / warmth.bath_j_k
        if t_s >= 0.0:
            self.heat_in_j += SLOW_S * (power_w + heater_w)
            self.heat_kept_j += SLOW_S * gained_w


def begin(rig: Rig, mid_run: bool, load_n: float, run_earlier: float, patches: int) -> Slow:
    """Give the state at the begin: fresh, or run in where the recording begins in mid run.

    Args:
        rig: of which.
        mid_run: it has turned for long under load_n.
        load_n: first load.
        run_earlier: 0..1, how warm an earlier run of the day has left it.
        patches: of the reaction film.
    """
    warmth = rig.warmth
    heated_degc = warmth.set_degc if warmth.heater_w > 0.0 else warmth.room_degc
    if not mid_run:
        degc = heated_degc if heated_degc > warmth.room_degc else warmth.room_degc + 6.0 * run_earlier
        covered = np.full(patches, 0.5 * run_earlier)
        return Slow(rig, max(0.5 * load_n, 0.02 * rig.most_load_n), covered, degc, degc, 0.7 * run_earlier)
    power_w = rig.usual_power_w * load_n / rig.most_load_n
    bath_degc = max(heated_degc, warmth.room_degc + power_w / warmth.lost_w_k)
    pin_degc = bath_degc + power_w * warmth.pin_share * warmth.pin_k_w
    return Slow(rig, load_n, np.full(patches, 0.85), pin_degc, bath_degc, 1.0)
