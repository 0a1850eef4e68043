"""The state of a rig between steps: speeds, temperatures, roughness and tribofilm, and the friction they make.

Reads `Rig` and one slow step of `Acts`, gives friction and drag by speed. Everything survives a call.
"""

import math

from world_b.values import Floats

from .acts import SLOW, SLOW_S, Acts
from .drives import DT_S, drive_of
from .rig import Rig

_CRAWL = 0.003
"""Relative speed below which the static friction begins to count."""
_HOT_S = 400.0
"""Time constant of a small motor's winding."""


class State:
    """Where a rig is."""

    def __init__(self, rig: Rig, wander: Floats, rest_share: float) -> None:
        """Begin at rest, in the morning.

        Args:
            rig: see there.
            wander: slow factor on friction, one a slow step.
            rest_share: of the last friction that the arm's spring keeps when the ring stops with the motor off.
        """
        self.rig, self.wander, self.rest_share = rig, wander, rest_share
        self.relax = math.exp(-DT_S / (2.0 + 20.0 * rest_share))
        self.drive = drive_of(rig)
        self.ring_rad_s = self.motor_rad_s = self.angle_rad = self.force_n = self.sprung_n = 0.0
        self.bath_degc = self.pin_degc = rig.warmth.ambient_degc
        self.heating = True
        self.rough, self.borne_n, self.film, self.scar = 1.0, 0.0, 0.0, 0.0
        self.heat_j = self.work_j = 0.0
        self._boundary = self._fluid = self._stribeck = self._drag_nm = self._drag_slope = 0.0

    def warm_through(self, degc: float, film: float, rough: float) -> None:
        """Take an earlier run as the history: warm oil, a grown film, a track partly run in."""
        self.bath_degc = self.pin_degc = degc
        self.film, self.rough = film, rough

    def settle(self, load_n: float) -> None:
        """Take a run that has gone on for long under `load_n` as the state."""
        self.ring_rad_s = self.motor_rad_s = self.rig.set_rad_s
        self.borne_n = load_n
        torque_nm = self.rig.motor.drag_nm + 0.1 * load_n * self.rig.ring_radius_m
        self.drive.settle(self.rig.set_rad_s, torque_nm)

    def mu_at(self, ring_rad_s: float) -> float:
        """Give the friction coefficient at a speed, by asperities and film (Stribeck), static at a crawl."""
        x = ring_rad_s / self.rig.set_rad_s
        if x < 1e-4:
            return self._boundary * self.rig.contact.static_gain
        asperities = 1.0 / (1.0 + (self._stribeck * x) ** self.rig.contact.stribeck_power)
        static = 1.0 + (self.rig.contact.static_gain - 1.0) * _CRAWL / (_CRAWL + x)
        return self._boundary * static * asperities + self._fluid * math.sqrt(x) * (1.0 - asperities)

    def drag_at(self, ring_rad_s: float) -> float:
        """Give the torque of seals, bearings and oil at a speed, Nm."""
        return self._drag_nm + self._drag_slope * ring_rad_s

    def take(self, ring_rad_s: float, motor_rad_s: float, angle_rad: float, force_n: float, work_j: float) -> None:
        """Take what a run of fine steps ended with."""
        self.ring_rad_s, self.motor_rad_s, self.angle_rad = ring_rad_s, motor_rad_s, angle_rad
        self.force_n, self.work_j = force_n, work_j

    def slow_step(self, acts: Acts, step: int) -> None:
        """Let `SLOW_S` pass for heat, surfaces and oil, with the friction work of the fine steps before."""
        if acts.night[step] > 0.0:
            self._pass_night(float(acts.night[step]))
        load_n = float(acts.load_n[step * SLOW])
        speed = self.ring_rad_s / self.rig.set_rad_s
        self._warm(acts, step, speed)
        self._rub(load_n)
        self._set_friction(load_n, float(self.wander[step] * acts.film[step]))
        winding = (float(acts.supply[step * SLOW]) > 0.0) * (0.5 + 0.5 * min(1.0, load_n / self.rig.lever.top_load_n))
        self.drive.hot += SLOW_S / _HOT_S * (winding - self.drive.hot)

    def _pass_night(self, ambient_shift_k: float) -> None:
        self.bath_degc = self.pin_degc = self.rig.warmth.ambient_degc + ambient_shift_k - 1.0
        self.drive.hot, self.heating = 0.0, True

    def _warm(self, acts: Acts, step: int, speed: float) -> None:
        warmth = self.rig.warmth
        friction_w = self.work_j / SLOW_S
        stirring_w = warmth.stirring_w * speed**1.5
        in_w = friction_w + stirring_w + float(acts.heat_w[step]) + self._heater_w(acts.heater_stuck[step] > 0.0)
        lost_w = warmth.bath_w_k * float(acts.cooling[step]) * (self.bath_degc - warmth.ambient_degc)
        self.heat_j += in_w * SLOW_S
        self.bath_degc += ((in_w - lost_w) * SLOW_S - float(acts.cold_j[step])) / warmth.bath_j_k
        rise_k = warmth.pin_k_w * float(acts.pin_heat[step]) * friction_w
        self.pin_degc += (self.bath_degc + rise_k - self.pin_degc) * (1.0 - math.exp(-SLOW_S / warmth.pin_s))

    def _heater_w(self, stuck: bool) -> float:
        warmth = self.rig.warmth
        if stuck or warmth.heater_w <= 0.0:
            return warmth.heater_w
        below_k = warmth.set_degc - self.bath_degc
        if warmth.hysteresis_k <= 0.0:
            return warmth.heater_w * min(1.0, max(0.0, 0.3 * below_k + 0.4))
        self.heating = below_k > (-0.5 if self.heating else 0.5) * warmth.hysteresis_k
        return warmth.heater_w * self.heating

    def _rub(self, load_n: float) -> None:
        contact = self.rig.contact
        if load_n > 1.02 * self.borne_n:
            self.rough = min(1.0, self.rough + 0.6 * (load_n - self.borne_n) / load_n)
            self.borne_n = load_n
        slid_m = self.ring_rad_s * self.rig.ring_radius_m * SLOW_S * (load_n > 0.0)
        self.rough *= math.exp(-slid_m / contact.run_in_m)
        if slid_m > 0.0:
            faster = 2.0 ** min(2.0, (self.pin_degc - 60.0) / 30.0)
            self.film += (1.0 - self.film) * min(0.1, SLOW_S / contact.film_s * faster)
            self.scar += SLOW_S / 3600.0

    def _set_friction(self, load_n: float, slow_factor: float) -> None:
        contact, motor = self.rig.contact, self.rig.motor
        contact_degc = 0.5 * (self.bath_degc + self.pin_degc)
        thick = self.rig.oil.viscosity_ratio(contact_degc)
        spread = max(load_n, 0.02 * self.rig.lever.top_load_n) / self.rig.lever.top_load_n
        surface = (1.0 + contact.run_in_gain * self.rough) * (1.0 + contact.film_gain * self.film)
        self._boundary = contact.mu_boundary * surface * slow_factor
        self._stribeck = (
            contact.stribeck * thick * spread**-contact.load_power * (1.0 + contact.wear_gain * min(1.0, self.scar))
        )
        self._fluid = contact.mu_fluid * math.sqrt(thick / spread**contact.load_power)
        viscous = motor.drag_viscous * min(4.0, self.rig.oil.viscosity_ratio(self.bath_degc)) ** 0.6
        self._drag_nm = motor.drag_nm * (1.0 - motor.drag_viscous)
        self._drag_slope = motor.drag_nm * viscous / self.rig.set_rad_s
