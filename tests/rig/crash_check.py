"""What must hold after any crash: the checks all kinds of crash share."""

import shutil
from dataclasses import dataclass, field
from math import isfinite, nan
from pathlib import Path

import numpy as np
from crash_feed import FAST, LAYOUTS, Bench, counts_at

from scuffwatch.model.block import Block
from scuffwatch.model.run import Outcome
from scuffwatch.store.reader import Archive
from scuffwatch.store.verify import verify_journal, verify_run

LOST_AT_MOST_S = 1.0


@dataclass
class Promised:
    """What the writer had promised when it died.

    Attributes:
        events: last event sequence of this start that counted as recorded.
        offered_s: node time up to which samples of the open run were offered, s.
        opened_s: when the run was opened, s.
        run: the run they belong to; empty where none was open.
        closed: runs whose outcome was in the journal, and up to where their samples were offered, s; NaN where the
            crash left that open.
        lost_at_most_s: samples of the open run that may be gone, s.
        lost_s: samples of the open run that are gone, s; NaN before it has been looked at, or where none was open.
    """

    events: int = 0
    offered_s: float = 0.0
    opened_s: float = 0.0
    run: str = ""
    closed: dict[str, float] = field(default_factory=dict)
    lost_at_most_s: float = LOST_AT_MOST_S
    lost_s: float = nan


def faults_after(folder: Path, promised: Promised) -> list[str]:
    """Recover a folder a writer died on, and give every promise that is broken."""
    bench = Bench(folder).start()
    bench.finish()
    archive = Archive(folder)
    found = _lost_events(archive, promised)
    runs = {run.name: run for run in archive.runs()}
    found += [f"run {name} lost its outcome" for name in promised.closed if _outcome(runs, name) is not Outcome.HELD]
    if promised.run and promised.run not in runs:
        promised.lost_s = promised.offered_s - promised.opened_s
        if promised.lost_s > promised.lost_at_most_s:
            found.append(f"run {promised.run} is lost, {promised.lost_s:.3f} s after it was opened")
    for name in runs:
        found += [f"{name}: {says}" for says in verify_run(folder, name).findings]
        found += _wrong_samples(archive, name, promised)
    return found + list(verify_journal(folder).findings)


def _outcome(runs: dict[str, object], name: str) -> object:
    return getattr(runs.get(name), "outcome", None)


def _lost_events(archive: Archive, promised: Promised) -> list[str]:
    texts = [event.says for event in archive.events(0, 100_000)]
    kept = {text for text in texts if text.startswith("e")}
    lost = [f"event {n} was recorded and is lost" for n in range(1, promised.events + 1) if f"e{n}" not in kept]
    return lost + (["an event is there twice"] if len([t for t in texts if t in kept]) != len(kept) else [])


def _wrong_samples(archive: Archive, name: str, promised: Promised) -> list[str]:
    found = []
    with archive.open_run(name) as reader:
        if reader.result is None:
            found.append(f"{name} reads as live")
        for item in reader.blocks():
            if isinstance(item, Block):
                want = counts_at(LAYOUTS[item.layout.group], item.first_index, item.n)
                if not np.array_equal(item.counts, want):
                    found.append(f"{name}: wrong counts at {item.first_index} of group {item.layout.group}")
        accounts = reader.ledger()
        found += [f"{name}: group {a.group} does not balance" for a in accounts if not a.balances]
        fast = next((a for a in accounts if a.group == FAST.group), None)
        end_s = promised.opened_s if fast is None else fast.next_index / FAST.rate_hz
        if name == promised.run:
            promised.lost_s = promised.offered_s - end_s
            if promised.lost_s > promised.lost_at_most_s:
                found.append(
                    f"{name}: {promised.lost_s:.3f} s are lost, {promised.lost_at_most_s:.3f} s at most may be"
                )
        elif isfinite(closed_s := promised.closed.get(name, nan)):
            missing = 0 if fast is None else fast.marked
            if abs(end_s - closed_s) > 1e-6 or missing:
                found.append(f"{name} was closed at {closed_s:.3f} s and ends at {end_s:.3f} s, {missing} missing")
    return found


def emptied(folder: Path) -> Path:
    """Give the folder with nothing in it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    return folder
