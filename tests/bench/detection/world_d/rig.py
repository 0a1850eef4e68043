"""What a simulated rig is: contact, heat, drive, sound, gauges, tachometer.

Reads nothing. All torques and speeds are as seen at the ring.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot, inf, nan, sqrt

from world_b.values import ChannelSet, DriveKind, Tachometer


@dataclass(frozen=True, slots=True)
class Film:
    """Healthy contact: a film that carries a part, boundary layers that carry the rest.

    Attributes:
        film_ratio, boundary_ratio: friction coefficient of either.
        share_at_top: of the load on boundary layers, at the top load and the reference temperature.
        hersey_power: how steeply that share falls with viscosity times speed over load.
        thinning_per_k: relative fall of viscosity with warmth.
        lag_s: with which the share follows.
        run_in_share, run_in_s: excess after a rise of load, and how long it lasts.
        rest_ratio: static friction over boundary friction.
        low_speed_rad_s: below which the film is gone.
        held_share: of the friction force that stays in the arm when the ring stands.
        unrest_share, unrest_s: fast unrest of the coefficient.
        wander_share, wander_s: slow unrest.
        ripple_share: once a turn, from runout.
    """

    film_ratio: float
    boundary_ratio: float
    share_at_top: float
    hersey_power: float
    thinning_per_k: float
    lag_s: float
    run_in_share: float
    run_in_s: float
    rest_ratio: float
    low_speed_rad_s: float
    held_share: float
    unrest_share: float
    unrest_s: float
    wander_share: float
    wander_s: float
    ripple_share: float


@dataclass(frozen=True, slots=True)
class Heat:
    """Two bodies, pin and bath; `heater_w` is 0 where the bath is not heated."""

    ambient_degc: float
    bath_j_per_k: float
    bath_w_per_k: float
    pin_j_per_k: float
    pin_w_per_k: float
    pin_share: float
    heater_w: float = 0.0
    heater_set_degc: float = nan


@dataclass(frozen=True, slots=True)
class Drive:
    """Motor, belt and what they turn.

    Attributes:
        kind: see `DriveKind`.
        supply_v: of the motor.
        free_speed_rad_s: without any torque: of a straight line, of a field, or the set value of a controller.
        full_torque_nm, top_torque_nm: it may give for long; the most it can give at any speed.
        torque_per_a: of the current that makes torque.
        magnetising_a: of an induction motor; 0 otherwise.
        pull_out_slip: of the Kloss curve.
        slope_nms: torque per speed lost, of a controller or inverter.
        ramp_s: in which controller or inverter run up.
        motor_kgm2, ring_kgm2: inertias.
        drag_nm: of seals and bearings, warm.
        belt_nm: at which a belt slips; infinite without a belt.
        cut_off_s: after which fuse or inverter switches a held motor off.
    """

    kind: DriveKind
    supply_v: float
    free_speed_rad_s: float
    full_torque_nm: float
    top_torque_nm: float
    torque_per_a: float
    magnetising_a: float
    pull_out_slip: float
    slope_nms: float
    ramp_s: float
    motor_kgm2: float
    ring_kgm2: float
    drag_nm: float
    belt_nm: float = inf
    cut_off_s: float = inf

    @property
    def rotor_top_a(self) -> float:
        """Rotor current of an induction motor far beyond pull-out, A."""
        over = self.top_torque_nm / self.full_torque_nm
        slip = self.pull_out_slip * (over - sqrt(over * over - 1.0))
        return self.full_torque_nm / self.torque_per_a * hypot(slip, self.pull_out_slip) / slip

    @property
    def held_a(self) -> float:
        """Current of the motor held at rest under its supply, A."""
        if self.kind is DriveKind.INDUCTION_DIRECT:
            return hypot(self.magnetising_a, self.rotor_top_a / hypot(1.0, self.pull_out_slip))
        return hypot(self.magnetising_a, self.top_torque_nm / self.torque_per_a)

    @property
    def full_a(self) -> float:
        """Current at full torque, A."""
        return hypot(self.magnetising_a, self.full_torque_nm / self.torque_per_a)


@dataclass(frozen=True, slots=True)
class Sound:
    """Levels in dB where the microphone stands.

    Attributes:
        room_db, motor_db, contact_db: background, drive at set speed, contact at `top_w` of friction power.
        top_w: friction power at the top load, W.
        power_law: bels of the contact a decade of friction power.
        damage_db: what a fully scuffed contact adds beside its power; may be negative.
        meter_s: time weighting.
        flutter_db: unrest of the level before the meter.
        offset_db: added by the reading; large and negative where it is in dB below full scale.
    """

    room_db: float
    motor_db: float
    contact_db: float
    top_w: float
    power_law: float
    damage_db: float
    meter_s: float
    flutter_db: float
    offset_db: float


@dataclass(frozen=True, slots=True)
class Gauge:
    """One measuring chain, in the unit of its channel.

    Attributes:
        low, high: range; the rails lie 2 % of it beyond.
        noise: white, one sigma.
        step: of the converter.
        lag_s: first order.
        zero: offset.
        wander: one sigma of the slow wander of the zero.
        refresh_s: between two conversions; 0 for every row.
        hum: amplitude of mains hum.
    """

    low: float
    high: float
    noise: float
    step: float
    lag_s: float
    zero: float = 0.0
    wander: float = 0.0
    refresh_s: float = 0.0
    hum: float = 0.0

    @property
    def rails(self) -> tuple[float, float]:
        """Lowest and highest reading there can be."""
        beyond = 0.02 * (self.high - self.low)
        return self.low - beyond, self.high + beyond


@dataclass(frozen=True, slots=True)
class Pulses:
    """Tachometer; `per_turn` is 0 for a generator, `gate_s` counts or is the time-out of the period counter."""

    kind: Tachometer
    per_turn: int
    gate_s: float
    on_motor: bool


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig."""

    channel_set: ChannelSet
    radius_m: float
    set_speed_rad_s: float
    top_load_n: float
    film: Film
    heat: Heat
    drive: Drive
    sound: Sound
    pulses: Pulses
    gauges: Mapping[str, Gauge]
