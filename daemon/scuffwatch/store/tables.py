"""Tables: the small lists of a record as rows for CSV: runs, stages, events, gaps, channels, clocks.

Reads values, gives column names with types and rows. The columns bear the names the code has, units included.
"""

from collections.abc import Iterable
from dataclasses import astuple, dataclass, fields
from datetime import UTC, datetime

from scuffwatch.model.event import ChannelRecord, ClockTriple, Event, GapMark
from scuffwatch.model.run import StageRecord
from scuffwatch.store.archive import Archive, RunSummary
from scuffwatch.store.ledger import Account
from scuffwatch.store.text import to_json

Value = str | float | int | bool | None


@dataclass(frozen=True, slots=True)
class Table:
    """One small list.

    Attributes:
        name: of the file, without ending.
        columns: (name, type) with the types of Table Schema: string, number, integer, boolean.
        rows: one tuple a row.
    """

    name: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[tuple[Value, ...], ...]


def utc_text(t_wall_utc_s: float) -> str:
    """Give a wall clock label, `2026-11-25 13:40:07Z`."""
    return datetime.fromtimestamp(t_wall_utc_s, UTC).strftime("%Y-%m-%d %H:%M:%SZ")


_STAGE = tuple(
    (field.name, {"number": "integer", "held": "boolean"}.get(field.name, "number")) for field in fields(StageRecord)
)


def runs_table(runs: Iterable[RunSummary]) -> Table:
    """Give a row a run."""
    columns = (
        ("run", "string"), ("kind", "string"), ("started_utc", "string"), ("duration_s", "number"),
        ("outcome", "string"), ("first_out", "string"), ("last_stage", "integer"), ("lubricant", "string"),
        ("treat_rate_percent", "number"), ("bath_volume_ml", "number"), ("ring", "string"), ("pin", "string"),
        ("loads_n", "string"), ("dwell_s", "number"), ("interrupted", "boolean"), ("simulated", "boolean"),
    )  # fmt: skip
    rows = tuple(
        (
            run.name, run.header.kind.value, utc_text(run.t_start_utc_s), run.duration_s,
            "open" if run.outcome is None else run.outcome.value, run.first_out, run.last_stage, run.header.lubricant,
            run.header.treat_rate_percent, run.header.bath_volume_ml, run.header.ring, run.header.pin,
            " ".join(f"{load_n:g}" for load_n in run.header.loads_n), run.header.dwell_s, run.interrupted,
            run.simulated,
        )
        for run in runs
    )  # fmt: skip
    return Table("runs", columns, rows)


def stages_table(stages: Iterable[tuple[str, StageRecord]], with_run: bool) -> Table:
    """Give a row a stage; with the run's name in front for the list over all runs."""
    front = (("run", "string"),) if with_run else ()
    rows = tuple(((run, *astuple(stage)) if with_run else astuple(stage)) for run, stage in stages)
    return Table("stages", front + _STAGE, rows)


def all_stages(archive: Archive) -> Iterable[tuple[str, StageRecord]]:
    """Give every stage of every run, the newest run first."""
    for run in archive.runs():
        for stage in archive.stages(run.name):
            yield run.name, stage


def events_table(events: Iterable[Event]) -> Table:
    """Give a row an event."""
    columns = (
        ("number", "integer"), ("kind", "string"), ("t_rig_s", "number"), ("t_wall_utc_s", "number"),
        ("utc", "string"), ("actor", "string"), ("says", "string"), ("data", "string"),
    )  # fmt: skip
    rows = tuple(
        (
            event.sequence, event.kind.value, event.t_rig_s, event.t_wall_utc_s, utc_text(event.t_wall_utc_s),
            event.actor, event.says, to_json(event.data),
        )
        for event in events
    )  # fmt: skip
    return Table("events", columns, rows)


def gaps_table(gaps: Iterable[GapMark]) -> Table:
    """Give a row a marked gap."""
    columns = (
        ("group", "integer"), ("epoch", "integer"), ("first_index", "integer"), ("n", "integer"),
        ("t_rig_s", "number"), ("why", "string"),
    )  # fmt: skip
    return Table("gaps", columns, tuple(astuple(gap) for gap in gaps))


def ledger_table(accounts: Iterable[Account]) -> Table:
    """Give a row a group and node start."""
    columns = tuple((name, "integer") for name in ("group", "epoch", "produced", "stored", "marked"))
    return Table("ledger", columns, tuple((a.group, a.epoch, a.produced, a.stored, a.marked) for a in accounts))


def channels_table(channels: Iterable[ChannelRecord]) -> Table:
    """Give a row a channel with its calibration."""
    columns = (
        ("name", "string"), ("group", "integer"), ("position", "integer"), ("rate_hz", "number"),
        ("integer_type", "string"), ("coefficients", "string"), ("tare", "number"), ("range_low", "number"),
        ("range_high", "number"), ("calibration_id", "string"),
    )  # fmt: skip
    rows = tuple(
        (
            c.name, c.group, c.position, c.rate_hz, c.integer_type.value, " ".join(map(repr, c.coefficients)), c.tare,
            c.range_low, c.range_high, c.calibration_id,
        )
        for c in channels
    )  # fmt: skip
    return Table("channels", columns, rows)


def clock_table(triples: Iterable[ClockTriple]) -> Table:
    """Give a row a clock triple."""
    columns = (
        ("epoch", "integer"), ("t_rig_s", "number"), ("t_mono_s", "number"), ("t_wall_utc_s", "number"),
        ("boot_id", "string"),
    )  # fmt: skip
    return Table("clock", columns, tuple(astuple(triple) for triple in triples))
