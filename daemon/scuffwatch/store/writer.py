"""Writer: takes items off the inbox and commits them. Everything that touches the disk happens in its thread.

Reads the inbox, gives the journal and run files. A failed commit keeps its batch, gives every connection back and tries
again with the same rows on fresh ones; a failed sync is never asked a second time and believed.
"""

from collections import deque
from collections.abc import Callable
from contextlib import ExitStack, suppress
from itertools import islice
from math import nan
from pathlib import Path

from scuffwatch.model.block import Block
from scuffwatch.model.event import ClockTriple, Event, EventKind, GapMark
from scuffwatch.store import mark, names, run_file
from scuffwatch.store.idle import IdleEnvelope, Ring
from scuffwatch.store.inbox import Inbox
from scuffwatch.store.items import (
    ChannelsKnown,
    QualityChanged,
    RunClosed,
    RunItem,
    RunOpened,
    Sample,
    StageClosed,
)
from scuffwatch.store.journal import Journal, open_journal
from scuffwatch.store.log_watch import LogWatch
from scuffwatch.store.merging import Merging
from scuffwatch.store.open_run import OpenRun
from scuffwatch.store.recovery import recover
from scuffwatch.store.rows import Row, channel_row, clock_row, stage_row
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.settling import settle_and_close
from scuffwatch.store.space import Space
from scuffwatch.store.storage import Storage, is_busy, is_full
from scuffwatch.store.trip_record import trip_row
from scuffwatch.store.troubles import Troubles

_EVENTS_IN_COMMIT = 500
_ITEMS_IN_TURN = 2_000
_MARK_SYNC_S = 60.0


class Writer:
    """The one writer of a data folder.

    Attributes:
        recorded_event_sequence: last sequence of the core that is committed and synced.
        run_names: of all runs of the folder, the open one among them.
    """

    def __init__(
        self,
        data_dir: Path,
        storage: Storage,
        inbox: Inbox,
        rules: WriterRules,
        mono: Callable[[], float],
        wall: Callable[[], float],
    ) -> None:
        self._data_dir, self._storage, self._inbox, self._rules = data_dir, storage, inbox, rules
        self._mono, self._wall = mono, wall
        self.space = Space(storage, data_dir, rules.space)
        self._merging = Merging(storage, data_dir)
        self._merge_failed = False
        self._ring, self._idle = Ring(), IdleEnvelope()
        self._journal: Journal | None = None
        self._start = 0
        self._floor = 0
        self._run = OpenRun(storage, data_dir, mono)
        self._own: deque[Event] = deque()
        self._triple: ClockTriple | None = None
        self._troubles = Troubles(("journal", "run", "idle", "space"), rules.retry_s, rules.retry_max_s)
        self._last_idle_t_mono_s = self._last_mark_t_mono_s = 0.0
        self._log = LogWatch(storage, rules)
        self.recorded_event_sequence = 0
        self.run_names: set[str] = set()

    # -- start and end

    def open(self, boot_id: str) -> tuple[str, ...]:
        """Put the record in order and open it; give what was found."""
        (self._data_dir / names.RUNS_FOLDER).mkdir(parents=True, exist_ok=True)
        found = recover(self._storage, self._data_dir)
        self._journal, self.run_names = found.journal, found.run_names
        self._journal.begin(self._wall(), boot_id)
        self._start, self._floor = self._journal.start, self._journal.number
        for name in found.unmerged:
            self._merging.add(name)
        for says in found.says:
            self._say(says)
        self._write_events()
        self._guarded("space", self._watch)
        self.give_back()  # the writer's thread opens its own connections
        return tuple(found.says)

    def finish(self) -> None:
        """Commit what is left and leave files that everybody can read; raises what the disk raises."""
        while self._write_events() or self._take_data():
            pass
        if self.run:
            self._end_run_without_outcome()
        journal = self._need_journal()
        self._write_idle(journal)
        journal.end()
        mark.write(self._storage, self._data_dir, mark.Mark(journal.number, journal.hash), durable=True)
        self._journal = None
        settle_and_close(self._storage, self._data_dir / names.JOURNAL, journal)
        self.give_back()

    def give_back(self) -> None:
        """Close every connection; whatever was not committed stays in memory."""
        with ExitStack() as stack:
            stack.callback(self._merging.close)
            stack.callback(self._run.give_back)
            if self._journal is not None:
                stack.callback(self._journal.close)
            self._journal = None

    def lose_hold(self) -> None:
        """Close every connection after an error; that closing fails as well says nothing new."""
        with suppress(*self._storage.errors):
            self.give_back()

    @property
    def disk_errors(self) -> tuple[type[Exception], ...]:
        """Give the exceptions that mean the disk."""
        return self._storage.errors

    # -- one turn

    def turn(self) -> bool:
        """Do what is due; give whether there was anything."""
        worked = self._guarded("journal", self._write_events)
        worked |= self._guarded("run", self._take_data)
        if self._mono() - self._last_idle_t_mono_s >= self._rules.idle_s or self._troubles.stands("idle"):
            self._guarded("idle", self._idle_turn)
        self._guarded("space", self._watch)
        if self._merging.due(self._mono()) and self._inbox.items < _ITEMS_IN_TURN // 10:
            worked |= self._merge_turn()
        return worked

    def skip_item(self) -> None:
        """Give up the item in front, which this program cannot handle; samples in it become a marked gap."""
        if self._inbox.data:
            self._inbox.give_up(self._inbox.data.popleft())

    @property
    def run(self) -> str:
        """Give the name of the open run, or nothing."""
        return self._run.name

    @property
    def held_s(self) -> float:
        """Give the samples taken off the inbox and not yet committed, s."""
        return self._run.held_s

    @property
    def held_bytes(self) -> int:
        """Give what those occupy, bytes."""
        return self._run.held_bytes

    @property
    def refused_blocks(self) -> int:
        """Give how many blocks of the open run were older than what is stored."""
        return self._run.refused_blocks

    @property
    def merging(self) -> bool:
        """Say whether closed runs still wait to be merged."""
        return self._merging.waits

    @property
    def last_error(self) -> str:
        """Give what is wrong now, or nothing."""
        parts = (*self._troubles.says, self._log.says, self.space.says)
        return " ".join(part for part in parts if part)

    def _guarded(self, part: str, work: Callable[[], bool]) -> bool:
        if not self._troubles.may_try(part, self._mono()):
            return False
        try:
            worked = work()
        except self._storage.errors as error:
            self._failed(part, error)
            return False
        if worked and self._troubles.over(part):
            self._say(f"Recording works again ({part}).")
        return worked

    def _failed(self, part: str, error: Exception) -> None:
        """Give every connection back, keep what waits, and say so once."""
        self.lose_hold()
        if self._troubles.failed(part, error, self._mono(), busy=is_busy(error)):
            self._say(f"Recording failed ({part}): {error}. What waits is kept in memory for 60 s.")
        if is_full(error):
            with suppress(*self._storage.errors):  # a disk that full may refuse even that; it is asked again
                self.space.spend_reserve()

    # -- events

    def _need_journal(self) -> Journal:
        if self._journal is None:
            self._journal = open_journal(self._storage, self._data_dir)
            self._journal.start = self._start
            self._journal.skip_to(self._floor)
        return self._journal

    def _write_events(self) -> bool:
        """Commit waiting events, the writer's own included; each counts as recorded only after that."""
        own = list(self._own)
        theirs = list(islice(self._inbox.events, _EVENTS_IN_COMMIT))
        if not own and not theirs:
            return False
        journal = self._need_journal()
        rows = journal.append(own + theirs)
        for _ in own:
            self._own.popleft()
        for event in theirs:
            self._inbox.events.popleft()
            self.recorded_event_sequence = max(self.recorded_event_sequence, event.sequence)
        self._share_with_run(rows)
        now = self._mono()
        durable = now - self._last_mark_t_mono_s >= _MARK_SYNC_S
        if durable:
            self._last_mark_t_mono_s = now
        mark.write(self._storage, self._data_dir, mark.Mark(journal.number, journal.hash), durable)
        return True

    def _share_with_run(self, rows: list[Row]) -> None:
        for row in rows:
            if self.run and row[5] == self.run:
                self._run.put("events", row)

    def _say(self, says: str) -> None:
        """Enter an event of the store's own."""
        event = Event(0, EventKind.STORE, nan, self._mono(), self._wall(), self.run, "", says, {})
        self._own.append(event)

    # -- samples and side records

    def _take_data(self) -> bool:
        worked = self._run.batch_in_hand
        if worked:
            self._run.commit()
        for _ in range(_ITEMS_IN_TURN):
            if not self._inbox.data:
                break
            item = self._inbox.data[0]
            self._handle(item)
            self._inbox.data.popleft()
            self._inbox.taken(item)
            worked = True
            if self._run.waiting_s >= self._rules.batch_s:
                self._run.commit()
        late = self._mono() - self._run.last_commit_t_mono_s >= self._rules.late_s
        if self._run.waits and late and not self._log.full:
            self._run.commit()
            worked = True
        return worked

    def _handle(self, item: Sample | RunItem) -> None:
        """Take one item; it is offered again where this raises, so nothing here may count twice."""
        if isinstance(item, Block | GapMark):
            self._sample(item)
        elif isinstance(item, RunOpened):
            self._open_run(item)
        elif isinstance(item, RunClosed):
            self._close_run(item)
        elif isinstance(item, StageClosed):
            self._need_journal().put_stage(self.run, item.stage)
            self._run.put("stages", stage_row(item.stage))
        elif isinstance(item, ChannelsKnown):
            self._need_journal().put_channels(item.channels, item.t_rig_s, item.t_wall_utc_s)
            for record in item.channels:
                self._run.put("channels", channel_row(record, None, item.t_rig_s, item.t_wall_utc_s))
        elif isinstance(item, ClockTriple):
            self._triple = item
            self._run.put("clock", clock_row(item, self._run.next_id("clock")))
        elif isinstance(item, QualityChanged):
            self._run.put(
                "quality",
                (self._run.next_id("quality"), item.channel, item.t_rig_s, int(item.quality), item.reason.value),
            )
        else:
            self._run.put("trips", trip_row(item, self._run.next_id("trips")))

    def _sample(self, item: Sample) -> None:
        self._ring.put(item)
        if self.run:
            self._run.sample(item, self._refuse_because())
        elif isinstance(item, Block):
            self._idle.put(item)

    def _refuse_because(self) -> str:
        if self.space.stop_samples:
            return "disk nearly full"
        return "a reader holds the record" if self._log.full else ""

    # -- runs

    def _open_run(self, opened: RunOpened) -> None:
        if self.run:
            self._end_run_without_outcome()
        journal = self._need_journal()
        self._write_idle(journal)
        self._run.open(opened, journal, self._ring.items(), self._triple)
        self.run_names.add(self.run)

    def _close_run(self, closed: RunClosed) -> None:
        if not self.run:
            return
        self._write_events()
        name = self.run
        self._run.close(closed, self._need_journal())
        self._leave_run(name)

    def _end_run_without_outcome(self) -> None:
        name = self.run
        self._run.end_without_outcome(self._need_journal())
        self._leave_run(name)

    def _leave_run(self, name: str) -> None:
        self._merging.add(name)
        self._run.give_back()

    # -- now and then

    def _idle_turn(self) -> bool:
        self._last_idle_t_mono_s = self._mono()
        self._write_idle(self._need_journal())
        return True

    def _write_idle(self, journal: Journal) -> None:
        offset_s = self._wall() - self._idle.newest_t_rig_s
        if self._triple is not None:
            offset_s = self._triple.t_wall_utc_s - self._triple.t_rig_s
        rows = self._idle.rows(offset_s)
        if rows:
            journal.put_idle(rows, self._rules.idle_keep_s)
            self._idle.written()

    def _watch(self) -> bool:
        before = self.space.low
        self.space.look(self._mono())
        if self.space.low and not before:
            self._say(self.space.warns)
        self._watch_log()
        return True

    def _watch_log(self) -> None:
        if self.run:
            path = run_file.run_path(self._data_dir, self.run)
            self._log.look(path, self._mono(), self._run.shrink_log)
        else:
            path = self._data_dir / names.JOURNAL
            self._log.look(path, self._mono(), lambda: self._need_journal().shrink_log())

    def _merge_turn(self) -> bool:
        try:
            self._merging.step(self._need_journal())
        except self._storage.errors as error:
            if not is_busy(error) and not self._merge_failed:
                self._say(f"A closed run could not be merged: {error}. It is sound as it is; tried again later.")
            self._merge_failed = not is_busy(error)
            with suppress(*self._storage.errors):
                self._merging.postpone(self._mono(), self._merge_failed)
        else:
            self._merge_failed = False
        return True
