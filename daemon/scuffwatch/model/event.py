"""Events: what happened, numbered, with three clocks, for the record.

Reads nothing. The core loop stamps and numbers them; the store chains them; a number not yet committed is shown as
*not yet recorded*.
"""

from dataclasses import dataclass
from enum import Enum

from scuffwatch.model.channel import IntegerType

JsonValue = str | int | float | bool | None | list["JsonValue"] | dict[str, "JsonValue"]


class EventKind(Enum):
    """Closed set of things that go into the journal."""

    CORE_STARTED = "core started"
    CORE_STOPPED = "core stopped"
    FINDING = "finding"
    TRIPPED = "tripped"
    PERMITTED = "permitted"
    RESET_REFUSED = "reset refused"
    ACKNOWLEDGED = "acknowledged"
    ALARM = "alarm"
    RUN_OPENED = "run opened"
    RUN_CLOSED = "run closed"
    STAGE = "stage"
    MARK = "mark"
    NOTE = "note"
    OBSERVATION = "observation"
    STOP_REQUEST = "stop request"
    TARE = "tare"
    INTERLOCK = "interlock"
    CONTACTOR = "contactor"
    LINK = "link"
    NODE_STARTED = "node started"
    CLOCK_STEP = "clock step"
    STORE = "store"
    COMMAND = "command"


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened.

    Attributes:
        sequence: grows by 1 with every event of this core process; the store gives the lasting number.
        kind: see `EventKind`.
        t_rig_s: node time, s; NaN where the node has not spoken yet.
        t_mono_s: host monotonic clock, s.
        t_wall_utc_s: host wall clock, s since 1970-01-01 UTC; a label only.
        run: name of the open run, or empty.
        actor: who, where a person did it; else empty.
        says: one sentence.
        data: further fields, JSON values only.
    """

    sequence: int
    kind: EventKind
    t_rig_s: float
    t_mono_s: float
    t_wall_utc_s: float
    run: str
    actor: str
    says: str
    data: dict[str, JsonValue]


@dataclass(frozen=True, slots=True)
class ClockTriple:
    """The three clocks read together, once a minute and at every start of an epoch.

    Attributes:
        epoch: node epoch.
        t_rig_s, t_mono_s, t_wall_utc_s: as in `Event`.
        boot_id: of the host's kernel.
    """

    epoch: int
    t_rig_s: float
    t_mono_s: float
    t_wall_utc_s: float
    boot_id: str


@dataclass(frozen=True, slots=True)
class GapMark:
    """Samples that were not received, or could not be kept, said explicitly.

    Attributes:
        group: number of the group.
        epoch: node epoch.
        first_index: first missing sample; -1 where the node restarted and the length is unknown.
        n: missing samples of each channel; 0 where unknown.
        t_rig_s: node time of the first missing sample, s.
        why: short clause: `lost on the wire`, `node restarted`, `writer queue full`, `core stopped`.
    """

    group: int
    epoch: int
    first_index: int
    n: int
    t_rig_s: float
    why: str


@dataclass(frozen=True, slots=True)
class ChannelRecord:
    """One channel as a run records it: where its counts are and how they become SI.

    Attributes:
        name: channel name with unit suffix.
        group, position: group number and row in its counts.
        rate_hz: samples a second.
        integer_type: type of the counts.
        coefficients: polynomial in counts, lowest power first; the value is its sum minus `tare`.
        tare: in the channel's unit.
        range_low, range_high: valid values in the channel's unit.
        calibration_id: name or date of the calibration; empty where none was made.
    """

    name: str
    group: int
    position: int
    rate_hz: float
    integer_type: IntegerType
    coefficients: tuple[float, ...]
    tare: float
    range_low: float
    range_high: float
    calibration_id: str
