"""A rig as it is built: lever, contact, motor, heat and shop; its instruments are in `sensing`.

Reads nothing; `rig_draws` draws these values, everything else uses them. All torques, speeds and
inertias of motors are as seen at the ring.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from world_b.values import ChannelSet, DriveKind

from .sensing import Sensing


@dataclass(frozen=True, slots=True)
class Lever:
    """The loading lever.

    Attributes:
        arm_n: load on the contact with the lever down and no weight hung.
        swing_hz, swing_decay_s: of the lever on the contact.
        pivot_share: of a change of load that the pivot holds back at first; vibration lets it go in `pivot_s`.
        pull: of friction on the lever: load = hung / (1 - pull * friction coefficient).
        runout_share, runout_twice_share: of the load, once and twice a turn.
        kept_share: of the friction force that a wound-up arm still shows when the ring has come to rest.
        set_down_s: that these hands take to set a weight down.
    """

    arm_n: float
    swing_hz: float
    swing_decay_s: float
    pivot_share: float
    pivot_s: float
    pull: float
    runout_share: float
    runout_twice_share: float
    kept_share: float
    set_down_s: float


@dataclass(frozen=True, slots=True)
class Contact:
    """Pin on ring in this oil.

    Attributes:
        film_mu, bare_mu: friction coefficient of spots with and without tribofilm.
        fluid_mu: of the share of load that oil bears, at set speed and usual temperature.
        thickness: oil film over roughness of a run-in contact at the greatest load; spots bear exp(-thickness).
        roughness_new: of a new pin, as a multiple of a run-in one.
        run_in_s: in which roughness goes.
        growth_s: in which tribofilm covers spots that rub.
        loss_s: in which it is worn off again.
        bears_mpa_share: pressure that the scar bears without widening, over that of the greatest load on a new scar.
        widen_s: in which a scar widens.
        unrest_share, unrest_memory_s: of friction, quick.
        slow_share, slow_memory_s: of friction, slow.
        scuffed_mu: of bare metal on bare metal.
        thinning_per_k: of the oil.
    """

    film_mu: float
    bare_mu: float
    fluid_mu: float
    thickness: float
    roughness_new: float
    run_in_s: float
    growth_s: float
    loss_s: float
    bears_mpa_share: float
    widen_s: float
    unrest_share: float
    unrest_memory_s: float
    slow_share: float
    slow_memory_s: float
    scuffed_mu: float
    thinning_per_k: float


@dataclass(frozen=True, slots=True)
class Motor:
    """What turns the ring, all seen at the ring.

    Attributes:
        kind: see `DriveKind`.
        set_rad_s: of the ring with the pin lifted.
        stall_nm: torque of a brushed motor that stands, breakdown torque of an induction motor.
        limit_nm: torque that a controller or an inverter allows.
        break_slip: slip of the breakdown torque, as a share of the synchronous speed.
        ramp_s: that a controller or an inverter takes to the set speed.
        motor_kgm2, ring_kgm2: inertia.
        drag_nm: of seals and bearings, warm; `cold_share` more when cold, gone in `warm_s`.
        belt_nm: that the belt passes on; infinite without one.
        amps_per_nm, idle_a: current by torque, and with none.
        cog_share, cog_per_turn: unrest of the drag and how often in a turn of the ring (gear, belt or poles).
    """

    kind: DriveKind
    set_rad_s: float
    stall_nm: float
    limit_nm: float
    break_slip: float
    ramp_s: float
    motor_kgm2: float
    ring_kgm2: float
    drag_nm: float
    cold_share: float
    warm_s: float
    belt_nm: float
    amps_per_nm: float
    idle_a: float
    cog_share: float
    cog_per_turn: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Where friction heat goes.

    Attributes:
        room_degc, bath_set_degc: of the shop, and of the thermostat; the room's where there is none.
        heater_w, band_k, two_point: 0 without heater; band of the thermostat; whether it only switches.
        bath_j_k, bath_w_k: heat held, and lost to room and cooling together.
        cooled_share: of that loss that goes to cooling.
        pin_j_k, pin_w_k: of the metal at the thermocouple's well, to the bath.
        pin_share: of the friction heat that goes through the pin.
    """

    room_degc: float
    bath_set_degc: float
    heater_w: float
    band_k: float
    two_point: bool
    bath_j_k: float
    bath_w_k: float
    cooled_share: float
    pin_j_k: float
    pin_w_k: float
    pin_share: float


@dataclass(frozen=True, slots=True)
class Shop:
    """What is heard where the rig stands, dB at the meter.

    Attributes:
        background_db, wander_db: with everything off.
        motor_db: of the drive at set speed.
        contact_db: of 1 W friction in oil; `scuffed_db` more when all of it is scuffed.
        meter_s: 0.125 Fast, 1.0 Slow (IEC 61672-1).
    """

    background_db: float
    wander_db: float
    motor_db: float
    contact_db: float
    scuffed_db: float
    meter_s: float


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig.

    Attributes:
        radius_m: of the ring.
        most_load_n: greatest load of its staircase.
        limits: what the technician set, by channel, whether or not the channel is there.
        no_load_a: what he read.
    """

    radius_m: float
    most_load_n: float
    lever: Lever
    contact: Contact
    motor: Motor
    warmth: Warmth
    shop: Shop
    sensing: Sensing
    channel_set: ChannelSet
    limits: Mapping[str, float]
    no_load_a: float
