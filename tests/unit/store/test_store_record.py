"""A run from opening to export: what is written is what is read, sample for sample."""

import csv
import json
import math
import os
import shutil
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet
import pytest
from crash_feed import (
    FAST,
    LAYOUTS,
    NAME,
    NO_RESERVE,
    SETTINGS,
    SLOW,
    T0_UTC_S,
    Bench,
    block,
    blocks,
    closed,
    counts_at,
    event,
    gap,
    opened,
    record,
    records,
)
from five_lines import FIVE_LINES
from frictionless import Package, system

from scuffwatch.model.block import Block
from scuffwatch.model.channel import Quality, Reason
from scuffwatch.model.errors import CommandRefused, RecordUnreadable
from scuffwatch.model.event import ClockTriple, EventKind, GapMark
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.model.run import Outcome, RunResult, StageRecord
from scuffwatch.store import export, lock
from scuffwatch.store.inbox import InboxRules
from scuffwatch.store.items import (
    ChannelsKnown,
    DecisionSeen,
    QualityChanged,
    RunClosed,
    StageClosed,
    StatusSeen,
    TripCapture,
)
from scuffwatch.store.reader import Archive, RunReader
from scuffwatch.store.recorder import Recorder
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.verify import verify_journal, verify_run
from scuffwatch.wire.protocol import Inputs, NodeCause, NodePermit, Status

STAGE = StageRecord(1, 10.0, 40.0, 20.1, 0.112, 0.108, 61.5, math.nan, 67.0, True)


@pytest.fixture(scope="module")
def long_runs(tmp_path_factory: pytest.TempPathFactory) -> dict[bool, Path]:
    """Give 300 s with a hole of 7 s: once as it stands while live, once merged. Tests only read them."""
    found = {}
    for merged in (False, True):
        folder = tmp_path_factory.mktemp("long")
        bench = Bench(folder, rules=WriterRules(batch_s=2.4, space=NO_RESERVE)).start()
        bench.offer(opened(0.0))
        bench.feed(0.0, 130.0)
        bench.offer(gap(FAST, 130_000, 7_000), gap(SLOW, 1300, 70))
        bench.feed(137.0, 300.0)
        bench.turn(2.0)
        if merged:
            bench.offer(closed(300.0))
            bench.settle()
        bench.writer.give_back()
        found[merged] = folder
    return found


@pytest.fixture(scope="module")
def whole_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a closed run of 70 s, sound; tests copy it before they break it."""
    folder = tmp_path_factory.mktemp("whole")
    record(folder, 0.0, 70.0)
    assert verify_run(folder, NAME).sound
    return folder


def finding(t_rig_s: float) -> Finding:
    evidence = Evidence("friction_coefficient", 0.27, 0.25, "")
    says = "Friction coefficient 0.27, limit 0.25."
    return Finding(FindingKind.FRICTION_LIMIT, Level.TRIP, t_rig_s, ("friction_force_n",), (evidence,), says)


def capture(t_rig_s: float) -> TripCapture:
    status = Status(Inputs.GUARD_CLOSED | Inputs.BATH_UP, NodePermit.PERMITTED, NodeCause.NONE, 140, 7, 42)
    return TripCapture(
        finding(t_rig_s), (), 0, 6000, 17, t_rig_s, 500.0, T0_UTC_S,
        (StatusSeen(499.9, t_rig_s - 0.1, status),), (DecisionSeen(6000, t_rig_s, 500.0, "withdraw", ("cause",)),),
        (0.1, 0.2), SETTINGS,
    )  # fmt: skip


def same_block(ours: Block, theirs: Block) -> bool:
    names = ("layout", "epoch", "frame_sequence", "first_index", "t_rig_s", "lost_before")
    return all(getattr(ours, n) == getattr(theirs, n) for n in names) and np.array_equal(ours.counts, theirs.counts)


@pytest.mark.slow
def test_a_run_is_read_back_as_it_was_offered(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    triple = ClockTriple(0, 5.0, 105.0, T0_UTC_S + 5.0, "boot")
    bench.offer(event(1, run=""), opened(0.0), event(2), triple)
    bench.feed(0.0, 70.0)
    bench.offer(StageClosed(STAGE), QualityChanged("spare_v", 12.0, Quality.BAD, Reason.SATURATED), event(3))
    bench.offer(closed(70.0))
    bench.finish()
    summary = Archive(data_dir).run(NAME)
    assert (summary.outcome, summary.duration_s, summary.last_stage) == (Outcome.HELD, 70.0, 1)
    assert summary.simulated
    with Archive(data_dir).open_run(NAME) as reader:
        assert reader.header == opened(0.0).header
        assert reader.channels == records()
        assert reader.settings_toml == SETTINGS
        assert not reader.live
        assert repr(reader.result) == repr(RunResult(Outcome.HELD, "", 70.0, (STAGE,)))
        assert [e.says for e in reader.events()] == ["e2", "e3"]
        assert reader.clock() == (triple,)
        assert reader.qualities() == (QualityChanged("spare_v", 12.0, Quality.BAD, Reason.SATURATED),)
        assert reader.gaps() == ()
        got = list(reader.blocks())
        want = list(blocks(0.0, 70.0))
        assert len(got) == len(want)
        assert all(same_block(a, b) for a, b in zip(got, want, strict=True))  # type: ignore[arg-type]
        t_s, values = reader.samples("normal_load_n", 10.0, 20.0)
        # the falling straight line of the made-up calibration: 1 - 0.5 counts - tare 2, from `crash_feed.records`
        assert np.array_equal(values, 1.0 - 0.5 * counts_at(FAST, 10_000, 10_000)[1] - 2.0)
        assert np.all(np.diff(t_s) > 0)
        assert abs(t_s - (10.0 + np.arange(10_000) / 1000)).max() < 5e-6
    assert verify_run(data_dir, NAME).findings == ()
    assert verify_journal(data_dir).findings == ()


def test_stages_are_there_before_and_after_closing(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 2.0)
    bench.offer(StageClosed(STAGE))
    bench.turn(2.0)
    assert repr(Archive(data_dir).stages(NAME)) == repr((STAGE,))
    with Archive(data_dir).open_run(NAME) as reader:
        assert repr(reader.stages()) == repr((STAGE,))
    second = replace(STAGE, number=2, held=False)
    bench.offer(RunClosed(RunResult(Outcome.SCUFFED, "Friction.", 2.0, (STAGE, second), True), T0_UTC_S))
    bench.finish()
    summary = Archive(data_dir).run(NAME)
    assert (summary.last_stage, summary.first_out, summary.interrupted) == (2, "Friction.", True)
    with Archive(data_dir).open_run(NAME) as reader:
        assert repr(reader.stages()) == repr((STAGE, second))


@pytest.mark.slow
def test_the_minute_before_the_opening_is_in_the_run(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    bench.feed(0.0, 100.0)
    bench.offer(opened(100.0))
    bench.feed(100.0, 103.0)
    bench.offer(closed(103.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        t_s, _ = reader.samples("spare_v", 0.0, 200.0)
        assert 100.0 - 60.0 - 0.1 <= t_s[0] <= 100.0 - 59.9
        assert reader.t_open_rig_s == 100.0
    assert verify_run(data_dir, NAME).findings == ()


@pytest.mark.slow
@pytest.mark.parametrize("merged", [False, True])
@pytest.mark.parametrize(
    ("t0_s", "t1_s", "points"), [(0.0, 300.0, 5), (0.0, 300.0, 100), (13.0, 200.0, 40), (5, 6, 50)]
)
def test_the_envelope_is_exact_against_the_samples(
    long_runs: dict[bool, Path], merged: bool, t0_s: float, t1_s: float, points: int
) -> None:
    with RunReader(long_runs[merged] / "runs" / f"{NAME}.sqlite", live=not merged) as reader:
        for name in ("normal_load_n", "friction_force_n"):
            got = reader.envelope(name, t0_s, t1_s, points)
            assert len(got.t_s) <= points + 1
            cell_s = {"60 s": 60.0, "1 s": 1.0, "samples": 0.0}[got.level]
            low_s = math.floor(t0_s / cell_s) * cell_s if cell_s else t0_s
            high_s = math.ceil(t1_s / cell_s) * cell_s if cell_s else t1_s
            _, values = reader.samples(name, low_s, high_s)
            assert np.nanmin(got.low) == values.min()
            assert np.nanmax(got.high) == values.max()
            assert np.all((got.low <= got.mean)[~np.isnan(got.mean)])
            assert np.all((got.mean <= got.high)[~np.isnan(got.mean)])
            if got.level == "1 s" and points == 100:
                hole = (got.t_s >= 132.0) & (got.t_s < 132.0 + 3.0)
                assert np.isnan(got.mean[hole]).all()
                assert np.isnan(got.mean).sum() <= 3


def test_one_cell_a_point_is_exact(data_dir: Path) -> None:
    record(data_dir, 0.0, 50.0)
    with Archive(data_dir).open_run(NAME) as reader:
        got = reader.envelope("friction_force_n", 0.0, 50.0, 50)
        assert got.level == "1 s"
        for second in range(50):
            _, values = reader.samples("friction_force_n", float(second), second + 1.0)
            assert (got.low[second], got.high[second]) == (values.min(), values.max())
            # 0.25 counts is exact in binary: the mean agrees to the last bits
            assert got.mean[second] == pytest.approx(values.mean(), rel=1e-14)


def test_a_tare_within_the_run_counts_from_then_on(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 5.0)
    changed = tuple(replace(r, tare=7.0) if r.name == "normal_load_n" else r for r in records())
    bench.offer(ChannelsKnown(changed, 5.0, T0_UTC_S))
    bench.feed(5.0, 10.0)
    bench.offer(closed(10.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        counts = counts_at(FAST, 0, 10_000)[1]
        t_s, values = reader.samples("normal_load_n", 0.0, 10.0)
        assert np.array_equal(values, 1.0 - 0.5 * counts - np.where(t_s < 5.0, 2.0, 7.0))
        cells = reader.envelope("normal_load_n", 0.0, 10.0, 10)
        assert cells.low[7] == values[7000:8000].min()
    assert Archive(data_dir).channels() == changed


def test_wire_gaps_and_restarts_keep_the_ledger_balanced(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 3.0)
    bench.offer(gap(FAST, 3000, 40), block(FAST, 152, lost_before=40))
    bench.offer(block(FAST, 151))  # older than what is stored: refused
    bench.offer(block(FAST, 155))  # 153 and 154 were never offered
    bench.offer(GapMark(0, 1, -1, 0, 3.2, "node restarted"))
    restarted = [replace(block(FAST, k, epoch=1), t_rig_s=3.2 + k * 0.02) for k in range(200)]
    bench.offer(*restarted, closed(8.0))
    bench.finish()
    assert bench.writer.refused_blocks == 1
    with Archive(data_dir).open_run(NAME) as reader:
        assert all(account.balances for account in reader.ledger())
        assert [(a.group, a.epoch, a.produced, a.marked) for a in reader.ledger()] == [
            (0, 0, 3120, 80), (0, 1, 4000, 0), (1, 0, 30, 0),
        ]  # fmt: skip
        assert [g.why for g in reader.gaps()] == ["lost on the wire", "not offered to the recorder", "node restarted"]
        kept = [b for b in reader.blocks() if isinstance(b, Block) and b.epoch == 1]
        assert all(same_block(a, b) for a, b in zip(kept, restarted, strict=True))
        assert next(b for b in reader.blocks() if isinstance(b, Block) and b.frame_sequence == 152).lost_before == 40
    assert verify_run(data_dir, NAME).findings == ()


def test_a_block_of_another_layout_is_a_marked_gap(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0, layouts=LAYOUTS))
    bench.feed(0.0, 1.0)
    odd = replace(FAST, channels=FAST.channels[:2])
    bench.offer(Block(odd, 0, 50, 1000, 1.0, counts_at(FAST, 1000, 20)[:2], 0), block(FAST, 51), closed(2.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        assert reader.gaps() == (GapMark(0, 0, 1000, 20, 1.0, "layout changed"),)
    assert verify_run(data_dir, NAME).findings == ()


def test_what_the_full_queue_drops_is_marked_and_counted(data_dir: Path) -> None:
    bench = Bench(data_dir, inbox_rules=InboxRules(span_s=2.0)).start()
    bench.offer(opened(0.0))
    bench.turn()
    offered = list(blocks(0.0, 5.0))
    bench.offer(*offered)  # 2 s fit, 3 s are dropped
    assert bench.inbox.dropped_items > 100
    bench.settle()
    bench.feed(5.0, 8.0)
    bench.offer(closed(8.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        marked = {(g.group, g.first_index): g.n for g in reader.gaps()}
        assert {g.why for g in reader.gaps()} == {"writer queue full"}
        assert [a.produced for a in reader.ledger()] == [8000, 80]
        assert all(a.balances for a in reader.ledger())
        assert (
            sum(n for (group, _), n in marked.items() if group == 0)
            == sum(b.n for b in offered if b.layout.group == 0) - 2000
        )
    assert verify_run(data_dir, NAME).findings == ()


def test_a_gap_does_not_count_as_samples_that_wait(data_dir: Path) -> None:
    """Else a gap longer than the queue would fill the queue again, and lose what comes after it."""
    bench = Bench(data_dir, inbox_rules=InboxRules(span_s=10.0)).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 2.0)
    bench.offer(block(FAST, 100), gap(FAST, 2020, 40_000), block(FAST, 2101))
    bench.writer.turn()
    assert 0.0 < bench.writer.held_s < 1.0
    bench.offer(*(block(FAST, k) for k in range(2102, 2150)))
    assert bench.inbox.dropped_items == 0
    bench.offer(closed(43.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        assert [(g.why, g.n) for g in reader.gaps()] == [("lost on the wire", 40_000)]


def test_a_queue_of_events_is_bounded_and_counted(data_dir: Path) -> None:
    bench = Bench(data_dir, inbox_rules=InboxRules(events=100)).start()
    bench.offer(*(event(n) for n in range(1, 151)))
    assert bench.inbox.dropped_items == 50
    bench.settle()
    assert bench.writer.recorded_event_sequence == 100
    bench.writer.finish()


@pytest.mark.slow
def test_the_trip_record_holds_what_the_loop_knew(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 65.0)
    bench.offer(capture(65.0))
    bench.feed(65.0, 80.0)
    with Archive(data_dir).open_run(NAME) as reader:
        assert not reader.trips()[0].complete
    bench.feed(80.0, 96.0)
    bench.offer(closed(96.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        (trip,) = reader.trips()
        assert repr(trip.first_out) == repr(finding(65.0))
        assert (trip.t0_s, trip.t1_s, trip.complete) == (5.0, 95.0, True)
        assert trip.statuses[0]["status"]["lease_counter"] == 42
        assert trip.decisions[0]["unmet"] == ["cause"]
        replayed = [b for b in reader.blocks(trip.t0_s, trip.t1_s) if isinstance(b, Block)]
        wanted = [b for b in blocks(0.0, 96.0) if b.t_rig_s + (b.n - 1) * b.period_s >= 5.0 and b.t_rig_s < 95.0]
        assert all(same_block(a, b) for a, b in zip(replayed, wanted, strict=True))


def test_alarms_and_events_of_the_archive(data_dir: Path) -> None:
    bench = Bench(data_dir).start()
    states = [("guard_open", "unacknowledged"), ("hot", "unacknowledged"), ("guard_open", "acknowledged")]
    for n, (key, after) in enumerate(states, 1):
        bench.offer(replace(event(n, kind=EventKind.ALARM), data={"key": key, "after": after}))
    bench.finish()
    archive = Archive(data_dir)
    assert [(a.key, a.state) for a in archive.latest_alarms()] == [
        ("guard_open", "acknowledged"),
        ("hot", "unacknowledged"),
    ]
    assert [e.says for e in archive.events(1, 1)] == ["e2"]
    assert [e.says for e in archive.latest_events(2)] == ["e3", "e2"]


@pytest.mark.slow
def test_idle_hours_keep_the_envelope_with_a_bound(data_dir: Path) -> None:
    bench = Bench(data_dir, rules=WriterRules(idle_keep_s=60.0, space=NO_RESERVE)).start()
    bench.offer(ClockTriple(0, 0.0, 0.0, T0_UTC_S, "boot"))
    bench.feed(0.0, 150.0)
    rows = Archive(data_dir).idle_rows(0, T0_UTC_S, T0_UTC_S + 1000)
    seconds = [row[0] - T0_UTC_S for row in rows]
    assert seconds == list(range(int(seconds[0]), int(seconds[-1]) + 1))
    assert 60 <= len(seconds) <= 80
    assert json.loads(rows[0][1]) == list(FAST.channels)
    bench.writer.finish()


# -- users without write permission, second cores, damaged files


def test_five_lines_of_plain_python_read_a_closed_run(data_dir: Path) -> None:
    record(data_dir, 0.0, 12.0)
    path = data_dir / "runs" / f"{NAME}.sqlite"
    run = FIVE_LINES.replace("RUN.sqlite", str(path)) + "\nprint(repr([float(v) for v in values]))"
    done = subprocess.run([sys.executable, "-I", "-c", run], capture_output=True, text=True, check=True)
    with Archive(data_dir).open_run(NAME) as reader:
        _, values = reader.samples("friction_force_n", 0.0, 12.0)
    assert np.array_equal(np.array(json.loads(done.stdout)), values)
    assert len(FIVE_LINES.strip().splitlines()) == 6  # the import and five lines


def test_a_closed_run_is_one_file_that_needs_no_write_permission(data_dir: Path) -> None:
    record(data_dir, 0.0, 3.0)
    assert sorted(os.listdir(data_dir / "runs")) == [f"{NAME}.sqlite"]
    for path in (data_dir / "runs" / f"{NAME}.sqlite", data_dir / "journal.sqlite"):
        with sqlite3.connect(f"file:{path}?mode=ro&immutable=0", uri=True) as connection:
            assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        connection.close()


def test_two_cores_on_one_folder_are_refused(data_dir: Path) -> None:
    first, second = Recorder(data_dir), Recorder(data_dir)
    first.start()
    with pytest.raises(CommandRefused, match="another core already writes"):
        second.start()
    assert lock.is_held(data_dir)
    assert first.close(10.0)
    assert not lock.is_held(data_dir)
    second.start()
    assert second.close(10.0)


@pytest.mark.parametrize("name", ["../../etc/passwd", "2026-11-25-rig2-999", "x"])
def test_what_is_not_there_is_said(data_dir: Path, name: str) -> None:
    record(data_dir, 0.0, 1.0)
    with pytest.raises(RecordUnreadable, match="run"):
        Archive(data_dir).open_run(name)


def test_an_empty_folder_has_no_runs(data_dir: Path) -> None:
    assert Archive(data_dir).runs() == ()
    assert Archive(data_dir).events() == ()


def _break(path: Path, sql: str, *parameters: object) -> None:
    connection = sqlite3.connect(path)
    connection.execute(sql, parameters)
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("sql", "says"),
    [
        ("UPDATE chunks SET counts = zeroblob(40) WHERE id = (SELECT min(id) FROM chunks)", "CRC-32"),
        ("DELETE FROM chunks WHERE id = (SELECT min(id) FROM chunks)", "neither stored nor marked"),
        ("UPDATE ledger SET stored = stored + 1 WHERE grp = 0", "the ledger says"),
        ("UPDATE cells SET data = (SELECT data FROM cells WHERE level = 1) WHERE level = 60", "envelope stands for"),
        ("UPDATE events SET says = 'nothing' WHERE number = 2", "does not follow|not the one the journal"),
        ("UPDATE result SET outcome = 'scuffed'", "its file says 'scuffed'"),
        ("UPDATE header SET value = 'oil' WHERE key = 'lubricant'", "not the one the journal entered"),
        ("DELETE FROM events WHERE number = 1", "in the journal and not in the file"),
        ("DELETE FROM result", "older copy"),
    ],
)
def test_verify_finds_what_was_changed(whole_run: Path, data_dir: Path, sql: str, says: str) -> None:
    shutil.copytree(whole_run, data_dir, dirs_exist_ok=True)
    _break(data_dir / "runs" / f"{NAME}.sqlite", sql)
    found = verify_run(data_dir, NAME)
    assert not found.sound
    assert any(part in sentence for sentence in found.findings for part in says.split("|")), found.findings


def test_verify_finds_a_changed_journal(data_dir: Path) -> None:
    record(data_dir, 0.0, 2.0)
    assert verify_journal(data_dir).sound
    _break(data_dir / "journal.sqlite", "UPDATE events SET actor = 'somebody' WHERE number = 1")
    assert verify_journal(data_dir).findings == (
        "Event 1 does not follow on the one before: one of the two was changed.",
    )


def test_a_byte_changed_anywhere_is_found(data_dir: Path) -> None:
    """Flip one byte in every page of the file; whatever the page holds, somebody says so or the data are the same."""
    record(data_dir, 0.0, 4.0)
    path = data_dir / "runs" / f"{NAME}.sqlite"
    whole = path.read_bytes()
    with Archive(data_dir).open_run(NAME) as reader:
        want = reader.samples("motor_current_a", 0.0, 4.0)[1]
    rng = np.random.default_rng(7)
    for page in range(1, len(whole) // 1024):
        at = page * 1024 + int(rng.integers(0, 1024))
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x55]) + whole[at + 1 :])
        try:
            with Archive(data_dir).open_run(NAME) as reader:
                got = reader.samples("motor_current_a", 0.0, 4.0)[1]
            silent = verify_run(data_dir, NAME).sound
        except RecordUnreadable:
            continue
        assert not silent or np.array_equal(got, want), f"page {page}"


# -- export


@pytest.mark.slow
@pytest.mark.parametrize("decimal_comma", [False, True])
def test_a_run_is_exported_as_a_valid_data_package(data_dir: Path, decimal_comma: bool) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0), event(1, '=HYPERLINK("x"); a "note"\nof two lines'))
    bench.feed(0.0, 3.0)
    bench.offer(StageClosed(STAGE), ClockTriple(0, 0.0, 0.0, T0_UTC_S, "b"), gap(FAST, 3000, 20), closed(3.0))
    bench.finish()
    folder, told = data_dir / "out", list[float]()
    with Archive(data_dir).open_run(NAME) as reader:
        files = export.export_run(
            reader, folder, decimal_comma=decimal_comma, parquet=not decimal_comma, progress=told.append
        )
        want = reader.samples("friction_force_n", 0.0, 10.0)
        with pytest.raises(RecordUnreadable, match="not empty"):
            export.export_run(reader, folder)
    assert files[-1].name == "datapackage.json"
    assert told[-1] == 1.0
    assert told == sorted(told)
    with system.use_context(trusted=True):
        report = Package(str(files[-1])).validate()
        assert report.valid, report.flatten(["type", "note"])
        rows = Package(str(files[-1])).get_resource("samples_group0").read_rows()
        notes = Package(str(files[-1])).get_resource("events").read_rows()
    assert len(rows) == 3000
    assert [float(row["friction_force_n"]) for row in rows] == pytest.approx(want[1], rel=1e-6)
    assert notes[0]["says"].startswith("'=HYPERLINK")
    if not decimal_comma:
        table = pyarrow.parquet.read_table(folder / "samples_group0.parquet")
        assert np.array_equal(table["friction_force_n"].to_numpy(), want[1])
        assert np.array_equal(table["t_rig_s"].to_numpy(), want[0])


@pytest.mark.parametrize("decimal_comma", [False, True])
def test_lists_open_in_a_spreadsheet_as_they_are(data_dir: Path, decimal_comma: bool) -> None:
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 1.5)
    bench.offer(RunClosed(RunResult(Outcome.SCUFFED, "=1+1", 1.5, (STAGE,)), T0_UTC_S))
    bench.finish()
    runs, stages = export.export_lists(Archive(data_dir), data_dir / "lists", decimal_comma=decimal_comma)
    delimiter = ";" if decimal_comma else ","
    with runs.open(encoding="utf-8-sig", newline="") as file:
        (row,) = list(csv.DictReader(file, delimiter=delimiter))
    assert row["run"] == NAME
    assert row["first_out"] == "'=1+1"
    assert row["duration_s"] == ("1,5" if decimal_comma else "1.5")
    assert row["simulated"] == "yes"
    with stages.open(encoding="utf-8-sig", newline="") as file:
        (row,) = list(csv.DictReader(file, delimiter=delimiter))
    assert (row["run"], row["number"], row["bath_temperature_degc"], row["held"]) == (NAME, "1", "", "yes")


def test_a_list_of_runs_needs_no_numpy() -> None:
    """this project's design: `runs` starts in under 0.15 s; importing numpy alone takes longer."""
    code = "import sys, scuffwatch.store.archive; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_an_item_the_writer_cannot_handle_costs_that_item_only(data_dir: Path) -> None:
    recorder = Recorder(data_dir)
    recorder.start()
    recorder.offer(opened(0.0))
    items = list(blocks(0.0, 2.0))
    odd = replace(items[50], counts=np.zeros((3, 3, 3), np.int16))  # no block the assembler could make
    for item in [*items[:50], odd, *items[51:]]:
        recorder.offer(item)
    recorder.offer(replace(event(1), data={"odd": object()}))  # type: ignore[dict-item]
    recorder.offer(object())  # type: ignore[arg-type]
    recorder.offer(closed(2.0))
    assert not recorder.close(20.0)
    assert "TypeError" in recorder.status.last_error  # a fault of its own stays an alarm
    with Archive(data_dir).open_run(NAME) as reader:
        assert reader.ledger()[0].produced == 2000
        assert sorted(gap.why for gap in reader.gaps()) == ["layout changed", "not offered to the recorder"]
        assert sum(gap.n for gap in reader.gaps()) == 20
        assert "e1" in [e.says for e in reader.events()]
        assert reader.result is not None
        assert reader.result.outcome is Outcome.HELD
    assert not lock.is_held(data_dir)


def _seen_by_a_reader_without_rights(folder: Path) -> list[str]:
    """Give what a process that may only read sees: outcome, last event and number of samples of the run."""
    for path in [folder, folder / "runs"]:
        path.chmod(0o555)
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setuid(65_534)
            with Archive(folder).open_run(NAME) as reader:
                n = reader.samples("spare_v", 0.0, 100.0)[0].size
                found = [str(Archive(folder).run(NAME).outcome), Archive(folder).latest_events(1)[0].says, str(n)]
            os.write(into, json.dumps(found).encode())
        finally:
            os._exit(0)
    os.close(into)
    os.waitpid(child, 0)
    with os.fdopen(out) as pipe:
        text = pipe.read()
    for path in [folder, folder / "runs"]:
        path.chmod(0o755)
    assert text, "the reader could not open the record"
    return list(json.loads(text))


def test_a_user_who_may_only_read_sees_a_live_and_a_closed_run(data_dir: Path) -> None:
    data_dir.chmod(0o755)
    holder = lock.FolderLock(data_dir)
    holder.take()
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0), event(1))
    bench.feed(0.0, 3.0)
    bench.turn(2.0)
    assert _seen_by_a_reader_without_rights(data_dir) == ["None", "e1", "3000"]
    bench.offer(event(2), closed(3.0))
    bench.finish()
    holder.release()
    assert _seen_by_a_reader_without_rights(data_dir) == ["Outcome.HELD", "e2", "3000"]
