"""A made-up rig box for tests of the store: blocks of two groups as the assembler gives them, and a writer to feed.

Every count is a pure function of its sample index, so what is read back can be compared with what was produced without
keeping it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from scuffwatch.model.block import Block, IntArray
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.model.event import ChannelRecord, Event, EventKind, GapMark
from scuffwatch.model.run import Outcome, RunHeader, RunKind, RunResult
from scuffwatch.store.inbox import Inbox, InboxRules
from scuffwatch.store.items import Item, RunClosed, RunOpened
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.space import SpaceRules
from scuffwatch.store.storage import DiskStorage, Storage
from scuffwatch.store.writer import Writer

FAST = GroupLayout(
    0,
    1000.0,
    IntegerType.INT16,
    ("friction_force_n", "normal_load_n", "motor_current_a", "sound_level_db", "supply_v", "spare_v"),
)
SLOW = GroupLayout(1, 10.0, IntegerType.INT32, ("pin_temperature_degc", "bath_temperature_degc"))
LAYOUTS = (FAST, SLOW)
BLOCK_N = {0: 20, 1: 1}
T0_UTC_S = 1_795_600_000.0
NAME = "2026-11-25-rig2-001"
SETTINGS = '[rig]\nname = "rig 2"\n'
NO_RESERVE = SpaceRules(samples_stop_bytes=0, reserve_bytes=0)


@lru_cache(maxsize=20_000)
def counts_at(layout: GroupLayout, first_index: int, n: int) -> IntArray:
    """Give the counts of samples first_index to first_index + n - 1: noise from a hash of index and channel."""
    index = np.arange(first_index, first_index + n, dtype=np.uint64)
    rows = []
    for channel in range(len(layout.channels)):
        mixed = (index + np.uint64(channel * 1_000_003 + layout.group)) * np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(29)
        mixed *= np.uint64(0xBF58476D1CE4E5B9)
        noise = (mixed >> np.uint64(32)).astype(np.int64) % 41 - 20
        rows.append(noise + 1000 * (channel + 1))
    dtype = "<i2" if layout.integer_type is IntegerType.INT16 else "<i4"
    found = np.array(rows).astype(dtype)
    found.flags.writeable = False
    return found


@lru_cache(maxsize=20_000)
def block(layout: GroupLayout, number: int, epoch: int = 0, lost_before: int = 0, late_us: int = 0) -> Block:
    """Give block `number` of a group; its stamp is `late_us` later than the nominal one."""
    n = BLOCK_N[layout.group]
    first = number * n
    t_us = round(first / layout.rate_hz * 1e6) + late_us
    return Block(layout, epoch, number & 0xFFFF, first, t_us / 1e6, counts_at(layout, first, n), lost_before)


def blocks(t0_s: float, t1_s: float, epoch: int = 0) -> Iterator[Block]:
    """Give the blocks of both groups that begin in a span, in order of arrival; fast stamps jitter by some µs."""
    fast, slow = round(t0_s * 50), round(t0_s * 10)
    while fast < round(t1_s * 50):
        yield block(FAST, fast, epoch, late_us=fast * 7 % 5)
        fast += 1
        if fast % 5 == 0 and slow < round(t1_s * 10):
            yield block(SLOW, slow, epoch)
            slow += 1


def records(layouts: tuple[GroupLayout, ...] = LAYOUTS) -> tuple[ChannelRecord, ...]:
    """Give the channels, calibrated by straight lines, one of them falling."""
    return tuple(
        ChannelRecord(
            name, g.group, i, g.rate_hz, g.integer_type, (1.0, -0.5 if i == 1 else 0.25), 2.0, -1e4, 1e4, "c1"
        )
        for g in layouts
        for i, name in enumerate(g.channels)
    )


def opened(t_rig_s: float, name: str = NAME, layouts: tuple[GroupLayout, ...] = LAYOUTS) -> RunOpened:
    """Give the opening of a simulated test run."""
    header = RunHeader(name, RunKind.TEST, "HEES 46", 4.0, 15.0, "7, track 3", "22-B", (20.0, 40.0), 60.0, True)
    return RunOpened(header, records(layouts), SETTINGS, t_rig_s, T0_UTC_S + t_rig_s)


def closed(t_rig_s: float, outcome: Outcome = Outcome.HELD) -> RunClosed:
    """Give the end of a run."""
    return RunClosed(RunResult(outcome, "", t_rig_s), T0_UTC_S + t_rig_s)


def event(sequence: int, says: str = "", run: str = NAME, kind: EventKind = EventKind.NOTE) -> Event:
    """Give an event; its sentence says its number unless told otherwise."""
    return Event(sequence, kind, float(sequence), 100.0 + sequence, T0_UTC_S, run, "bench", says or f"e{sequence}", {})


@dataclass
class Clock:
    """A clock that is moved by hand."""

    now_s: float = 0.0

    def __call__(self) -> float:
        """Give the time, s."""
        return self.now_s


class Bench:
    """A writer without its thread: fed and turned by hand, so a crash can be put at any place."""

    def __init__(
        self,
        data_dir: Path,
        storage: Storage | None = None,
        rules: WriterRules | None = None,
        inbox_rules: InboxRules | None = None,
    ) -> None:
        self.mono, self.wall = Clock(), Clock(T0_UTC_S)
        self.inbox = Inbox(inbox_rules or InboxRules(span_s=1e9))
        rules = rules or WriterRules(space=NO_RESERVE)
        self.writer = Writer(data_dir, storage or DiskStorage(), self.inbox, rules, self.mono, self.wall)
        self.says: tuple[str, ...] = ()

    def start(self) -> "Bench":
        """Put the record in order and open it."""
        self.says = self.writer.open("boot")
        return self

    def offer(self, *items: Item) -> None:
        """Hand items over."""
        for item in items:
            self.inbox.offer(item, self.writer.held_s, self.writer.held_bytes)

    def turn(self, seconds: float = 0.02) -> None:
        """Let time pass and the writer work."""
        self.mono.now_s += seconds
        self.wall.now_s += seconds
        self.writer.turn()

    def feed(self, t0_s: float, t1_s: float, epoch: int = 0) -> None:
        """Feed the blocks of a span, a turn every 100 ms of them."""
        for number, item in enumerate(blocks(t0_s, t1_s, epoch)):
            self.offer(item)
            if number % 5 == 4:
                self.turn(0.1)

    def settle(self) -> None:
        """Work until nothing waits and everything is merged."""
        for _ in range(2000):
            self.turn(0.5)
            if not self.inbox.items and not self.writer.merging and not self.writer.last_error:
                return
        raise AssertionError(f"still waiting: {self.inbox.items} items, {self.writer.last_error}")

    def finish(self) -> None:
        """End cleanly."""
        self.settle()
        self.writer.finish()


def record(data_dir: Path, t0_s: float, t1_s: float, name: str = NAME) -> None:
    """Record a whole run, merged and closed."""
    bench = Bench(data_dir).start()
    bench.offer(event(1), opened(t0_s, name))
    bench.feed(t0_s, t1_s)
    bench.offer(event(2), closed(t1_s))
    bench.finish()


def gap(layout: GroupLayout, first_index: int, n: int, why: str = "lost on the wire", epoch: int = 0) -> GapMark:
    """Give a gap mark of known length."""
    return GapMark(layout.group, epoch, first_index, n, first_index / layout.rate_hz, why)
