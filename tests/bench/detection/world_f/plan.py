"""What will happen in one recording, before it is turned.

Reads nothing; `timetable`, `mishaps` and `breakdown` draw these values.
"""

from dataclasses import dataclass
from enum import Enum
from math import isnan

from world_b.values import NAN, Kind, Nuisance, Precursor


class Way(Enum):
    """How hands set a weight down or lift it."""

    GENTLE = "gently"
    HARD = "dropped"
    TWICE = "set down twice"


@dataclass(frozen=True, slots=True)
class Hanging:
    """From `t_s` on the lever is asked to carry `load_n` at the contact."""

    t_s: float
    load_n: float
    way: Way = Way.GENTLE


@dataclass(frozen=True, slots=True)
class Switch:
    """The motor is switched on or off by hand at `t_s`; a negative time means before the recording begins."""

    t_s: float
    on: bool


@dataclass(frozen=True, slots=True)
class Mishap:
    """A healthy nuisance as it is to be made.

    Attributes:
        kind, t_s, duration_s: see `Nuisance`.
        size: 0 to 1, small to great; what that means is told where it is made.
    """

    kind: Kind
    t_s: float
    duration_s: float = 0.0
    size: float = 0.5


@dataclass(frozen=True, slots=True)
class Scuffing:
    """A contact fails.

    Attributes:
        sign_s: the first sign; equal to `onset_s` without a precursor.
        onset_s, precursor: see `Truth`.
        size: 0 to 1, of the precursor.
        growth_s: until the scuffed area is complete.
        share: of the load that scuffed metal bears in the end.
        crowding: exponent of the branching: near 1 it explodes, near 0 it creeps on evenly.
        stages: in how many it grows.
        eases_share, eases_s: of the scuffed share that smooths again, in this time.
        welds_in_s: time from the complete area until welds can hold any motor; NaN where nothing welds.
    """

    sign_s: float
    onset_s: float
    precursor: Precursor
    size: float
    growth_s: float
    share: float
    crowding: float
    stages: int
    eases_share: float
    eases_s: float
    welds_in_s: float = NAN


@dataclass(frozen=True, slots=True)
class Jam:
    """A torque from outside holds the ring from `t_s`; complete `grows_s` later, times what the drive gives."""

    t_s: float
    grows_s: float
    strength: float


class HeatTrouble(Enum):
    """Why a rig overheats."""

    HEATER_STUCK = "thermostat sticks on"
    COOLING_FAILS = "cooling fails"
    OIL_LOST = "oil lost from the pin"


@dataclass(frozen=True, slots=True)
class Overheat:
    """Abnormal heating from `t_s`; severity 0 to 1: how much cooling or oil is lost, or heater on."""

    t_s: float
    trouble: HeatTrouble
    severity: float


@dataclass(frozen=True, slots=True)
class SensorFault:
    """From `t_s` a sensor is wrong; `order` 0 to 1 chooses which, of those that the rig has."""

    t_s: float
    order: float
    size: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One recording.

    Attributes:
        duration_s: on the clock without breaks.
        loads, switches, mishaps: in order of time.
        running: the ring turns, warm and run in, as the recording begins.
        supply_lost_s: NaN where it is not.
        nights: (moment on the clock without breaks, length), s; nothing turns then.
    """

    duration_s: float
    loads: tuple[Hanging, ...]
    switches: tuple[Switch, ...]
    mishaps: tuple[Mishap, ...]
    running: bool = False
    scuffing: Scuffing | None = None
    jam: Jam | None = None
    overheat: Overheat | None = None
    supply_lost_s: float = NAN
    fault: SensorFault | None = None
    nights: tuple[tuple[float, float], ...] = ()

    def of(self, kind: Kind) -> tuple[Mishap, ...]:
        """Give the nuisances of one kind."""
        return tuple(mishap for mishap in self.mishaps if mishap.kind is kind)

    def touched_until_s(self) -> float:
        """Give the moment from which nobody touches lever and switch: sign, jam, supply lost, or end of recording."""
        if self.scuffing is not None:
            return self.scuffing.sign_s
        if self.jam is not None:
            return self.jam.t_s
        return self.duration_s if isnan(self.supply_lost_s) else self.supply_lost_s

    def nuisances(self) -> tuple[Nuisance, ...]:
        """Give the nuisances as the truth tells them, on the clock without breaks."""
        return tuple(Nuisance(each.kind, each.t_s, each.duration_s) for each in self.mishaps)
