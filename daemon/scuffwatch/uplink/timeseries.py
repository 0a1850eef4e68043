"""Time series: every row of the record to one store, in order, through any outage.

Reads a source of rows and the ledger, sends batches, enters what was accepted. Nothing is kept in memory between turns.

Two lanes, so that a catch-up of days does not starve the present: each turn sends what is new (live lane), then one
batch of what is left behind (catch-up lane, the oldest first). A server that answered with success may have held the
rows in memory only: whenever it was away, or says that it started anew, what was accepted in the last minutes is sent
once more. Rows are the same to the last character, so a store that keeps one value a stamp holds each of them once.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.uplink.answers import Answer, Post, Verdict
from scuffwatch.uplink.backoff import Backoff
from scuffwatch.uplink.ledger import Aside, Ledger, Standing, Step
from scuffwatch.uplink.rows import EARLIEST_MS, Row, unfit
from scuffwatch.uplink.tail import Source

STARTED_NOTE = "server_started_utc_s"
SAME_START_S = 0.5
YOUNG_S = 5.0
"""A server that last took something so soon after its start may have started twice in the second that is told in."""
ALL_BAD = 8
"""So many single lines refused and none taken: a line known to be good decides whose fault it is."""


@dataclass(frozen=True, slots=True)
class Clocks:
    """The two clocks: `boot_s` counts from the kernel's boot, `wall_s` is UTC, s."""

    boot_s: Callable[[], float] = lambda: time.clock_gettime(time.CLOCK_BOOTTIME)
    wall_s: Callable[[], float] = time.time


@dataclass(frozen=True, slots=True)
class SendRules:
    """How rows are sent.

    Attributes:
        batch_rows: most rows in one request.
        rewind_s: how long a server may hold accepted rows in memory only, s.
        look_s: how often the server is asked when it started, s.
        discover_s: how often the folder is searched for new runs, s.
        first_pause_s, longest_pause_s: between tries while the server is away, s.
        poll_s: pause where nothing is to be done, s.
        stamps_in_a_ms: unit of the stamps: 1 for ms, 1,000,000 for ns.
        bulk: whether whole runs are sent: no live lane, so that all goes in order, and places without a hole, so that
            rows put aside for one reason are kept as spans.
    """

    batch_rows: int = 1_000
    rewind_s: float = 300.0
    look_s: float = 10.0
    discover_s: float = 1.0
    first_pause_s: float = 0.25
    longest_pause_s: float = 15.0
    poll_s: float = 0.1
    stamps_in_a_ms: int = 1
    bulk: bool = False


@dataclass(frozen=True, slots=True)
class SendState:
    """How sending stands; for status page and metrics.

    Attributes:
        up: whether the last batch was answered with success.
        says: why not, one clause.
        since_utc_s: since when, s UTC.
        newest_ms: stamp of the newest row accepted, ms; 0 before the first.
        rewinds, requests: how often.
    """

    up: bool = False
    says: str = "not tried yet"
    since_utc_s: float = 0.0
    newest_ms: int = 0
    rewinds: int = 0
    requests: int = 0


@dataclass(slots=True)
class _Batch:
    """What one request carries and what its success means."""

    rows: list[tuple[int, Row]] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)


class Sender:
    """Sends one source's rows to one store. One thread."""

    def __init__(
        self,
        source: Source,
        ledger: Ledger,
        post: Post,
        rules: SendRules | None = None,
        clocks: Clocks | None = None,
        probe: str = "scuffwatch_uplink",
    ) -> None:
        self._source, self._ledger, self._post = source, ledger, post
        self._rules, self._clocks, self._probe = rules or SendRules(), clocks or Clocks(), probe
        self._backoff = Backoff(self._rules.first_pause_s, self._rules.longest_pause_s)
        self._was_away = False
        self._last_taken_s = 0.0
        self._not_before_s = self._look_at_s = self._discover_at_s = 0.0
        self._live: dict[str, bool] = {}
        self.idle = False
        """Whether the last turn found nothing to send; any thread may look."""
        self.state = SendState()

    def turn(self) -> float:
        """Do one turn; the result is the pause before the next, s."""
        self.count()
        now_s = self._clocks.boot_s()
        if now_s < self._not_before_s:
            return min(self._rules.poll_s, self._not_before_s - now_s)
        if now_s >= self._look_at_s:
            self._look_at_s = now_s + self._rules.look_s
            self._look_for_restart()
        sent = self._send(self._live_batch())
        if sent is not None:
            caught_up = self._send(self._catch_up_batch())
            if sent or caught_up:
                return 0.0
            self.idle = caught_up == 0
        return self._rules.poll_s

    # -- what there is

    def count(self) -> None:
        """Count what has come since the last turn, whether or not anything can be sent."""
        now_s = self._clocks.boot_s()
        known = self._ledger.streams()
        if now_s >= self._discover_at_s:
            self._discover_at_s = now_s + self._rules.discover_s
            ended = frozenset(name for name, standing in known.items() if standing.ended)
            found = self._source.streams(ended)
            for stream in found:
                if stream.name not in known:
                    self._ledger.add_stream(stream.name, stream.before_first)
            self._live = {stream.name: stream.live for stream in found}
            known = self._ledger.streams()
        counts = []
        for name, live in self._live.items():
            standing = known[name]
            if standing.ended:
                continue
            try:
                seen, rows = self._source.census(name, standing.seen, live)
            except RecordUnreadable as error:
                self._say(False, str(error))
                continue
            if rows or not live:
                counts.append((standing.id, seen, rows, not live))
        if counts:
            self._ledger.count(counts)

    # -- what is sent

    def _live_batch(self) -> _Batch:
        """Gather what is new of all streams; hand what is too much to the catch-up lane."""
        batch, room = _Batch(), self._rules.batch_rows
        for standing in self._ledger.streams().values():
            if standing.next_place >= standing.seen or room <= 0:
                continue
            if self._rules.bulk:
                self._ledger.fall_behind(standing, standing.seen)
                continue
            rows = self._rows(standing, standing.next_place, standing.seen, room)
            if rows is None:
                continue
            if len(rows) == room and rows[-1].place < standing.seen:
                self._ledger.fall_behind(standing, standing.seen)
                continue
            room -= self._put(batch, standing, 0, (standing.next_place, standing.seen), rows)
        return batch

    def _catch_up_batch(self) -> _Batch:
        """Gather one batch of the oldest stretches."""
        batch, room = _Batch(), self._rules.batch_rows
        streams = {standing.id: standing for standing in self._ledger.streams().values()}
        for stretch in self._ledger.stretches():
            if room <= 0:
                break
            standing = streams[stretch.stream]
            rows = self._rows(standing, stretch.from_place, stretch.to_place, room)
            if rows is None:
                continue
            done = rows[-1].place if len(rows) == room else stretch.to_place
            room -= self._put(batch, standing, stretch.id, (stretch.from_place, done), rows)
        return batch

    def _rows(self, standing: Standing, after: int, to: int, limit: int) -> list[Row] | None:
        try:
            return self._source.rows(standing.name, after, to, limit)
        except RecordUnreadable as error:
            self._say(False, str(error))
            return None

    def _put(self, batch: _Batch, standing: Standing, stretch: int, span: tuple[int, int], rows: list[Row]) -> int:
        """Add the rows of a span to a batch, but those put aside before; give how many rows the span holds."""
        now_ms = round(self._clocks.wall_s() * 1000)
        aside = self._ledger.quarantined_places(standing.id, [row.place for row in rows if row.span == 1])
        left = [row for row in rows if row.span > 1 or row.place not in aside]
        refused = tuple(Aside(row.place, row.line, why, row.span) for row in left if (why := unfit(row, now_ms)))
        bad = {one.place for one in refused}
        good = [(standing.id, row) for row in left if row.place not in bad]
        batch.rows += good
        batch.steps.append(Step(standing.id, stretch, *span, sent=len(good), refused=refused))
        return len(rows)

    def _send(self, batch: _Batch) -> int | None:
        """Send a batch and enter what became of it; give the number of rows done, None where it must wait."""
        if not batch.steps:
            return 0
        self.idle = False
        refused: dict[tuple[int, int], str] = {}
        if batch.rows:
            taken = [0]
            answer = self._try(batch.rows, refused, taken)
            if refused and not taken[0] and answer.verdict is Verdict.ACCEPTED and not self._takes_a_good_line():
                answer = _refuses_all(next(iter(refused.values())))
            if answer.verdict is Verdict.LATER:
                self._wait(answer)
                return None
        self._enter(batch, refused)
        return len(batch.rows) + sum(len(step.refused) for step in batch.steps)

    def _enter(self, batch: _Batch, refused: dict[tuple[int, int], str]) -> None:
        lines = {(stream, row.place): row.line for stream, row in batch.rows}
        steps = []
        for step in batch.steps:
            mine = [
                Aside(place, lines[stream, place], why)
                for (stream, place), why in refused.items()
                if stream == step.stream and step.from_place < place <= step.to_place
            ]
            kept = _joined(mine) if self._rules.bulk else mine
            steps.append(replace(step, sent=step.sent - len(mine), refused=(*step.refused, *kept)))
        self._ledger.enter(steps, self._clocks.boot_s(), self._clocks.wall_s(), self._rules.rewind_s)
        if batch.rows:
            newest_ms = max(row.stamp_ms for _, row in batch.rows)
            self.state = replace(self.state, newest_ms=max(self.state.newest_ms, newest_ms))

    def _try(self, rows: list[tuple[int, Row]], refused: dict[tuple[int, int], str], taken: list[int]) -> Answer:
        """Send rows; where some are refused, send them in halves until the bad ones stand alone."""
        answer = self._written([row.line for _, row in rows])
        if answer.verdict is Verdict.ACCEPTED:
            taken[0] += len(rows)
            return answer
        if answer.verdict is Verdict.LATER:
            return answer
        if len(rows) == 1:
            stream, row = rows[0]
            refused[stream, row.place] = answer.says
            if not taken[0] and len(refused) == ALL_BAD and not self._takes_a_good_line():
                return _refuses_all(answer.says)
            return Answer(Verdict.ACCEPTED)
        middle = len(rows) // 2
        first = self._try(rows[:middle], refused, taken)
        return first if first.verdict is Verdict.LATER else self._try(rows[middle:], refused, taken)

    def _takes_a_good_line(self) -> bool:
        stamp_ms = max(EARLIEST_MS, round(self._clocks.wall_s() * 1000))
        return (
            self._written([f"{self._probe} up=1 {stamp_ms * self._rules.stamps_in_a_ms}"]).verdict is Verdict.ACCEPTED
        )

    def _written(self, lines: list[str]) -> Answer:
        self.state = replace(self.state, requests=self.state.requests + 1)
        answer = self._post.write(lines)
        if answer.away:
            self._was_away = True
        elif answer.verdict is Verdict.ACCEPTED:
            self._backoff.worked()
            self._say(True, "")
            if self._was_away:
                self._was_away = False
                self._look_for_restart(away=True)
            self._last_taken_s = self._clocks.wall_s()
        return answer

    # -- what the server may have forgotten

    def _look_for_restart(self, away: bool = False) -> None:
        """Send once more what a server may have forgotten: one that started anew, or does not say and was away."""
        started_utc_s = self._post.started_utc_s()
        if started_utc_s is None:
            if away:
                self._rewind()
            return
        known = self._ledger.note(STARTED_NOTE)
        restarted = bool(known) and abs(float(known) - started_utc_s) > SAME_START_S
        young = self._last_taken_s - started_utc_s < YOUNG_S
        if restarted or (away and young):
            self._rewind()
        if known != repr(started_utc_s):
            self._ledger.keep_note(STARTED_NOTE, repr(started_utc_s))

    def _rewind(self) -> None:
        """Go by the last acceptance, not by now: what was accepted just before an outage of hours is at risk, too."""
        last_s = self._ledger.last_sent_t_boot_s()
        if last_s is not None:
            self._ledger.rewind(last_s - self._rules.rewind_s)
        self.state = replace(self.state, rewinds=self.state.rewinds + 1)

    def _wait(self, answer: Answer) -> None:
        self._say(False, answer.says)
        self._not_before_s = self._clocks.boot_s() + self._backoff.next_s(answer.retry_after_s)

    def _say(self, up: bool, says: str) -> None:
        since_utc_s = self.state.since_utc_s if self.state.up == up else self._clocks.wall_s()
        self.state = replace(self.state, up=up, says=says, since_utc_s=since_utc_s)


def _joined(asides: list[Aside]) -> list[Aside]:
    """Give rows put aside one by one as spans of neighbours with one reason; the line kept is the last one's."""
    found: list[Aside] = []
    for one in asides:
        if found and found[-1].reason == one.reason and found[-1].place == one.place - 1:
            found[-1] = replace(one, span=found[-1].span + 1)
        else:
            found.append(one)
    return found


def _refuses_all(says: str) -> Answer:
    return Answer(Verdict.LATER, f"refuses every line: {says}")
