"""Every stored sample of a closed run gets to a real store once, whatever happens in between."""

import json
import shutil
import sqlite3
import time
from pathlib import Path

import numpy as np
import pytest
from crash_feed import NAME, T0_UTC_S, closed, event, opened, record
from crash_feed import Bench as Feed
from full_runs import (
    GAP_S,
    RUN_S,
    SECOND,
    all_arrive_at,
    finish,
    samples_stored,
)
from sending import RIG, full_bench, send_all, wall_s
from servers import FaultProxy, VictoriaMetrics

from scuffwatch.store.lock import FolderLock
from scuffwatch.store.reader import Archive
from scuffwatch.uplink.closed_runs import ClosedRuns


def test_every_sample_is_on_the_store_with_its_value_and_a_gap_stays_one(gapped: Path, store: VictoriaMetrics) -> None:
    finish(full_bench(gapped, store.url), gapped, store)
    (series,) = store.series("scuffwatch_full_rate_friction_force_n")
    with Archive(gapped).open_run(NAME) as reader:
        t_s, values = reader.samples("friction_force_n", -np.inf, np.inf)
        offset_s = reader.t_open_utc_s - reader.t_open_rig_s
    assert np.abs(np.array(series["timestamps"]) - (t_s + offset_s) * 1000).max() <= 1.0
    assert series["values"] == pytest.approx(values, rel=1e-6)
    stamps_s = np.array(series["timestamps"]) / 1000 - T0_UTC_S
    assert not np.any((stamps_s > GAP_S[0]) & (stamps_s < GAP_S[1] - 0.001))
    tags = {"rig": RIG, "run": NAME, "kind": "test", "lubricant": "HEES 46", "simulated": "true"}
    assert tags.items() <= series["metric"].items()
    lines = (Path(__file__).parents[2] / "deploy" / "store" / "queries.txt").read_text().splitlines()
    queries = [
        line.replace("RUN", NAME) for line in lines if line.startswith(("scuff", "count")) and "full_rate" in line
    ]
    asked = [store.get("/api/v1/query", query=q, time=str(T0_UTC_S + RUN_S - 0.001), nocache="1") for q in queries]
    force, count = (json.loads(told)["data"]["result"] for told in asked)
    assert len(force[0]["values"]) == 1000
    assert count[0]["value"][1] == "13500"


def test_a_value_outside_the_range_is_sent_and_counted(gapped: Path, store: VictoriaMetrics) -> None:
    (path,) = (gapped / "runs").glob("*.sqlite")
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE channels SET range_high = 248 WHERE name = 'friction_force_n'")
    connection.close()
    with Archive(gapped).open_run(NAME) as reader:
        _, values = reader.samples("friction_force_n", -np.inf, np.inf)
    sending = full_bench(gapped, store.url)
    finish(sending, gapped, store)
    (series,) = store.series("scuffwatch_full_rate_group0_out_of_range")
    assert sum(series["values"]) == (values > 248).sum() > 0


def test_no_answer_loses_or_doubles_a_sample_and_the_order_is_kept(
    gapped: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    record(gapped, 100.0, 101.0, SECOND)
    proxy.script.acts = ["pass", "drop", 500, 503, "pass", 429, 401, "lost reply", "pass"]
    finish(full_bench(gapped, proxy.url), gapped, store)
    seen = [line for lines in proxy.writes for line in lines]
    places = [(SECOND in line, "group1" in line, int(line.rsplit(" ", 1)[1])) for line in seen]
    first = list(dict.fromkeys(places))
    assert first == sorted(first)
    assert len(first) < len(seen)
    assert max(len(lines) for lines in proxy.writes) == 1000


def test_a_killed_store_and_a_restarted_uplink_in_the_middle_lose_nothing(gapped: Path, store: VictoriaMetrics) -> None:
    sending = full_bench(gapped, store.url)
    for _ in range(3):
        sending.sender.turn()
    store.kill()
    sending.sender.turn()
    assert not sending.sender.state.up
    sending.close()
    time.sleep(1.1)  # it tells the whole second of its start, and no store is started twice in one
    store.start()
    sending = full_bench(gapped, store.url)
    assert sending.ledger.totals().sent == 3000
    for _ in range(4):
        sending.sender.turn()
    store.kill()
    sending.sender.turn()
    store.start()
    finish(sending, gapped, store)
    assert sending.sender.state.rewinds >= 2


def test_what_a_killed_store_said_yes_to_is_sent_again(gapped: Path, store: VictoriaMetrics, proxy: FaultProxy) -> None:
    proxy.script.acts = ["swallow", "swallow", "pass"]
    proxy.started_utc_s = 1000.0
    sending = full_bench(gapped, proxy.url)
    sending.sender.turn()
    sending.sender.turn()
    assert sending.ledger.totals().sent == 2000
    proxy.started_utc_s = 2000.0
    finish(sending, gapped, store)


def test_bad_rows_are_put_aside_as_a_stretch_with_the_reason(
    gapped: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    proxy.script.acts, proxy.script.poison = ["partial"], f" {int(T0_UTC_S) + 5}00"  # ten ms of the sixth second
    sending = full_bench(gapped, proxy.url)
    send_all(sending)
    aside = sending.ledger.quarantine()
    assert [(stream[-1], place, "partial write" in reason) for stream, place, _, reason in aside] == [
        ("1", 51, True), ("0", 5010, True)
    ]  # fmt: skip
    assert sending.ledger.totals().quarantined == 11
    all_arrive_at(store, sum(samples_stored(gapped).values()) - 10 * 6 - 2)
    proxy.script.acts = ["pass"]
    assert sending.ledger.release_quarantine() == 11
    finish(sending, gapped, store)


def test_a_damaged_chunk_is_put_aside_whole_and_costs_only_itself(data_dir: Path, store: VictoriaMetrics) -> None:
    record(data_dir, 0.0, 35.0)
    (path,) = (data_dir / "runs").glob("*.sqlite")
    with sqlite3.connect(path) as connection:
        ids = "SELECT id, n FROM chunks WHERE grp = 0 ORDER BY id"
        (first, n_first), *sound, (last, n_last) = connection.execute(ids).fetchall()
        connection.execute("UPDATE chunks SET crc32 = crc32 + 1 WHERE id = ?", (first,))
        connection.execute("UPDATE chunks SET borders = x'01aa' WHERE id = ?", (last,))
    connection.close()
    left = sum(n for _, n in sound)
    assert left + n_first + n_last == 35_000
    sending = full_bench(data_dir, store.url)
    send_all(sending)
    totals = sending.ledger.totals()
    assert (totals.sent, totals.quarantined) == (left + 350, n_first + n_last)
    reasons = sorted(reason for _, _, _, reason in sending.ledger.quarantine())
    assert "is damaged" in reasons[0]
    assert f"({n_first} samples not sent)" in reasons[0]
    assert "times of the chunk" in reasons[1]
    assert left > 0
    all_arrive_at(store, left * 6 + 350 * 2)
    sending.close()


def test_a_file_that_goes_in_the_middle_is_put_aside_and_sent_when_it_is_back(
    gapped: Path, store: VictoriaMetrics, tmp_path: Path
) -> None:
    (path,) = (gapped / "runs").glob("*.sqlite")
    sending = full_bench(gapped, store.url)
    sending.sender.turn()
    shutil.move(path, tmp_path / "away")
    send_all(sending)
    totals = sending.ledger.totals()
    assert (totals.sent, totals.quarantined, totals.produced) == (1000, 12_635, 13_635)
    assert all("is missing" in reason for _, _, _, reason in sending.ledger.quarantine())
    assert [place for _, place, _, _ in sending.ledger.quarantine()] == [13_500, 135]
    shutil.move(tmp_path / "away", path)
    assert sending.ledger.release_quarantine() == 12_635
    finish(sending, gapped, store)


def test_a_run_that_cannot_be_counted_is_named_and_taken_when_it_is_back(
    gapped: Path, store: VictoriaMetrics, tmp_path: Path
) -> None:
    (path,) = (gapped / "runs").glob("*.sqlite")
    shutil.move(path, tmp_path / "away")
    sending = full_bench(gapped, store.url)
    sending.sender.turn()
    (says,) = sending.runs.unavailable
    assert NAME in says
    assert "is missing" in says
    assert sending.ledger.totals().produced == 0
    shutil.move(tmp_path / "away", path)
    finish(sending, gapped, store)
    assert sending.runs.unavailable == ()


def test_a_folder_that_is_away_puts_nothing_aside(gapped: Path, store: VictoriaMetrics, tmp_path: Path) -> None:
    sending = full_bench(gapped, store.url)
    sending.sender.turn()
    for name in ("runs", "journal.sqlite"):
        shutil.move(gapped / name, tmp_path / name)
    for _ in range(3):
        sending.sender.turn()
    assert sending.ledger.totals().quarantined == 0
    for name in ("runs", "journal.sqlite"):
        shutil.move(tmp_path / name, gapped / name)
    finish(sending, gapped, store)


def test_a_clock_that_was_not_set_is_told_by_the_chunk(gapped: Path, store: VictoriaMetrics) -> None:
    (path,) = (gapped / "runs").glob("*.sqlite")
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE header SET value = 12.0 WHERE key = 't_open_utc_s'")
    connection.close()
    sending = full_bench(gapped, store.url)
    send_all(sending)
    assert sending.ledger.totals().quarantined == 13_635
    assert len(sending.ledger.quarantine()) < 10
    assert "before 2020" in sending.ledger.quarantine()[0][3]
    sending.close()


def test_only_runs_that_are_over_are_taken(data_dir: Path) -> None:
    feed = Feed(data_dir).start()
    lock = FolderLock(data_dir)
    lock.take()
    runs = ClosedRuns(Archive(data_dir), RIG, wall_s)
    feed.offer(event(1), opened(0.0))
    feed.feed(0.0, 2.0)
    assert runs.streams(frozenset()) == ()
    lock.release()  # as after a kill: the log is still beside the file
    assert runs.streams(frozenset()) == ()
    assert runs.unavailable == ()
    feed.offer(event(2), closed(2.0))
    feed.finish()
    assert [found.name for found in runs.streams(frozenset())] == [f"full/{NAME}/0", f"full/{NAME}/1"]
    assert runs.streams(frozenset({f"full/{NAME}/0"})) == ()


def test_a_run_that_a_power_cut_ended_is_taken_once_the_core_has_put_it_in_order(
    data_dir: Path, store: VictoriaMetrics
) -> None:
    running, cut = data_dir / "running", data_dir / "cut"
    running.mkdir()
    feed = Feed(running).start()
    feed.offer(event(1), opened(0.0))
    feed.feed(0.0, 3.0)
    feed.turn(2.0)
    shutil.copytree(running, cut)  # what a power cut leaves
    feed.finish()
    sending = full_bench(cut, store.url)
    sending.sender.turn()
    assert sending.ledger.totals().produced == 0
    Feed(cut).start().finish()
    finish(sending, cut, store)
