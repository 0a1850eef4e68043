"""What can happen in a recording, as values: damage, jam, abnormal heating, sensor fault, and the story of them all.

Reads nothing. Everything is in true time, s, without breaks. `stories` fills them.
"""

from dataclasses import dataclass, field

from .rigs import Rig
from .script import Script
from .values import NAN, Fault, Klass, Precursor


@dataclass(frozen=True, slots=True)
class Scuff:
    """How friction grows once the contact gives way.

    Attributes:
        onset_s: begin.
        ratio: friction at the end over friction before.
        rise_s: time scale of the rise.
        shape: `saturating`, `smooth`, `steps` or `late`.
        chatter_share, chatter_s: unrest of the scuffed contact and its correlation time.
    """

    onset_s: float
    ratio: float
    rise_s: float
    shape: str
    chatter_share: float
    chatter_s: float


@dataclass(frozen=True, slots=True)
class Jam:
    """A torque from outside the contact, up to `most_share` of the strongest the drive can give, within rise_s."""

    t_s: float
    rise_s: float
    most_share: float
    on_motor: bool
    knock_db: float


@dataclass(frozen=True, slots=True)
class Overheat:
    """Abnormal heating: `fan` (less loss), `heater` (stuck on), `starved` (pin only); size of the change."""

    t_s: float
    cause: str
    factor: float


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """A sensor goes wrong for good."""

    fault: Fault
    t_s: float
    channel: str
    size: float


@dataclass(slots=True)
class Story:
    """Everything that happens, before any of it is a signal."""

    klass: Klass
    rig: Rig
    script: Script
    duration_s: float = 0.0
    quiet_s: float = float("inf")
    scuff: Scuff | None = None
    precursor: Precursor = Precursor.NONE
    precursor_s: float = NAN
    jam: Jam | None = None
    overheat: Overheat | None = None
    supply_lost_s: float = NAN
    supply_back_s: float = float("inf")
    fault: FaultPlan | None = None
    spell_share: float = 0.0
    dips: list[tuple[float, float]] = field(default_factory=list)
