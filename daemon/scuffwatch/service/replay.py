"""Replay: a recording through the same detectors as a live rig, row by row or block by block.

Reads a table of values or a run file, gives findings and a summary. Nothing is looked at ahead of time: a shortened
recording gives the same findings up to its end.
"""

import itertools
import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from scuffwatch.detect.bank import Bank
from scuffwatch.model.block import Block, FloatArray, Slice
from scuffwatch.model.event import Event, EventKind
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.model.run import StageRecord
from scuffwatch.service.chain import Chain, Judged
from scuffwatch.service.params import chain_rules, oil_heat, oil_limits
from scuffwatch.service.replay_settings import (
    ReplaySettings,
    column_rules,
    friction_rule,
    load_replay_settings,
    replay_bank_params,
)
from scuffwatch.service.settings import RigSettings, parse
from scuffwatch.signals.friction import derive
from scuffwatch.signals.stamp_clock import StampClock
from scuffwatch.signals.table_slices import TableSlicer
from scuffwatch.store.run_reader import RunReader

__all__ = ["ReplayResult", "ReplaySummary", "TableReplay", "load_replay_settings", "replay_columns", "replay_run"]

_ROWS_FOR_PERIOD = 64
_STAMP_DIGITS = 6
"""A stamp of today, in seconds since 1970, is good to a quarter of a microsecond: what is finer is its rounding."""

OUTCOMES = {
    FindingKind.SCUFFING_ONSET: "scuffed",
    FindingKind.FRICTION_LIMIT: "scuffed",
    FindingKind.STALL: "stalled",
    FindingKind.JAM: "jammed",
    FindingKind.OVERHEAT: "overheated",
    FindingKind.SENSOR_FAULT: "sensor fault",
    FindingKind.SPEED_SENSOR_LOST: "sensor fault",
}


@dataclass(frozen=True, slots=True)
class ReplaySummary:
    """What came of a replay.

    Attributes:
        outcome: how a run would have ended: `held` without a trip, else as the first trip says; `stopped` where it
            names no outcome of its own.
        first_out: kind of the first trip, or None.
        trip_t_s: its time on the recording's own stamps, s; None without a trip.
        stages: load stages, in order.
        samples: values that came, over all channels.
        gaps_s: time in holes longer than the shortest maximum age, s.
        gaps: start and end of each of them, s.
        blind_to: kinds that could not be found at the end of the recording, for want of a channel.
        rows_refused: rows whose stamp was no number, or not later than the one before.
        set_back: stamp from which on the table's clock had been set back, s, and by how much, s. Time went on:
            findings, stages and gaps carry the table's own stamps, which come twice then.
    """

    outcome: str
    first_out: str | None
    trip_t_s: float | None
    stages: tuple[StageRecord, ...]
    samples: int
    gaps_s: float
    gaps: tuple[tuple[float, float], ...]
    blind_to: tuple[str, ...]
    rows_refused: int
    set_back: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class ReplayResult:
    """All findings of a replay in order, and its summary."""

    findings: tuple[Finding, ...]
    summary: ReplaySummary


class _Verdict:
    """The first trip of what has been found."""

    def __init__(self) -> None:
        self.first: Finding | None = None

    def look(self, findings: Sequence[Finding]) -> None:
        if self.first is None:
            self.first = next((finding for finding in findings if finding.level is Level.TRIP), None)

    @property
    def outcome(self) -> str:
        return "held" if self.first is None else OUTCOMES.get(self.first.kind, "stopped")


class TableReplay:
    """Replay a table, row by row.

    The period between rows is the median over the first 64 accepted stamps; until they have come nothing is judged.
    Within it time counts from the first stamp, in whole microseconds, so that rows are judged alike wherever they lie.

    Args:
        names: of the columns, in order.
        settings: of the replay.

    What survives a call: the first rows, then the slicer's and the detectors' state.
    """

    def __init__(self, names: Sequence[str], settings: ReplaySettings) -> None:
        self._names = tuple(names)
        self._settings = settings
        self._friction = friction_rule(settings)
        self._waiting: list[tuple[float, Sequence[float]]] = []
        self._clock = StampClock()
        self._slicer: TableSlicer | None = None
        self._bank: Bank | None = None
        self._verdict = _Verdict()
        self._t_s = 0.0
        self._origin_s = math.nan
        self._samples = 0

    def take(self, t_s: float, values: Sequence[float]) -> tuple[Finding, ...]:
        """Take the next row.

        Args:
            t_s: stamp, s.
            values: one a column; NaN is missing.
        Returns:
            Findings that became true with it.
        """
        if self._origin_s != self._origin_s and math.isfinite(t_s):
            self._origin_s = t_s
        t_s -= self._origin_s
        if math.isfinite(t_s):
            t_s = round(t_s, _STAMP_DIGITS)
        t_s = self._clock.time_s(t_s)
        if t_s != t_s:
            return ()
        if self._slicer is not None:
            return self._judge(t_s, values)
        self._waiting.append((t_s, values))
        return self._begin() if len(self._waiting) >= _ROWS_FOR_PERIOD else ()

    def finish(self) -> tuple[Finding, ...]:
        """Say that no more rows come; a recording shorter than 64 rows is judged now."""
        return self._begin() if self._slicer is None else ()

    def summary(self) -> ReplaySummary:
        """Give what came of it, after `finish`."""
        assert self._slicer is not None
        assert self._bank is not None
        stamp_s = self._stamp_s
        first = self._verdict.first
        holes = self._slicer.gaps_s
        stages = self._bank.finish_run(self._t_s)
        return ReplaySummary(
            outcome=self._verdict.outcome,
            first_out=None if first is None else first.kind.value,
            trip_t_s=None if first is None else first.t_rig_s,
            stages=tuple(
                replace(stage, t_start_s=stamp_s(stage.t_start_s), t_end_s=stamp_s(stage.t_end_s)) for stage in stages
            ),
            samples=self._samples,
            gaps_s=math.fsum(end_s - start_s for start_s, end_s in holes),
            gaps=tuple((stamp_s(start_s), stamp_s(end_s)) for start_s, end_s in holes),
            blind_to=self._bank.blind_to,
            rows_refused=self._clock.refused,
            set_back=self._set_back(),
        )

    def _stamp_s(self, t_s: float) -> float:
        """Give the table's own stamp of a time since its first row, s."""
        return self._clock.stamp_s(t_s) + (self._origin_s if self._origin_s == self._origin_s else 0.0)

    def _set_back(self) -> tuple[tuple[float, float], ...]:
        """Give the stamps from which on the clock had been set back, s, each with by how much, s."""
        times_s = [t_s for t_s, _ in self._clock.set_back]
        in_all_s = [0.0, *(by_s for _, by_s in self._clock.set_back)]
        by_each_s = [after - before for before, after in itertools.pairwise(in_all_s)]
        return tuple((self._stamp_s(t_s), by_s) for t_s, by_s in zip(times_s, by_each_s, strict=True))

    def _begin(self) -> tuple[Finding, ...]:
        stamps = [t_s for t_s, _ in self._waiting]
        steps = [b - a for a, b in itertools.pairwise(stamps)]
        period_s = statistics.median(steps) if steps else 1.0
        rules = column_rules(self._settings, self._names, period_s)
        self._slicer = TableSlicer(rules, period_s)
        self._bank = Bank(replay_bank_params(self._settings, rules))
        self._bank.start_run()
        found: list[Finding] = []
        for t_s, values in self._waiting:
            found += self._judge(t_s, values)
        self._waiting.clear()
        return tuple(found)

    def _judge(self, t_s: float, values: Sequence[float]) -> tuple[Finding, ...]:
        assert self._slicer is not None
        made = self._slicer.accept(t_s, values)
        self._samples += sum(1 for value in values if value == value)
        self._t_s = t_s
        found: tuple[Finding, ...] = ()
        for piece in made:
            found += self._judge_slice(piece)
        return found

    def _judge_slice(self, piece: Slice) -> tuple[Finding, ...]:
        assert self._bank is not None
        new = self._bank.update(derive(piece, self._friction)).new
        if new and (self._origin_s or self._clock.set_back):
            new = tuple(replace(finding, t_rig_s=self._stamp_s(finding.t_rig_s)) for finding in new)
        self._verdict.look(new)
        return new


def replay_columns(time_s: FloatArray, channels: Mapping[str, FloatArray], settings: ReplaySettings) -> ReplayResult:
    """Replay a table that is in memory.

    Args:
        time_s: stamps, (n,) float64, s.
        channels: columns by channel name, each (n,) float64 in the channel's unit; NaN is missing.
        settings: of the replay.
    Returns:
        Findings and summary.
    """
    replay = TableReplay(tuple(channels), settings)
    found: list[Finding] = []
    columns = [values.tolist() for values in channels.values()]
    for t_s, *values in zip(time_s.tolist(), *columns, strict=True):
        found += replay.take(t_s, values)
    found += replay.finish()
    return ReplayResult(tuple(found), replay.summary())


# --- run files --------------------------------------------------------------------------------------------


def replay_run(reader: RunReader, settings_toml: str | None = None, name: str = "") -> ReplayResult:
    """Replay a recorded run: its own blocks through the live chain, with what a person or the guard did in between.

    Args:
        reader: of the run.
        settings_toml: another whole rig file to judge it by; None for the one it was recorded with.
        name: of that other file, used in sentences.
    Returns:
        Findings and summary; times are node time.
    Raises:
        ConfigError: the settings do not hold.
    """
    text, said = (reader.settings_toml, reader.path.name) if settings_toml is None else (settings_toml, name)
    settings = _as_calibrated(parse(text, said), reader)
    chain = Chain(chain_rules(settings))
    chain.expect(reader.layouts)
    oil = oil_limits(settings, reader.header.lubricant)
    chain.bank.start_run(reader.header.loads_n, reader.header.dwell_s, limits=oil, heat=oil_heat(oil))
    verdict, found = _Verdict(), list[Finding]()
    inputs = _Inputs(reader.events(), settings)
    inputs.apply(chain, reader.t_open_rig_s)
    samples, last_s = 0, reader.t_open_rig_s
    for item in reader.blocks():
        if not isinstance(item, Block):
            continue
        samples += item.counts.size
        for step in chain.take(item):
            if isinstance(step, Judged):
                found += step.result.new
                verdict.look(step.result.new)
                last_s = step.slice.t_rig_s
                inputs.apply(chain, last_s)
    first = verdict.first
    gaps = tuple((gap.t_rig_s, gap.t_rig_s + gap.n / _rate_hz(reader, gap.group)) for gap in reader.gaps())
    summary = ReplaySummary(
        outcome=verdict.outcome,
        first_out=None if first is None else first.kind.value,
        trip_t_s=None if first is None else first.t_rig_s,
        stages=chain.bank.finish_run(last_s),
        samples=samples,
        gaps_s=math.fsum(end - start for start, end in gaps),
        gaps=gaps,
        blind_to=chain.bank.blind_to,
        rows_refused=0,
    )
    return ReplayResult(tuple(found), summary)


def _rate_hz(reader: RunReader, group: int) -> float:
    return next(layout.rate_hz for layout in reader.layouts if layout.group == group)


def _as_calibrated(settings: RigSettings, reader: RunReader) -> RigSettings:
    """Give the settings with the zeros that held when the run opened."""
    zeros = {record.name: record.tare for record in reader.channels}
    channels = {
        name: channel.model_copy(update={"tare": zeros.get(name, channel.tare)})
        for name, channel in settings.channels.items()
    }
    return settings.model_copy(update={"channels": channels})


class _Inputs:
    """What was done while the run was recorded, given to the chain after the slice it was done after."""

    def __init__(self, events: Sequence[Event], settings: RigSettings) -> None:
        kinds = (EventKind.RUN_OPENED, EventKind.PERMITTED, EventKind.MARK, EventKind.CONTACTOR, EventKind.TARE)
        self._settings = settings
        self._coming: Iterator[Event] = iter([event for event in events if event.kind in kinds])
        self._next = next(self._coming, None)

    def apply(self, chain: Chain, t_s: float) -> None:
        """Apply everything that was done up to a slice that has been judged, and before the next one."""
        while self._next is not None and not _after_s(self._next) > t_s:
            event, self._next = self._next, next(self._coming, None)
            if event.kind is EventKind.PERMITTED:
                chain.bank.reset()
            elif event.kind is EventKind.MARK:
                chain.bank.mark()
            elif event.kind is EventKind.TARE:
                chain.change_rules(chain_rules(self._zeroed(event)))
            elif isinstance(closed := event.data.get("closed", event.data.get("contactor_closed")), bool):
                chain.report_contactor(closed)

    def _zeroed(self, event: Event) -> RigSettings:
        name, tare = str(event.data["channel"]), event.data["tare"]
        channels = dict(self._settings.channels)
        channels[name] = channels[name].model_copy(update={"tare": tare})
        self._settings = self._settings.model_copy(update={"channels": channels})
        return self._settings


def _after_s(event: Event) -> float:
    """Give the node time of the slice the event came after; before the first slice, minus infinity."""
    after = event.data.get("after_slice_t_rig_s")
    return float(after) if isinstance(after, int | float) else -math.inf
