"""Items: everything the loop may hand to the recorder.

Reads nothing. Given to `Recorder.offer`; blocks, gap marks, events and clock triples of the model are items as they
are.
"""

from dataclasses import dataclass

from scuffwatch.model.block import Block
from scuffwatch.model.channel import Quality, Reason
from scuffwatch.model.event import ChannelRecord, ClockTriple, Event, GapMark
from scuffwatch.model.finding import Finding
from scuffwatch.model.run import RunHeader, RunResult, StageRecord
from scuffwatch.wire.protocol import Status


@dataclass(frozen=True, slots=True)
class RunOpened:
    """A run begins: from here on full rate is kept.

    Attributes:
        header: what is known of the run; its name comes from `Recorder.next_run_name`.
        channels: where the counts are and how they become SI.
        settings_toml: the resolved settings, whole.
        t_rig_s, t_wall_utc_s: node time and wall clock of the opening, s.
    """

    header: RunHeader
    channels: tuple[ChannelRecord, ...]
    settings_toml: str
    t_rig_s: float
    t_wall_utc_s: float


@dataclass(frozen=True, slots=True)
class RunClosed:
    """The open run ends; `t_wall_utc_s` is a label, s."""

    result: RunResult
    t_wall_utc_s: float


@dataclass(frozen=True, slots=True)
class StageClosed:
    """One load stage of the open run is over."""

    stage: StageRecord


@dataclass(frozen=True, slots=True)
class ChannelsKnown:
    """Calibrations in force from `t_rig_s` on: offered when the rig box has said hello and after every tare."""

    channels: tuple[ChannelRecord, ...]
    t_rig_s: float
    t_wall_utc_s: float


@dataclass(frozen=True, slots=True)
class QualityChanged:
    """The quality of one channel changed with the slice that ends at `t_rig_s`."""

    channel: str
    t_rig_s: float
    quality: Quality
    reason: Reason


@dataclass(frozen=True, slots=True)
class StatusSeen:
    """One status frame of the node as the loop saw it."""

    t_mono_s: float
    t_rig_s: float
    status: Status


@dataclass(frozen=True, slots=True)
class DecisionSeen:
    """One decision of the guard: the slice it rests on, what became of the lease, and which needs were not met."""

    slice_index: int
    t_rig_s: float
    t_mono_s: float
    lease: str
    unmet: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TripCapture:
    """What the loop knew at a trip; the recorder adds the samples of 60 s before and 30 s after.

    Attributes:
        first_out: the first cause.
        followers: causes that came after it.
        epoch, slice_index, frame_sequence: the slice it was decided on.
        t_rig_s, t_mono_s, t_wall_utc_s: the three clocks, s.
        statuses: the status frames of the last 60 s, oldest first.
        decisions: the decisions of the last 60 s, oldest first; unchanged ones may be left out.
        lateness_ms: lateness of the loop for each slice of the last 60 s, oldest first.
        settings_toml: the resolved settings in force.
    """

    first_out: Finding
    followers: tuple[Finding, ...]
    epoch: int
    slice_index: int
    frame_sequence: int
    t_rig_s: float
    t_mono_s: float
    t_wall_utc_s: float
    statuses: tuple[StatusSeen, ...]
    decisions: tuple[DecisionSeen, ...]
    lateness_ms: tuple[float, ...]
    settings_toml: str


Sample = Block | GapMark
RunItem = RunOpened | RunClosed | StageClosed | ChannelsKnown | QualityChanged | TripCapture | ClockTriple
Item = Sample | RunItem | Event
