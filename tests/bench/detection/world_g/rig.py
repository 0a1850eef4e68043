"""What a rig is made of, in the units of the trade. Reads nothing; drawn by `rig_draws`."""

import math
from dataclasses import dataclass

from world_b.values import ChannelSet, DriveKind

from .sensing import Sensing


@dataclass(frozen=True, slots=True)
class Motor:
    """Motor, gear and belt, all as felt at the ring.

    Attributes:
        kind: see `DriveKind`.
        ideal_rad_s: speed without any torque.
        most_torque_nm: at stall, at breakdown or at the limit, by kind.
        nm_per_a: torque of one ampere that makes torque.
        magnetising_a: drawn by an induction motor without load.
        pull_out_slip: of the direct induction motor; of the inverter, slip at its torque limit.
        gain_nms, reset_s: of a speed controller.
        ramp_s: in which a controller or inverter runs its set speed up.
        motor_inertia_kgm2, ring_inertia_kgm2: on either side of the belt.
        belt_torque_nm: at which the belt slips; infinite without a belt.
        drag_torque_nm: seals and bearings, warm, at set speed.
        cold_drag_share, drag_warms_s: more drag when cold, and how fast it goes.
        ripple_share, ripple_per_turn: of the torque, by commutator, gear or belt.
    """

    kind: DriveKind
    ideal_rad_s: float
    most_torque_nm: float
    nm_per_a: float
    magnetising_a: float
    pull_out_slip: float
    gain_nms: float
    reset_s: float
    ramp_s: float
    motor_inertia_kgm2: float
    ring_inertia_kgm2: float
    belt_torque_nm: float
    drag_torque_nm: float
    cold_drag_share: float
    drag_warms_s: float
    ripple_share: float
    ripple_per_turn: float

    @property
    def start_a(self) -> float:
        """Give the current with the ring held, A."""
        if self.kind is DriveKind.INDUCTION_DIRECT:
            return math.hypot(self.magnetising_a, 2.0 * self.most_torque_nm / self.nm_per_a)
        return math.hypot(self.magnetising_a, self.most_torque_nm / self.nm_per_a)


@dataclass(frozen=True, slots=True)
class Contact:
    """Pin, ring and oil.

    Attributes:
        bare_mu, film_mu, fluid_mu: friction coefficients of spots without a reaction film, with one, and of the oil.
        scuffed_mu: of metal on metal.
        lift: ratio of load borne by oil to load borne by spots, at set speed, 40 degC and run-in pressure.
        thins_per_k: by which the oil thins.
        runs_in_s: in which the scar grows to the load.
        film_grows_s, film_torn_s: mean times in which a patch is covered and in which it is torn.
        unrest_share, unrest_s: fast wander of the friction and its memory.
        slow_share, slow_s: slow wander and its memory.
        turn_share: of the friction, once a turn.
    """

    bare_mu: float
    film_mu: float
    fluid_mu: float
    scuffed_mu: float
    lift: float
    thins_per_k: float
    runs_in_s: float
    film_grows_s: float
    film_torn_s: float
    unrest_share: float
    unrest_s: float
    slow_share: float
    slow_s: float
    turn_share: float


@dataclass(frozen=True, slots=True)
class Lever:
    """Loading lever and the ring's run-out.

    Attributes:
        swings_hz, swing_dies_s: after a weight is set down.
        stick_share: of a load step that the pivot's friction withholds at first; stick_goes_s: until shaken loose.
        run_out_share, run_out_twice_share: load once and twice a turn.
        drawn_in: load gained per unit of friction coefficient; negative where friction lifts the pin.
        takes_s: in which this technician sets a weight down.
        kick_share: swing after a usual step, as a share of it.
    """

    swings_hz: float
    swing_dies_s: float
    stick_share: float
    stick_goes_s: float
    run_out_share: float
    run_out_twice_share: float
    drawn_in: float
    takes_s: float
    kick_share: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Heat of pin and bath.

    Attributes:
        room_degc, set_degc: of the room and of the thermostat; no heater where heater_w is 0.
        heater_w, heater_band_k: its power and its switching band.
        pin_j_k, bath_j_k: heat kept by each.
        pin_k_w: pin over bath for each watt that goes into the pin.
        pin_share: of the friction's work that goes into the pin.
        lost_w_k: by the bath to the room and its cooling.
    """

    room_degc: float
    set_degc: float
    heater_w: float
    heater_band_k: float
    pin_j_k: float
    bath_j_k: float
    pin_k_w: float
    pin_share: float
    lost_w_k: float


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig; usual_torque_nm: friction and drag at the greatest load with a usual oil."""

    radius_m: float
    most_load_n: float
    usual_torque_nm: float
    motor: Motor
    contact: Contact
    lever: Lever
    warmth: Warmth
    sensing: Sensing
    channel_set: ChannelSet

    @property
    def set_rad_s(self) -> float:
        """Give the speed of the ring with the pin lifted, rad/s."""
        motor = self.motor
        if motor.kind is DriveKind.BRUSHED_LIMITED:
            return motor.ideal_rad_s
        droop = motor.drag_torque_nm / motor.most_torque_nm
        if motor.kind is DriveKind.BRUSHED_BARE:
            return motor.ideal_rad_s * (1.0 - droop)
        share = 0.5 if motor.kind is DriveKind.INDUCTION_DIRECT else 1.0
        return motor.ideal_rad_s * (1.0 - share * droop * motor.pull_out_slip)

    @property
    def usual_power_w(self) -> float:
        """Give the friction's work at the greatest load with a usual oil, W."""
        return (self.usual_torque_nm - self.motor.drag_torque_nm) * self.set_rad_s
