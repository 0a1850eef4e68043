"""The plan of a recording: what hands, surroundings and fate do, and when. Values only.

Every time is on the unbroken clock of the recording, in s from its first row.
"""

from dataclasses import dataclass, field

from world_b.values import Fault, Kind, Nuisance, Precursor

from .contact import Damage
from .heat import HeatTrouble
from .lever import Blow, Placement


@dataclass(frozen=True, slots=True)
class Span:
    """A time from `begin_s` to `end_s`."""

    begin_s: float
    end_s: float

    def holds(self, t_s: float) -> bool:
        """Say whether a moment lies in it."""
        return self.begin_s <= t_s < self.end_s


@dataclass(frozen=True, slots=True)
class Sag:
    """A dip of the supply to `volts_share`."""

    begin_s: float
    duration_s: float
    volts_share: float


@dataclass(frozen=True, slots=True)
class FilmChange:
    """A slow change of the oil film to a factor, for good, or back again after `hold_s`."""

    t_s: float
    over_s: float
    factor: float
    hold_s: float = float("inf")


@dataclass(frozen=True, slots=True)
class Rise:
    """A short rise of friction by a share: up within `up_s`, down again with `heal_s` after `length_s`."""

    t_s: float
    length_s: float
    share: float
    up_s: float
    heal_s: float


@dataclass(frozen=True, slots=True)
class Noise:
    """A sound from outside the contact: level above the room, and the time it takes to swell and fade."""

    kind: Kind
    t_s: float
    duration_s: float
    above_db: float
    swell_s: float


@dataclass(frozen=True, slots=True)
class Spell:
    """A spell of stick-slip of a share of the rig's own strength."""

    begin_s: float
    duration_s: float
    strength: float


@dataclass(frozen=True, slots=True)
class Trouble:
    """What goes wrong with contact, heat or drive.

    Attributes:
        t_s: the layer fails, the jam begins to hold, the abnormal heating begins.
        precursor, first_s: see `Precursor`; its beginning, = t_s without one.
        rises: of a precursor of bursts or a small scuff.
        creep_share: rise of friction by a creep, or once a turn, at `t_s`.
        damage, severe_after_s: how it scuffs; time to three times the force, or to half of the rise, that is aimed at.
        chatter_share: fast unrest of a scuffed contact.
        sound_db: change of the contact's level once scuffed.
        jam_share, jam_over_s: torque from outside, over full torque, and the time in which it comes; 0 for none.
        heat, heat_within_s: abnormal heating, and the time to the limit that is aimed at.
        hand_off_s: from `t_s` until somebody switches the motor off; infinite if nobody does.
    """

    t_s: float
    first_s: float
    precursor: Precursor = Precursor.NONE
    rises: tuple[Rise, ...] = ()
    creep_share: float = 0.0
    damage: Damage | None = None
    severe_after_s: float = 1.0
    chatter_share: float = 0.0
    sound_db: float = 0.0
    jam_share: float = 0.0
    jam_over_s: float = 0.1
    heat: HeatTrouble | None = None
    heat_within_s: float = 0.0
    hand_off_s: float = float("inf")


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """A sensor that goes wrong for good, and numbers that say how (see `faults`)."""

    t_s: float
    fault: Fault
    channel: str
    pace: float
    way: int


@dataclass
class Plan:
    """Everything that happens; filled while a story is written, read only after.

    Attributes:
        length_s: of the recording.
        start_load_n, placements, blows, loads_n: see `lever`; loads in the order they were set.
        running, warm: begins in mid run, and how far warmed up, 0 to 1.
        on: spans in which the motor is switched on.
        lost: span without supply; None for none.
        sags, films, rises, creeps, top_ups, nights, noises, squeals, spells: nuisances; creeps: what the ring loses of
            its speed while the belt slips; top-ups as (t_s, drop_k), nights as (t_s, away_s).
        trouble, fault: what must be found.
        nuisances: for the truth.
        spikes_per_hour, missing_per_hour, holes_per_hour, repeats_per_hour, backward_per_hour: of samples and stamps.
        start_stamp_s: what the first row says.
    """

    length_s: float
    start_load_n: float = 0.0
    running: bool = False
    warm: float = 0.0
    placements: list[Placement] = field(default_factory=list)
    blows: list[Blow] = field(default_factory=list)
    loads_n: list[float] = field(default_factory=list)
    on: list[Span] = field(default_factory=list)
    lost: Span | None = None
    sags: list[Sag] = field(default_factory=list)
    films: list[FilmChange] = field(default_factory=list)
    rises: list[Rise] = field(default_factory=list)
    creeps: list[Rise] = field(default_factory=list)
    top_ups: list[tuple[float, float]] = field(default_factory=list)
    nights: list[tuple[float, float]] = field(default_factory=list)
    noises: list[Noise] = field(default_factory=list)
    squeals: list[Noise] = field(default_factory=list)
    spells: list[Spell] = field(default_factory=list)
    trouble: Trouble | None = None
    fault: FaultPlan | None = None
    nuisances: list[Nuisance] = field(default_factory=list)
    spikes_per_hour: float = 0.0
    missing_per_hour: float = 0.0
    holes_per_hour: float = 0.0
    repeats_per_hour: float = 0.0
    backward_per_hour: float = 0.0
    start_stamp_s: float = 0.0

    def note(self, kind: Kind, t_s: float, duration_s: float = 0.0) -> None:
        """Put a nuisance on record."""
        self.nuisances.append(Nuisance(kind, t_s, duration_s))

    @property
    def quiet_from_s(self) -> float:
        """Give the time from which trouble may show; nothing else of weight is planned from shortly before."""
        return float("inf") if self.trouble is None else self.trouble.first_s
