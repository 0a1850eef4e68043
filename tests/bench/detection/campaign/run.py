"""Runs detectors over recordings of a world, on one core or more, with a progress bar.

Reads world, classes and seeds, gives rows.
"""

import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import get_context

import world_a
import world_b
import world_c
import world_d
import world_e
import world_f
import world_g
import world_h
import world_i
import world_j
import world_k
import world_l
import world_m
import world_n
import world_o
from world_b.values import ChannelSet, Klass, Recording

from .score import Row, score
from .simple_rules import SIMPLE
from .variants import AS_IS, Variant
from .verdict import Daemon, Detector, shown_until

WORLDS: dict[str, Callable[[int, Klass, float, ChannelSet | None], Recording]] = {
    "a": world_a.generate,
    "b": world_b.generate,
    "c": world_c.generate,
    "d": world_d.generate,
    "e": world_e.generate,
    "f": world_f.generate,
    "g": world_g.generate,
    "h": world_h.generate,
    "i": world_i.generate,
    "j": world_j.generate,
    "k": world_k.generate,
    "l": world_l.generate,
    "m": world_m.generate,
    "n": world_n.generate,
    "o": world_o.generate,
}
SEALED: tuple[str, ...] = ()
"""Worlds whose single wrong results stay hidden unless asked for, so that nobody tunes on them."""
REPORTS = "k"
"""The one the short campaign is run on; of the first seven rigs of the twelfth four lack what shows their event."""
DETECTORS: dict[str, Detector] = {detector.name: detector for detector in (Daemon(), *SIMPLE)}
TESTED = Daemon.name
_BAR = 30


@dataclass(frozen=True, slots=True)
class Task:
    """One recording to be made and judged.

    Attributes:
        world, klass, seed, rate_hz: of the recording.
        detectors: names.
        variant: see `Variant`.
        healthy_until_s: of a recording without an event no more than this is shown; infinite for all of it.
    """

    world: str
    klass: Klass
    seed: int
    rate_hz: float
    detectors: tuple[str, ...]
    variant: Variant = AS_IS
    healthy_until_s: float = float("inf")


def tasks_of(
    worlds: Iterable[str],
    klasses: Sequence[Klass],
    seeds: Sequence[int],
    rate_hz: float,
    detectors: Sequence[str] = tuple(DETECTORS),
    variant: Variant = AS_IS,
    healthy_until_s: float = float("inf"),
) -> list[Task]:
    """Give the tasks, seeds outermost, so that a run that is broken off has some of everything."""
    return [
        Task(world, klass, seed, rate_hz, tuple(detectors), variant, healthy_until_s)
        for seed in seeds
        for klass in klasses
        for world in worlds
    ]


def judge(task: Task) -> list[Row]:
    """Make one recording and score every detector on it; nothing where the rig does not have what the variant needs."""
    fitted = ChannelSet.ALL if task.variant.all_fitted else None
    recording = task.variant.apply(WORLDS[task.world](task.seed, task.klass, task.rate_hz, fitted), task.seed)
    if recording is None:
        return []
    if not (recording.truth.trip_worthy or recording.truth.supply_lost_s > 0.0 or recording.truth.fault_s > 0.0):
        recording = shown_until(recording, task.healthy_until_s)
    return [
        score(task.world, name, task.klass, task.seed, recording, DETECTORS[name].judge(recording))
        for name in task.detectors
    ]


def run(tasks: Sequence[Task], jobs: int = 1, bar: bool = True) -> list[Row]:
    """Judge all tasks.

    Args:
        tasks: in order.
        jobs: processes; 1 stays in this one.
        bar: draw progress on stderr.
    Returns:
        Rows in the order of the tasks.
    """
    rows: list[Row] = []
    for done, found in enumerate(_judged(tasks, jobs), start=1):
        rows += found
        if bar:
            _draw(done, len(tasks))
    return rows


def _judged(tasks: Sequence[Task], jobs: int) -> Iterator[list[Row]]:
    if jobs == 1:
        yield from map(judge, tasks)
        return
    with get_context("fork").Pool(jobs) as pool:
        yield from pool.imap(judge, tasks)
        pool.close()
        pool.join()


class _Clock:
    """When the bar was first drawn."""

    begun_s: float | None = None


def _draw(done: int, total: int) -> None:
    now_s = time.monotonic()
    if _Clock.begun_s is None or done == 1:
        _Clock.begun_s = now_s
    left = ""
    if done > 1:
        left_s = (now_s - _Clock.begun_s) / (done - 1) * (total - done)
        left = f", {left_s / 60.0:.0f} min left"
    full = _BAR * done // total
    end = "\n" if done == total else ""
    print(f"\r[{'#' * full}{'.' * (_BAR - full)}] {done}/{total}{left}   ", end=end, file=sys.stderr, flush=True)
