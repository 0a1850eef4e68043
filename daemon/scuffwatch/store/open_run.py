"""Open run: the run under way, between the collector that gathers it and the file it goes to.

Reads items in order of arrival, gives committed batches and, in the journal, the run's beginning and end. A batch that
could not be written stays in hand and is written again, row for row the same.
"""

from collections.abc import Callable, Iterable
from pathlib import Path

from scuffwatch.model.block import Block
from scuffwatch.model.event import ClockTriple
from scuffwatch.store import run_file
from scuffwatch.store.collector import Batch, Collector
from scuffwatch.store.items import RunClosed, RunOpened, Sample
from scuffwatch.store.journal import Journal
from scuffwatch.store.rows import Row, clock_row
from scuffwatch.store.run_file import RunFile
from scuffwatch.store.storage import Storage

ENDED_BY_CORE = "The core stopped while the run was open."


class OpenRun:
    """The one run that may be open, or none.

    Args:
        storage: the disk.
        data_dir: the data folder.
        mono: the monotonic clock, s.

    Attributes:
        name: of the run, or empty.
        held_s, held_bytes: samples taken in and not yet committed.
        refused_blocks: blocks of this run that were older than what is stored.
        last_commit_t_mono_s: when samples were committed last.
    """

    def __init__(self, storage: Storage, data_dir: Path, mono: Callable[[], float]) -> None:
        self._storage, self._data_dir, self._mono = storage, data_dir, mono
        self._file: RunFile | None = None
        self._collector: Collector | None = None
        self._batch: Batch | None = None
        self.name = ""
        self.held_s, self.held_bytes = 0.0, 0
        self.refused_blocks = 0
        self.last_commit_t_mono_s = 0.0

    def open(self, opened: RunOpened, journal: Journal, before: Iterable[Sample], triple: ClockTriple | None) -> None:
        """Make the run's file and enter it in the journal; `before` came in front of it, `triple` are the clocks."""
        name = opened.header.name
        self._file = run_file.create_run(self._storage, run_file.run_path(self._data_dir, name), opened)
        journal.open_run(opened.header, opened.t_rig_s, opened.t_wall_utc_s)
        collector = Collector(opened.channels)
        for row in journal.events_of(name):
            collector.put("events", row)
        if triple is not None:
            collector.put("clock", clock_row(triple, collector.next_id("clock")))
        for item in before:
            if not isinstance(item, Block):
                collector.mark(item)
            elif collector.fits(item):
                collector.add(item)
        self._collector, self.name = collector, name

    def sample(self, item: Sample, refuse_because: str) -> None:
        """Take a block or a gap mark in; with a reason to refuse, a block becomes a marked gap."""
        if self._collector is None:
            return
        self._collector.refuse_because = refuse_because
        if isinstance(item, Block):
            self._collector.add(item)
        else:
            self._collector.mark(item)
        self.refused_blocks = self._collector.refused_blocks
        self.held_s, self.held_bytes = self._collector.waiting_s, self._collector.waiting_bytes

    def put(self, table: str, row: Row) -> None:
        """Take a side record in."""
        if self._collector is not None:
            self._collector.put(table, row)

    def next_id(self, table: str) -> int:
        """Give the next key of a table without one of its own."""
        return 0 if self._collector is None else self._collector.next_id(table)

    @property
    def batch_in_hand(self) -> bool:
        """Say whether a batch could not be written and is to be tried again."""
        return self._batch is not None

    @property
    def waiting_s(self) -> float:
        """Give the samples gathered for the next batch, s."""
        return 0.0 if self._collector is None else self._collector.waiting_s

    @property
    def waits(self) -> bool:
        """Say whether anything is gathered for the next batch."""
        return self._collector is not None and self._collector.waits

    def commit(self) -> None:
        """Write the batch in hand, or the next one."""
        if self._batch is None and self._collector is not None:
            self._batch = self._collector.take()
        if self._batch is not None:
            self._need_file().write(self._batch)
            self._batch = None
        self.held_s, self.held_bytes = 0.0, 0
        self.last_commit_t_mono_s = self._mono()

    def close(self, closed: RunClosed, journal: Journal) -> None:
        """Write what is left and the outcome, in the file and then in the journal; the file stays to be given back."""
        self.commit()
        file = self._need_file()
        rest = (self._collector and self._collector.take(last=True)) or Batch()
        rest.tables["events"] = journal.events_of(self.name)
        digest = file.finish(rest, closed.result, closed.t_wall_utc_s)
        journal.close_run(self.name, closed.result, closed.t_wall_utc_s, digest)
        self._collector, self.name = None, ""

    def end_without_outcome(self, journal: Journal) -> None:
        """End a run nobody closed: it must not read as finished; the file stays to be given back."""
        self.commit()
        file = self._need_file()
        t_last_s, stages = file.recover(journal.events_of(self.name))
        journal.end_without_outcome(self.name, t_last_s, stages, ENDED_BY_CORE)
        self._collector, self.name = None, ""

    def shrink_log(self) -> None:
        """Move the file's log into it."""
        self._need_file().shrink_log()

    def give_back(self) -> None:
        """Close the file; whatever was not committed stays in memory."""
        file, self._file = self._file, None
        if file is not None:
            file.close()

    def _need_file(self) -> RunFile:
        if self._file is None:
            self._file = run_file.open_run_file(self._storage, run_file.run_path(self._data_dir, self.name))
        return self._file
