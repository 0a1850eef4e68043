"""Stamps of full-rate rows, and when they may be sent: one sample a stamp, only in gaps, no faster than set."""

import time
from pathlib import Path

import numpy as np
import pytest
from crash_feed import FAST, NAME, block, closed, event, opened
from crash_feed import Bench as Feed
from full_runs import all_arrive_at
from hypothesis import given
from hypothesis import strategies as st
from sending import RIG, bench, check, full_bench, send_all, wall_s
from servers import FaultProxy, VictoriaMetrics

from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.store.reader import Archive
from scuffwatch.uplink.answers import Answer, Verdict
from scuffwatch.uplink.closed_runs import ClosedRuns
from scuffwatch.uplink.full_rate import BATCH_MAX_ROWS, FullRate, rules
from scuffwatch.uplink.ledger import Ledger
from scuffwatch.uplink.samples import one_each
from scuffwatch.uplink.timeseries import Clocks

FASTER = GroupLayout(0, 4000.0, IntegerType.INT16, ("friction_force_n", "normal_load_n"))


@pytest.mark.parametrize(("early_us", "blocks"), [(4, 500), (400, 3_000)])
def test_a_rig_box_that_is_too_fast_moves_stamps_by_a_second_at_most(
    data_dir: Path, early_us: int, blocks: int
) -> None:
    """The clock that spaces the samples may run faster than the one that stamps the frames."""
    feed = Feed(data_dir).start()
    feed.offer(event(1), opened(0.0, NAME, (FAST,)))
    for number in range(blocks):
        feed.offer(block(FAST, number, late_us=-number * early_us))
        if number % 50 == 49:
            feed.turn(1.0)
    feed.offer(event(2), closed(blocks / 50))
    feed.finish()
    runs, n = ClosedRuns(Archive(data_dir), RIG, wall_s), blocks * 20
    (found,) = runs.streams(frozenset())
    assert runs.census(found.name, 0, False) == (n, n)
    rows = runs.rows(found.name, 0, n, n)
    stamps = np.array([int(row.line.rsplit(" ", 1)[1]) for row in rows])
    assert (np.diff(stamps) > 0).all()
    with Archive(data_dir).open_run(NAME) as reader:
        t_s, _ = reader.samples("friction_force_n", -np.inf, np.inf)
        moved_s = (stamps - round(reader.t_open_utc_s * 1e9)) / 1e9 - (t_s - reader.t_open_rig_s)
    whole_ms = not (stamps % 1_000_000).any()
    assert whole_ms is (early_us < 400)
    assert -0.001 < moved_s.min() <= moved_s.max() < (1.001 if whole_ms else 0.001)
    parts = [row.line for at in range(0, n, 997) for row in runs.rows(found.name, at, min(at + 997, n), 997)]
    assert parts == [row.line for row in rows]


def test_above_1_khz_stamps_are_whole_microseconds_and_none_is_there_twice(
    data_dir: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    feed = Feed(data_dir).start()
    feed.offer(event(1), opened(0.0, NAME, (FASTER,)))
    for number in range(5 * 200):
        feed.offer(block(FASTER, number, late_us=number * 7 % 5))
        if number % 20 == 19:
            feed.turn(0.1)
    feed.offer(event(2), closed(5.0))
    feed.finish()
    sending = full_bench(data_dir, proxy.url)
    send_all(sending)
    assert sending.ledger.totals().sent == 20_000
    stamps = [int(line.rsplit(" ", 1)[1]) for lines in proxy.writes for line in lines]
    assert len(set(stamps)) == 20_000
    assert {stamp % 1000 for stamp in stamps} == {0}
    assert any(stamp % 1_000_000 for stamp in stamps)
    all_arrive_at(store, 2 * 5_000)  # this store keeps one a ms, and says nothing
    sending.close()


@given(st.lists(st.integers(-3, 30), min_size=1, max_size=60), st.integers(0, 60), st.integers(0, 60))
def test_every_sample_gets_a_stamp_of_its_own_however_the_samples_are_split(
    steps: list[int], cut_a: int, cut_b: int
) -> None:
    wanted = np.cumsum(np.array(steps, np.int64))
    whole = one_each(wanted, -100)
    assert (np.diff(whole) >= 1).all()
    assert (whole >= wanted).all()
    by_hand, last = [], -100
    for stamp in wanted.tolist():
        last = max(stamp, last + 1)
        by_hand.append(last)
    assert whole.tolist() == by_hand
    last, parts = -100, []
    for part in np.split(wanted, sorted({min(cut_a, len(wanted)), min(cut_b, len(wanted))})):
        if len(part):
            stamps = one_each(part, last)
            parts += stamps.tolist()
            last = int(stamps[-1])
    assert parts == by_hand


class Taker:
    """A store that takes everything, and counts."""

    def __init__(self) -> None:
        self.taken: list[int] = []

    def write(self, lines: list[str]) -> Answer:
        """Take lines."""
        self.taken.append(len(lines))
        return Answer(Verdict.ACCEPTED)

    def started_utc_s(self) -> float | None:
        """Tell nothing."""
        return None

    def close(self) -> None:
        """Do nothing."""


@pytest.mark.parametrize(("rate", "batch"), [(2_000, 1_000), (300, 300), (20_000, 1_000)])
def test_it_sends_in_the_gaps_only_and_no_faster_than_set(gapped: Path, rate: int, batch: int) -> None:
    now_s, free, store = [1000.0], [False], Taker()
    ledger = Ledger(gapped / "uplink" / "full.sqlite", "boot", 0.0)
    sending = rules(5_000, rate, 300.0)
    assert sending.batch_rows == batch <= BATCH_MAX_ROWS
    clocks = Clocks(lambda: now_s[0], wall_s)
    upload = FullRate(ClosedRuns(Archive(gapped), RIG, wall_s), ledger, store, sending, rate, lambda: free[0], clocks)
    assert upload.turn() > 0
    assert ledger.totals().queued == 13_635  # counted though it may not send
    assert store.taken == []
    free[0] = True
    begun_s = now_s[0]
    while ledger.totals().queued:
        now_s[0] += max(upload.turn(), 0.001)
        assert sum(store.taken) <= rate * (now_s[0] - begun_s) + batch
        check(ledger)
    assert sum(store.taken) == 13_635
    assert now_s[0] - begun_s < 13_635 / rate + 5.0
    ledger.close()


def test_live_rows_leave_a_gap_only_when_none_is_left_to_send(
    gapped: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    proxy.script.acts = ["drop", "pass"]
    live = bench(gapped, proxy.url, batch_rows=10)
    assert not live.sender.idle
    live.sender.turn()
    assert not live.sender.idle
    while live.ledger.totals().queued or live.ledger.stretches():
        time.sleep(live.sender.turn() / 10)
        assert not live.sender.idle
    live.sender.turn()
    assert live.sender.idle
    live.close()
