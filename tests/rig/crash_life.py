"""Lives of a writer: a script of two starts, each with a run opened, fed, closed and merged, that any crash may end."""

from pathlib import Path

import apsw
from crash_check import Promised
from crash_disk import ModelDisk, ModelStorage
from crash_feed import NO_RESERVE, Bench, blocks, closed, event, opened

from scuffwatch.store.rules import WriterRules
from scuffwatch.store.space import SpaceRules
from scuffwatch.store.storage import Storage

MODEL_FOLDER = Path("/model")
RUN_S = 2.4
RUNS_A_START = 2
FAULTS = (apsw.Error, OSError)


class Ended(Exception):
    """The power went."""


class Life:
    """One script on one disk."""

    def __init__(
        self,
        disk: ModelDisk,
        storage: Storage,
        folder: Path,
        space: SpaceRules = NO_RESERVE,
        events_from: int = 0,
    ) -> None:
        self.disk, self._storage, self._folder, self._space = disk, storage, folder, space
        self.promised = Promised()
        self.errors_seen: list[str] = []
        self._event = events_from
        self._t_s = 0.0
        self._serial = 0

    def live(self, starts: int = 2) -> None:
        """Play the script until it ends or the power goes."""
        try:
            for _ in range(starts):
                self._one_start()
        except Ended:
            return

    def _one_start(self) -> None:
        bench = self._started()
        for _ in range(RUNS_A_START):
            self._one_run(bench)
        self._finish(bench)

    def _started(self) -> Bench:
        """Start, again and again where the disk fails: a start that fails says so and leaves nothing behind."""
        for _ in range(200):
            bench = Bench(self._folder, self._storage, WriterRules(space=self._space, retry_s=0.1))
            try:
                return bench.start()
            except FAULTS as error:
                self._note(bench, str(error))
        raise AssertionError(f"does not start: {self.errors_seen[-3:]}")

    def _note(self, bench: Bench, error: str) -> None:
        self.errors_seen.append(error)
        try:
            bench.writer.give_back()
        except FAULTS as another:
            self.errors_seen.append(str(another))
        if self.disk.dead:
            raise Ended

    def _one_run(self, bench: Bench) -> None:
        self._serial += 1
        name = f"2026-11-25-rig2-{self._serial:03d}"
        self.promised.run, self.promised.opened_s, self.promised.offered_s = name, self._t_s, self._t_s
        self._say(bench, name)
        bench.offer(opened(self._t_s, name))
        end_s = round(self._t_s + RUN_S, 3)
        for number, item in enumerate(blocks(self._t_s, end_s)):
            bench.offer(item)
            self.promised.offered_s = item.t_rig_s + 0.02
            if number % 5 == 4:
                self._turn(bench, 0.1)
            if number % 30 == 7:
                self._say(bench, name)
        bench.offer(closed(end_s))
        self._t_s = end_s
        self._drain(bench)
        self.promised.closed[name] = end_s
        self.promised.run = ""

    def _say(self, bench: Bench, run: str) -> None:
        self._event += 1
        bench.offer(event(self._event, run=run))

    def _turn(self, bench: Bench, seconds: float) -> None:
        bench.turn(seconds)
        if bench.writer.last_error:
            self.errors_seen.append(bench.writer.last_error)
        if self.disk.dead:
            self._note(bench, "the power went")
        self.promised.events = max(self.promised.events, bench.writer.recorded_event_sequence)

    def _drain(self, bench: Bench) -> None:
        for _ in range(2000):
            self._turn(bench, 0.5)
            if not (bench.inbox.items or bench.writer.run or bench.writer.merging or bench.writer.last_error):
                return
        raise AssertionError(f"never done: {bench.writer.last_error}")

    def _finish(self, bench: Bench) -> None:
        for _ in range(60):
            try:
                bench.writer.finish()
                return
            except FAULTS as error:
                self._note(bench, str(error))
        raise AssertionError(f"cannot be closed: {self.errors_seen[-1]}")


def operations_of_a_life(starts: int = 2) -> list[str]:
    """Give the kinds of all disk operations of an undisturbed life."""
    disk = ModelDisk()
    storage = ModelStorage(disk)
    Life(disk, storage, MODEL_FOLDER).live(starts)
    storage.unregister()
    return disk.kinds


def power_cut_at(number: int):  # type: ignore[no-untyped-def]
    """Give the fault that takes the power away at one operation."""

    def fault(operation: int, kind: str) -> Exception | None:
        return apsw.IOError("the power went") if operation == number else None

    return fault
