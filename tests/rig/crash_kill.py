"""Real writers, each in a process of its own, killed at random moments and in the moments of closing a run.

Some live beside each other, so that a campaign takes minutes; each has a folder of its own and is judged when all are
dead. The feeder keeps a board in shared memory of what it has offered and what the recorder has told it. The promise of
a kill: nothing recorded is lost, a closed run is whole and keeps its outcome, and of the open run no more is lost than
the recorder said was waiting.
"""

import mmap
import os
import random
import signal
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from crash_check import LOST_AT_MOST_S, Promised, emptied, faults_after
from crash_feed import NO_RESERVE, blocks, closed, event, opened

from scuffwatch.store.recorder import Recorder
from scuffwatch.store.rules import WriterRules

LONGEST_S = 8.0
AT_ONCE = 10
TOLD_SLACK_S = 0.05
"""Between the recorder's word and its place on the board another block may be offered."""
_RUN_S = (0.6, 3.0)
_AFTER_CLOSING_S = 0.12
_POLL_S = 0.001
_WRITER_TURN_S = 0.04
"""The writer looks every 20 ms; the feeder catches up afterwards."""
_PLACES = ("events", "told_s", "offered_s", "opened_s", "run", "done", "closings")
_RUNS_MAX = 64


class Board:
    """What the feeder has done and been told; survives it. Each place is one aligned word: never half written."""

    def __init__(self) -> None:
        self._values = np.frombuffer(mmap.mmap(-1, 8 * (len(_PLACES) + _RUNS_MAX)), np.float64)

    def put(self, **values: float) -> None:
        """Write places, in the order given."""
        for name, value in values.items():
            self._values[_PLACES.index(name)] = value

    def get(self, name: str) -> float:
        """Read a place."""
        return float(self._values[_PLACES.index(name)])

    def put_end(self, run: int, t_rig_s: float) -> None:
        """Write where a run ended, s."""
        self._values[len(_PLACES) + run % _RUNS_MAX] = t_rig_s

    def end_s(self, run: int) -> float:
        """Read where a run ended, s."""
        return float(self._values[len(_PLACES) + run % _RUNS_MAX])


@dataclass(frozen=True, slots=True)
class How:
    """How the writers of a campaign work, and what is claimed of them; the controls claim too much.

    Attributes:
        rules: of the writer.
        claim_events: counts events as recorded when they are offered.
        claim_nothing_waits: takes it that no sample waits, whatever the recorder says.
    """

    rules: WriterRules = field(default_factory=lambda: WriterRules(space=NO_RESERVE))
    claim_events: bool = False
    claim_nothing_waits: bool = False


@dataclass(frozen=True, slots=True)
class Kill:
    """One kill and what came of it.

    Attributes:
        seed: of the lengths of its runs and the moment of the kill.
        moment: in words.
        done: runs whose closing the writer had acknowledged.
        told_s: samples that waited, as the recorder said last, s.
        lost_s: samples of the open run that were offered and are gone, s; NaN where none was open.
        broken: promises that were not kept.
    """

    seed: int
    moment: str
    done: int
    told_s: float
    lost_s: float = float("nan")
    broken: tuple[str, ...] = ()


class _Victim:
    """One writer and its moment."""

    def __init__(self, seed: int, folder: Path, how: How) -> None:
        self.seed, self.folder, self._how = seed, emptied(folder), how
        self.board = Board()
        chance = random.Random(seed)
        self._closing = chance.choice((0, 0, 1, 2))
        self._wait_s = chance.uniform(0.02, LONGEST_S) if not self._closing else chance.uniform(0, _AFTER_CLOSING_S)
        self._due_s = time.monotonic() + (LONGEST_S + 20.0 if self._closing else self._wait_s)
        self._child = os.fork()
        if self._child == 0:
            try:
                _write(folder, self.board, random.Random(seed), how)
            except Exception:  # noqa: BLE001 - whatever ended it is the finding
                folder.with_suffix(".txt").write_text(traceback.format_exc())
            finally:
                os._exit(1)

    @property
    def moment(self) -> str:
        """Give when it dies, in words."""
        return f"{self._wait_s:.3f} s after " + (f"closing {self._closing}" if self._closing else "the start")

    def killed(self) -> bool:
        """Kill it if its moment has come; say whether it is dead."""
        if self._closing and self.board.get("closings") >= self._closing:
            self._closing, self._due_s = 0, time.monotonic() + self._wait_s
        if time.monotonic() < self._due_s:
            return False
        os.kill(self._child, signal.SIGKILL)
        _, self._status = os.waitpid(self._child, 0)
        return True

    def judged(self, moment: str) -> Kill:
        """Recover what it left and give what came of it."""
        board = self.board
        kill = Kill(self.seed, moment, int(board.get("done")), board.get("told_s"))
        if not os.WIFSIGNALED(self._status):
            why = self.folder.with_suffix(".txt").read_text()
            return replace(kill, broken=(f"the writer ended by itself: {why}",))
        run = int(board.get("run"))
        told_s = 0.0 if self._how.claim_nothing_waits else kill.told_s
        promised = Promised(
            events=int(board.get("events")),
            offered_s=board.get("offered_s"),
            opened_s=board.get("opened_s"),
            run=_name(run) if run > kill.done else "",
            closed={_name(number): board.end_s(number) for number in range(1, kill.done + 1)},
            lost_at_most_s=told_s + TOLD_SLACK_S,
        )
        try:
            found = faults_after(self.folder, promised)
        except Exception:  # noqa: BLE001 - what it left cannot be opened: that is the finding
            found = [traceback.format_exc()]
        return replace(kill, lost_s=promised.lost_s, broken=tuple(found))


def _name(number: int) -> str:
    return f"2026-11-25-rig2-{number:03d}"


def _write(folder: Path, board: Board, chance: random.Random, how: How) -> None:
    """Open, feed and close runs in real time; the next opens when the writer has closed the last. Never come back."""
    recorder = Recorder(folder, rules=how.rules)
    recorder.start()
    feeder = _Feeder(recorder, board, how)
    while True:
        feeder.run(round(chance.uniform(*_RUN_S), 1))


class _Feeder:
    """Feeds a recorder in real time and keeps the board."""

    def __init__(self, recorder: Recorder, board: Board, how: How) -> None:
        self._recorder, self._board, self._how = recorder, board, how
        self._begun_s, self._t_s = time.monotonic(), 0.0
        self._sequence, self._run = 0, 0

    def run(self, span_s: float) -> None:
        """Record one run and wait, still feeding, until the writer has closed it."""
        self._run += 1
        opened_s = self._t_s
        self._recorder.offer(opened(opened_s, _name(self._run)))
        self._board.put(opened_s=opened_s, offered_s=opened_s, run=self._run)
        self._feed(span_s, in_run=True)
        self._board.put_end(self._run, self._t_s)
        self._recorder.offer(closed(self._t_s))
        self._board.put(closings=self._run)
        while not self._closed():
            self._feed(0.1, in_run=False)
            time.sleep(_WRITER_TURN_S)
        self._board.put(done=self._run)

    def _closed(self) -> bool:
        """Say whether the journal has the outcome: the item is off the queue only after that."""
        status = self._recorder.status
        return not status.queue_items and not status.writing and not status.last_error

    def _feed(self, span_s: float, in_run: bool) -> None:
        end_s = round(self._t_s + span_s, 3)
        for number, item in enumerate(blocks(self._t_s, end_s)):
            time.sleep(max(0.0, self._begun_s + item.t_rig_s - time.monotonic()))
            self._recorder.offer(item)
            if number % 3 == 0:
                self._sequence += 1
                self._recorder.offer(event(self._sequence, run=_name(self._run)))
            status = self._recorder.status
            recorded = self._sequence if self._how.claim_events else status.recorded_event_sequence
            self._board.put(events=recorded, told_s=status.queue_s)
            if in_run and item.layout.group == 0:
                self._board.put(offered_s=item.t_rig_s + item.n * item.period_s)
        self._t_s = end_s


def kills(count: int, folder: Path, how: How | None = None, tell: Callable[[str], None] = print) -> list[Kill]:
    """Kill many writers, some at once; each broken promise is told as it is found: a campaign may not end."""
    found = []
    for first in range(0, count, AT_ONCE):
        for kill in _together(range(first, min(first + AT_ONCE, count)), folder, how or How()):
            if kill.broken:
                tell(f"{kill}")
            found.append(kill)
    return found


def _together(seeds: range, folder: Path, how: How) -> Iterator[Kill]:
    folder.mkdir(exist_ok=True)
    victims = [_Victim(seed, folder / f"kill-{seed}", how) for seed in seeds]
    moments = {victim.seed: victim.moment for victim in victims}
    alive = list(victims)
    while alive:
        alive = [victim for victim in alive if not victim.killed()]
        time.sleep(_POLL_S)
    for victim in victims:
        yield victim.judged(moments[victim.seed])
        emptied(victim.folder).rmdir()


def summary(found: list[Kill]) -> str:
    """Say in a line what a campaign has shown."""
    lost_s = sorted(kill.lost_s for kill in found if kill.lost_s == kill.lost_s)
    showing = sum(kill.lost_s >= 0 and kill.told_s > 0 for kill in found)
    return (
        f"{len(found)} kills, {showing} in an open run, {sum(kill.done for kill in found)} runs closed before, "
        f"{sum(bool(kill.broken) for kill in found)} broken; lost p50 {lost_s[len(lost_s) // 2]:.2f}, worst "
        f"{lost_s[-1]:.2f} s; told at most {max(kill.told_s for kill in found):.2f} s; "
        f"more than {LOST_AT_MOST_S} s lost in {sum(lost > LOST_AT_MOST_S for lost in lost_s)}"
    )
