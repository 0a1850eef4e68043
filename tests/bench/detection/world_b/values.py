"""Values of the second simulated world: classes of recordings, what is known of a rig, what really happened.

Reads nothing. Every time is on the clock of the recording's stamps, in s; NaN where a thing did not happen.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

NAN = float("nan")

NORMAL_LOAD = "normal_load_n"
FRICTION_FORCE = "friction_force_n"
MOTOR_CURRENT = "motor_current_a"
SOUND_LEVEL = "sound_level_db"
PIN_TEMPERATURE = "pin_temperature_degc"
BATH_TEMPERATURE = "bath_temperature_degc"
RING_SPEED = "ring_speed_rpm"


class Klass(Enum):
    """Closed set of recordings this world makes."""

    STAIRCASE = "staircase"
    ENDURANCE = "endurance"
    SCUFFING_LONG = "scuffing, long precursor"
    SCUFFING_SHORT = "scuffing, short precursor"
    SCUFFING_SUDDEN = "scuffing, sudden"
    SEIZURE = "seizure to stall"
    JAM = "jam from outside"
    OVERHEAT = "overheat"
    STICK_SLIP = "stick-slip"
    SQUEAL = "squeal"
    SENSOR_FAULT = "sensor fault"
    SCUFFING_WITH_FAULT = "scuffing with a sensor fault"
    SUPPLY_LOST = "motor supply lost"
    STARTS_AND_STOPS = "starts and stops"


SCUFFINGS = (Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN, Klass.SCUFFING_WITH_FAULT)
TRIP_WORTHY = (*SCUFFINGS, Klass.SEIZURE, Klass.JAM, Klass.OVERHEAT)


class ChannelSet(Enum):
    """Which channels a rig has."""

    ALL = "all seven"
    FRICTION_CELL = "friction cell, current, sound, pin thermocouple"
    LOAD_CELL = "load cell under the lever, current, sound, pin thermocouple, speed"
    CURRENT_AND_SPEED = "current and speed"
    CURRENT_ONLY = "motor current alone"


CHANNELS_OF: Mapping[ChannelSet, tuple[str, ...]] = {
    ChannelSet.ALL: (
        NORMAL_LOAD,
        FRICTION_FORCE,
        MOTOR_CURRENT,
        SOUND_LEVEL,
        PIN_TEMPERATURE,
        BATH_TEMPERATURE,
        RING_SPEED,
    ),
    ChannelSet.FRICTION_CELL: (FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE),
    ChannelSet.LOAD_CELL: (NORMAL_LOAD, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, RING_SPEED),
    ChannelSet.CURRENT_AND_SPEED: (MOTOR_CURRENT, RING_SPEED),
    ChannelSet.CURRENT_ONLY: (MOTOR_CURRENT,),
}


class DriveKind(Enum):
    """What turns the ring."""

    BRUSHED_BARE = "brushed DC motor on a fixed voltage"
    BRUSHED_LIMITED = "brushed DC motor on a speed controller with a current limit"
    INDUCTION_DIRECT = "induction motor switched straight onto the mains"
    INDUCTION_INVERTER = "induction motor on an inverter"


class Tachometer(Enum):
    """How the speed is read."""

    PERIOD = "time between pulses"
    GATE = "pulses counted over a gate"
    ANALOGUE = "tachometer generator"


class Precursor(Enum):
    """What the contact shows before it scuffs."""

    NONE = "none"
    BURSTS = "bursts at random times"
    ONCE_PER_TURN = "a hot patch that passes once a turn"
    CREEP = "slow rise with growing unrest"
    MICRO_SCUFF = "a small scuff that heals"


class Fault(Enum):
    """What a sensor can do wrong for good."""

    STUCK = "stuck"
    SATURATED = "saturated"
    OPEN_THERMOCOUPLE = "open thermocouple"
    DROPOUT = "dropout"
    DRIFT = "drift"
    SIGN_FLIP = "sign flip"
    TACHOMETER_LOST = "tachometer lost"


class Kind(Enum):
    """Closed set of healthy nuisances."""

    LOADED_START = "started under load"
    MID_RUN = "recording begins in mid run"
    SET_DOWN_TWICE = "weight set down twice"
    HARD_SET_DOWN = "weight dropped on"
    TAKEN_OFF_AGAIN = "weight taken off again"
    LIFTED = "lever lifted to change weights"
    BUMP = "lever bumped"
    PAUSE = "motor paused"
    RESTART_BEFORE_REST = "restarted before at rest"
    INCHING = "inching"
    DAY_BETWEEN = "a day between"
    FILM_TRANSITION = "slow film transition"
    DEBRIS = "a particle passes"
    STICK_SLIP = "stick-slip"
    SQUEAL = "squeal"
    OIL_TOP_UP = "oil topped up"
    DOOR_SLAM = "door slam"
    NEIGHBOUR = "neighbour machine"
    VOICES = "voices"
    BRIEF_DIP = "mains dip, motor keeps turning"
    SPIKES = "electrical spikes"
    SHORT_DROPOUTS = "samples missing"
    HOLES = "rows missing"
    DUPLICATE_STAMPS = "stamps repeated"
    BACKWARD_STAMPS = "stamps running backward"
    MAINS_HUM = "mains hum on the friction cell"
    COARSE_TEMPERATURE = "temperature in steps of 0.5 degC"
    CURRENT_RAIL = "start current beyond the sensor"


@dataclass(frozen=True, slots=True)
class Nuisance:
    """One healthy thing that looks like something.

    Attributes:
        kind: what.
        t_s: when it begins; 0 where it lasts the whole recording.
        duration_s: how long; 0 for a moment.
    """

    kind: Kind
    t_s: float
    duration_s: float = 0.0


@dataclass(frozen=True, slots=True)
class RigFacts:
    """What the technician knows and would write down.

    Attributes:
        ring_diameter_mm: of the running track.
        ring_speed_rpm: set speed of the ring with the pin lifted.
        no_load_current_a: read by hand with the pin lifted, a few per cent wrong.
        ranges: valid values of each channel, in its unit.
        limits: what the technician would set, by channel, in its unit.
        channel_set: see `ChannelSet`.
        drive: see `DriveKind`.
        belt: whether a belt between motor and ring can slip.
        tachometer: see `Tachometer`; meaningless without a speed channel.
        pulses_per_turn: of the tachometer; 0 for the analogue one.
        tachometer_on_motor: whether it sits on the motor shaft (in ring r/min), blind to a slipping belt.
        loads_n: every load in the order it was set, N.
    """

    ring_diameter_mm: float
    ring_speed_rpm: float
    no_load_current_a: float
    ranges: Mapping[str, tuple[float, float]]
    limits: Mapping[str, float]
    channel_set: ChannelSet
    drive: DriveKind
    belt: bool
    tachometer: Tachometer
    pulses_per_turn: int
    tachometer_on_motor: bool
    loads_n: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Truth:
    """What happened.

    Attributes:
        trip_worthy: whether the motor ought to be stopped at all.
        earliest_legitimate_trip_s: no trip before this is right; first precursor, onset, jam, lost supply, or the
            abnormal heating, at most 180 s before the limit.
        onset_s: the contact begins to scuff.
        severe_s: friction force reaches three times what it was before; NaN where it never does.
        stall_s: the ring falls below 2 % of its set speed while the motor still pulls.
        jam_s: a torque from outside the contact begins to hold the ring.
        overheat_s: the true temperature passes the technician's limit.
        supply_lost_s: the motor loses its supply; a finding of that name is right, a trip is neither asked nor wrong.
        fault_s, fault, fault_channel: a sensor goes wrong; a finding of a sensor fault is right from then on.
        precursor: see `Precursor`.
        seen_by: channels on which scuffing, seizure or jam moves by more than five times their own unrest within ten
            seconds; after an overheat, the channels that have a temperature limit.
        nuisances: every healthy thing, in order of time.
    """

    trip_worthy: bool
    earliest_legitimate_trip_s: float = NAN
    onset_s: float = NAN
    severe_s: float = NAN
    stall_s: float = NAN
    jam_s: float = NAN
    overheat_s: float = NAN
    supply_lost_s: float = NAN
    fault_s: float = NAN
    fault: Fault | None = None
    fault_channel: str = ""
    precursor: Precursor = Precursor.NONE
    seen_by: tuple[str, ...] = ()
    nuisances: tuple[Nuisance, ...] = ()


@dataclass(frozen=True, slots=True)
class Recording:
    """What a detector may see, and beside it what it may not.

    Attributes:
        time_s: (n,) float64, s; as stamped, so it may repeat, run backward or jump.
        channels: name to (n,) float64 in its unit; NaN is missing.
        rig: may be used.
        truth: may be used for scoring only.
    """

    time_s: Floats
    channels: dict[str, Floats]
    rig: RigFacts
    truth: Truth


@dataclass(frozen=True, slots=True)
class Inside:
    """The noise-free world behind a recording, on a clock without breaks; for tests of the world itself.

    Attributes:
        t_s: (n,) s, evenly spaced, before any row is lost.
        normal_load_n, friction_force_n: (n,) at the contact.
        motor_current_a, ring_speed_rad_s, motor_speed_rad_s: (n,); both speeds as seen at the ring.
        shaft_torque_nm: (n,) given by the motor, seen at the ring.
        bath_temperature_degc, pin_temperature_degc: (n,) true.
        sound_level_db: (n,) before the meter.
        on: (n,) bool, the motor is switched on and has its supply.
        heat_in_j, bath_heat_j: friction and heater work put in, heat kept by the bath, over the recording.
        drag_torque_nm: of seals and bearings at set speed, warm.
        ring_radius_m: metres.
    """

    t_s: Floats
    normal_load_n: Floats
    friction_force_n: Floats
    motor_current_a: Floats
    ring_speed_rad_s: Floats
    motor_speed_rad_s: Floats
    shaft_torque_nm: Floats
    bath_temperature_degc: Floats
    pin_temperature_degc: Floats
    sound_level_db: Floats
    on: Flags
    heat_in_j: float
    bath_heat_j: float
    drag_torque_nm: float
    ring_radius_m: float
