"""What a rig is made of, in SI units; every torque, speed and inertia as seen at the ring.

Reads nothing. `rig_draws` fills it, `facts` says what the technician knows of it.
"""

from dataclasses import dataclass

from world_b.values import ChannelSet, DriveKind, Tachometer


@dataclass(frozen=True, slots=True)
class Motor:
    """Motor, belt and what they have to turn."""

    kind: DriveKind
    set_speed_rad_s: float  # with the pin lifted and the bearings warm
    rated_torque_nm: float  # it can give all day
    most_torque_nm: float  # at stall (bare), limit (controller, inverter), or pull-out (direct)
    drag_torque_nm: float  # of seals and bearings at set speed, warm
    cold_drag_share: float  # by how much more they drag when cold
    amps_per_nm: float  # of the current that makes torque
    idle_a: float  # magnetising current of an induction motor; 0 of a brushed one
    slip: float  # at rated torque (inverter), at pull-out (direct); 0 for brushed motors
    ramp_s: float  # from rest to set speed, of a controller or inverter; 0 for the others
    motor_inertia_kgm2: float  # on either side of the belt
    ring_inertia_kgm2: float
    belt_torque_nm: float  # above which the belt slips; infinite without a belt
    volts_wander_share: float  # slow spread of the supply


@dataclass(frozen=True, slots=True)
class Contact:
    """Pin, ring and oil."""

    film_mu: float  # friction coefficient of a grown film, without help of the oil's pressure
    bare_share: float  # by how much friction is higher where the film has not grown yet
    fluid_mu: float  # of the part of the load that the oil carries
    fluid_ratio: float  # load carried by oil over load carried by film, at set speed, 40 degC, worn in
    viscosity_per_k: float  # relative fall of the viscosity with temperature, 1/K
    wear_in_s: float  # time constants of the scar that widens and of the film that grows
    film_s: float
    static_share: float  # by how much friction is higher at rest
    left_share: float  # of the friction force, that a stopped pin holder keeps
    fast_share: float  # unrest of friction, relative
    slow_share: float
    slow_s: float  # memory of the slow unrest
    fast_s: float  # memory of the fast unrest
    run_out_share: float  # of the load, once a turn
    scuffed_mu: float  # of a contact that is scuffed all over
    lift_share: float  # normal load gained per unit of friction coefficient; the lever's geometry, either sign


@dataclass(frozen=True, slots=True)
class Warmth:
    """Oil bath and pin."""

    ambient_degc: float  # of the room
    bath_j_k: float  # heat the bath stores and loses
    bath_w_k: float
    pin_w_k: float  # from the pin into the bath
    pin_s: float  # time constant of the pin
    pin_share: float  # of the friction heat that goes into the pin
    heater_w: float  # 0 without a heater
    held_degc: float  # at which a heated bath is held; ambient without a heater
    on_off: bool  # the thermostat switches, with 0.8 K between on and off; else it is proportional


@dataclass(frozen=True, slots=True)
class Sensing:
    """Instruments: time constants, full scales, resolutions; noise is relative to the full scale."""

    channel_set: ChannelSet
    cell_n: float  # full scale of the friction cell
    cell_s: float  # of both force amplifiers
    load_cell_n: float  # full scale
    force_noise: float  # of full scale
    current_full_a: float
    current_s: float  # of the transducer; of the average of an alternating current
    current_noise: float  # of full scale
    couple_s: float  # lag of either thermocouple
    couple_step_k: float  # resolution; 0 for none
    couple_noise_k: float
    sound_s: float  # 0.125 or 1 s (IEC 61672-1)
    quiet_db: float  # the room without the rig
    rig_db: float  # the rig at set speed, pin lifted
    tachometer: Tachometer
    pulses_per_turn: int  # 0 for a generator
    gate_s: float
    tachometer_on_motor: bool  # and not on the ring


@dataclass(frozen=True, slots=True)
class Rig:
    """One bench, and the habits of the people at it."""

    radius_m: float  # of the ring's track
    most_load_n: float  # the last load of a full staircase
    lever_hz: float  # of lever and weights
    lever_damping: float
    lifts: bool  # the lever is lifted for every change of weights
    dwell_s: float  # from load to load
    mid_run: bool  # recordings begin while it runs
    loaded_start: bool
    hum: bool  # the friction cell picks up the mains; temperatures come in steps of half a degree
    coarse: bool
    motor: Motor
    contact: Contact
    warmth: Warmth
    sensing: Sensing
