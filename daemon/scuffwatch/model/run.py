"""Runs and stages: what is being done at the rig and how it ended.

Reads nothing. The core opens and closes runs, the store keeps them, the pages show them.
"""

from dataclasses import dataclass, field
from enum import Enum


class RunKind(Enum):
    """A *test* may be compared; a *setup* never is. Every limit is armed in both."""

    TEST = "test"
    SETUP = "setup"


class Outcome(Enum):
    """How a run ended. A run without an outcome was ended by power loss."""

    HELD = "held"
    SCUFFED = "scuffed"
    STALLED = "stalled"
    JAMMED = "jammed"
    OVERHEATED = "overheated"
    STOPPED = "stopped"
    SENSOR_FAULT = "sensor fault"
    POWER_LOSS = "ended by power loss"


@dataclass(frozen=True, slots=True)
class RunHeader:
    """What is known of a run when it opens.

    Attributes:
        name: made by the program: date, rig, serial number of the day.
        kind: test or setup.
        lubricant: batch as the bench calls it; empty for a setup run.
        treat_rate_percent: additive by volume, %; NaN where none is stated.
        bath_volume_ml: oil in the bath, mL; NaN where none is stated.
        ring, pin: specimen numbers and track or face.
        loads_n: normal load of each stage of the plan, N.
        dwell_s: planned dwell of each stage, s.
        simulated: whether the data come from the simulated rig.
    """

    name: str
    kind: RunKind
    lubricant: str = ""
    treat_rate_percent: float = float("nan")
    bath_volume_ml: float = float("nan")
    ring: str = ""
    pin: str = ""
    loads_n: tuple[float, ...] = ()
    dwell_s: float = float("nan")
    simulated: bool = False


@dataclass(frozen=True, slots=True)
class StageRecord:
    """One load stage as it was run.

    Attributes:
        number: from 1.
        t_start_s, t_end_s: node time, s; `t_end_s` is NaN while the stage lasts.
        normal_load_n: mean over the stage, N.
        friction_coefficient: mean over the stage, ratio.
        friction_coefficient_end: mean over the last tenth of the stage, ratio.
        pin_temperature_degc, bath_temperature_degc: highest of the stage, °C.
        sound_level_db: energy mean over the stage, dB.
        held: whether the dwell was completed.

    Every measured entry is NaN where the channel gave no valid value.
    """

    number: int
    t_start_s: float
    t_end_s: float
    normal_load_n: float
    friction_coefficient: float
    friction_coefficient_end: float
    pin_temperature_degc: float
    bath_temperature_degc: float
    sound_level_db: float
    held: bool


@dataclass(frozen=True, slots=True)
class RunResult:
    """How a run ended, with what stands in the record.

    Attributes:
        outcome: see `Outcome`.
        first_out: sentence of the first cause; empty where the run was held or stopped by plan.
        t_end_s: node time, s.
        stages: all stages, in order.
        interrupted: whether the run was resumed after a trip.
    """

    outcome: Outcome
    first_out: str
    t_end_s: float
    stages: tuple[StageRecord, ...] = field(default=())
    interrupted: bool = False
