"""What is going to happen in one recording. Reads nothing; drawn by `hands`, `things` and `plans`."""

from dataclasses import dataclass
from enum import Enum

from world_b.values import Fault, Nuisance, Precursor


@dataclass(frozen=True, slots=True)
class Hang:
    """From t_s on the load goes to load_n within takes_s and then swings by kick_share of the step."""

    t_s: float
    load_n: float
    takes_s: float
    kick_share: float


@dataclass(frozen=True, slots=True)
class Hands:
    """What the technician does.

    Attributes:
        duration_s: of the recording.
        hangs, switches: in order of time; the motor's switch is (s, on).
        nights: moments, with the motor off, at which a night passes.
        stages: (begin, end) of every stage in which load and motor are left alone, s.
        nuisances: of the hands.
    """

    duration_s: float
    hangs: tuple[Hang, ...]
    switches: tuple[tuple[float, bool], ...]
    nights: tuple[float, ...]
    stages: tuple[tuple[float, float], ...]
    nuisances: tuple[Nuisance, ...]


@dataclass(frozen=True, slots=True)
class HarmPlan:
    """How the contact fails.

    Attributes:
        precursor, first_s, onset_s: sign, its begin and the begin of scuffing; the same moment without a sign.
        grows_s: in which the scuffed share grows to most of final_share.
        stages: pauses of the growth.
        eases_s: memory with which it heals later; 0 where it does not.
        welds_s: after the onset, until welding has doubled the scuffed friction; 0 where nothing welds.
    """

    precursor: Precursor
    first_s: float
    onset_s: float
    grows_s: float
    final_share: float
    stages: int
    eases_s: float
    welds_s: float


@dataclass(frozen=True, slots=True)
class JamPlan:
    """A torque from outside the contact: begins at t_s, grows to torque_nm within grows_s."""

    t_s: float
    grows_s: float
    torque_nm: float


class TroubleKind(Enum):
    """Why it gets too hot."""

    COOLING_FAILS = "cooling fails"
    HEATER_STAYS_ON = "heater stays on"
    OIL_LOST = "oil lost"


@dataclass(frozen=True, slots=True)
class TroublePlan:
    """An abnormal heating from t_s on; strength 0..1 goes from the mildest to the worst of its kind."""

    t_s: float
    kind: TroubleKind
    strength: float


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """One sensor goes wrong for good at t_s."""

    t_s: float
    fault: Fault
    channel: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that happens in one recording; NaN and None where a thing does not."""

    duration_s: float
    hands: Hands
    nuisances: tuple[Nuisance, ...]
    first_s: float
    harm: HarmPlan | None
    jam: JamPlan | None
    trouble: TroublePlan | None
    supply_lost_s: float
    fault: FaultPlan | None
