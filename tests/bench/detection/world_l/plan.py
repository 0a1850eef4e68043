"""What is to happen in a recording: values only. Reads nothing; `timeline` draws them, the rest of the world acts."""

import math
from dataclasses import dataclass
from enum import Enum

from world_b.values import NAN, Kind, Nuisance, Precursor

from world_l.heat import HEALTHY, HeatTrouble


class Manner(Enum):
    """How a load comes on."""

    SMOOTH = "let down with care"
    HARD = "dropped"
    TWICE = "set down, lifted again, set down"
    SLOW = "water runs in"
    TURNS = "the screw is turned by hand"
    AIR = "the regulator is opened"


@dataclass(frozen=True, slots=True)
class LoadMove:
    """From `t_s` on the load goes to `load_n`."""

    t_s: float
    load_n: float
    manner: Manner
    lasts_s: float


class Act(Enum):
    """Healthy things done to, or happening at, the contact, the lever, the room."""

    FILM = "film transition"
    DEBRIS = "particle"
    BUMP = "bump"
    LEAN = "somebody leans on the bench"
    WIPE = "ring wiped or brushed"
    STARVE = "oil level falls, then topped up"
    FOAM = "oil foams"
    DROP = "a drop of oil at the inlet"
    STICK_SLIP = "stick-slip"
    SQUEAL = "squeal"
    SLAM = "door slam"
    NEIGHBOUR = "neighbour machine"
    VOICES = "voices"
    COVER = "enclosure opened"
    MIC = "microphone gain changed"
    DIP = "mains dip"


@dataclass(frozen=True, slots=True)
class Happening:
    """One such thing; `size` is relative for friction and supply, dB for sound; `seed` shapes its details."""

    act: Act
    t_s: float
    lasts_s: float
    size: float
    seed: int


class Growth(Enum):
    """How friction climbs once the contact scuffs."""

    LOGISTIC = "smooth and even"
    RUNAWAY = "ever faster"
    SAW_TOOTH = "welds that grow and break"
    PLATEAU_AND_GO = "a plateau, then on"
    LADDER = "irregular steps"
    JUMP = "a jump that settles"


@dataclass(frozen=True, slots=True)
class ScuffPlan:
    """A scuffing.

    Attributes:
        onset_s, grows_s, growth, factor: begin, length, shape and end of the rise of the friction coefficient.
        precursor, precursor_s: kind and begin of what came before; `precursor_s` is the onset where nothing did.
        precursor_size: relative size of a precursor.
        after_unrest: relative unrest of scuffed friction.
        after_decline: share of the rise lost again in the minute after, as the scar widens.
        sound_db: change of the contact's sound; may be negative.
        welds: friction goes on growing until the ring stands.
        seed: shapes the details.
    """

    onset_s: float
    grows_s: float
    growth: Growth
    factor: float
    precursor: Precursor
    precursor_s: float
    precursor_size: float
    after_unrest: float
    after_decline: float
    sound_db: float
    welds: bool
    seed: int


@dataclass(frozen=True, slots=True)
class JamPlan:
    """Something holds the ring from outside: torque rises over `grips_s` to `strength` of what stops the motor."""

    t_s: float
    grips_s: float
    strength: float


@dataclass(frozen=True, slots=True)
class OverheatPlan:
    """Heat trouble from `t_s` on; `trouble` is made stronger until a limit is passed by `by_s`."""

    t_s: float
    by_s: float
    pin_only: bool
    friction_gain: float


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """A sensor goes wrong; the channel is drawn among those the recording has by `draw` in 0 to 1."""

    t_s: float
    draw: float
    seed: int


@dataclass(frozen=True, slots=True)
class Plan:
    """All of it.

    Attributes:
        duration_s: on the clock without breaks.
        start_stamp_s: stamp of the first row.
        switched: times of motor on and off, in pairs; the first on is negative when the recording begins in mid run.
        loads: see `LoadMove`; the first is at or before 0.
        warm: how far heat, drag and surface film have come at the start, 0 to 1.
        day_at_s, day_jump_s: a day between; NaN none.
    """

    duration_s: float
    start_stamp_s: float
    switched: tuple[tuple[float, float], ...]
    loads: tuple[LoadMove, ...]
    warm: float
    happenings: tuple[Happening, ...] = ()
    nuisances: tuple[Nuisance, ...] = ()
    scuff: ScuffPlan | None = None
    jam: JamPlan | None = None
    overheat: OverheatPlan | None = None
    fault: FaultPlan | None = None
    supply_lost_s: float = NAN
    day_at_s: float = NAN
    day_jump_s: float = 0.0
    kinds_of_stamps: tuple[Kind, ...] = ()

    def stamp_s(self, t_s: float) -> float:
        """Give the stamp of a time on the clock without breaks."""
        jump_s = self.day_jump_s if not math.isnan(self.day_at_s) and t_s >= self.day_at_s else 0.0
        return self.start_stamp_s + t_s + jump_s


def trouble_at(overheat: OverheatPlan | None, strength: float, watts: float, t_s: float) -> HeatTrouble:
    """Give the heat trouble at a time; `watts` scales a heater stuck on, `strength` how bad it is."""
    if overheat is None or t_s < overheat.t_s:
        return HEALTHY
    if overheat.pin_only:
        return HeatTrouble(pin_cooling=1.0 / (1.0 + strength))
    return HeatTrouble(extra_bath_w=watts * strength)
