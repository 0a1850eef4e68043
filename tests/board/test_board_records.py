"""The pages over a record that the real recorder wrote: what they show is what is stored, a gap stays a gap."""

import csv
import json
import math
import shutil
import sqlite3
import threading
import zipfile
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scuffboard.run_verify import Verifier
from scuffwatch.model.block import Block
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.model.event import ChannelRecord, ClockTriple, Event, EventKind, GapMark
from scuffwatch.model.run import Outcome, RunHeader, RunKind, RunResult, StageRecord
from scuffwatch.store.items import RunClosed, RunOpened, StageClosed
from scuffwatch.store.reader import Archive, Verified
from scuffwatch.store.recorder import Recorder

RATE_HZ, BLOCK_N, SECONDS = 100.0, 20, 60
UTC_S = 1_773_318_485.0
LAYOUT = GroupLayout(0, RATE_HZ, IntegerType.INT16, ("normal_load_n", "friction_force_n"))
LIMITS = "[limits]\nfriction_coefficient_warn = 0.16\nfriction_coefficient_max = 0.25\nload_min_n = 20.0\n"
GAP = (3000, 500)  # first lost sample, and how many: 30 s to 35 s
COUNTS_A_N = 10.0


def channel(name: str, position: int) -> ChannelRecord:
    return ChannelRecord(
        name, 0, position, RATE_HZ, IntegerType.INT16, (0.0, 1.0 / COUNTS_A_N), 0.0, 0.0, 1000.0, "2026-01"
    )


def counts_at(index: "np.ndarray[Any, Any]") -> "np.ndarray[Any, Any]":
    """Give load 400 N, and friction 0.1 with a ripple and one peak of 0.2 at 12.34 s."""
    friction = 0.1 + 0.005 * np.sin(index / 37.0)
    friction[index == 1234] = 0.2
    return np.round(np.stack([np.full(len(index), 400.0), 400.0 * friction]) * COUNTS_A_N).astype(np.int16)


def blocks() -> list[Block | GapMark]:
    items: list[Block | GapMark] = []
    for k in range(int(SECONDS * RATE_HZ) // BLOCK_N):
        first = k * BLOCK_N
        if GAP[0] <= first < GAP[0] + GAP[1]:
            continue
        lost = GAP[1] if first == GAP[0] + GAP[1] else 0
        if lost:
            items.append(GapMark(0, 0, GAP[0], GAP[1], GAP[0] / RATE_HZ, "lost on the wire"))
        counts = counts_at(np.arange(first, first + BLOCK_N, dtype=np.int64))
        counts.flags.writeable = False
        items.append(Block(LAYOUT, 0, k, first, first / RATE_HZ, counts, lost))
    return items


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("records")
    recorder = Recorder(folder)
    recorder.start()
    name = recorder.next_run_name("2026-03-12", "rig 2")
    plan: dict[str, Any] = {
        "treat_rate_percent": 4.0,
        "bath_volume_ml": 15.0,
        "loads_n": (400.0, 480.0),
        "dwell_s": 50.0,
    }
    header = RunHeader(name, RunKind.TEST, "HEES-46", ring="7, track 3", pin="22-B", **plan)
    said = "<b>grey smoke</b>"
    recorder.offer(RunOpened(header, (channel("normal_load_n", 0), channel("friction_force_n", 1)), LIMITS, 0.0, UTC_S))
    recorder.offer(ClockTriple(0, 0.0, 0.0, UTC_S, "boot"))
    recorder.offer(Event(1, EventKind.NOTE, 20.0, 20.0, UTC_S + 20.0, name, "bench page", said, {}))
    for item in blocks():
        recorder.offer(item)
    stage = StageRecord(1, 2.0, 52.0, 400.0, 0.1, 0.1, math.nan, math.nan, math.nan, True)
    recorder.offer(StageClosed(stage))
    recorder.offer(RunClosed(RunResult(Outcome.STOPPED, "", float(SECONDS), (stage,)), UTC_S + SECONDS))
    assert recorder.close(60.0)
    return folder, name


@pytest.fixture
def pages(make_app: Any, records: tuple[Path, str]) -> tuple[Any, str]:
    folder, name = records
    return make_app(Archive(folder)).test_client(), name


def plot(pages: tuple[Any, str], channel_name: str, t0_s: float, t1_s: float, points: int) -> dict[str, Any]:
    client, name = pages
    answer = client.get(f"/runs/{name}/envelope?channel={channel_name}&t0={t0_s}&t1={t1_s}&points={points}")
    assert answer.status_code == 200
    return dict(answer.json)


def test_the_list_and_the_page_say_what_was_recorded(pages: tuple[Any, str]) -> None:
    client, name = pages
    listed = client.get("/runs").get_data(as_text=True)
    assert name in listed
    assert "HEES-46 + 4\u00a0%\u00a0v/v" in listed
    page = client.get(f"/runs/{name}").get_data(as_text=True)
    assert "Stopped at stage 1, 400\u00a0N, 50\u00a0s into the dwell. Not scuffed up to then." in page
    assert "6\u00a0000 samples produced = 5\u00a0500 stored + 500 in 1 marked gap." in page
    assert "&lt;b&gt;grey smoke&lt;/b&gt;" in page
    assert "not tried" in page


def test_every_sample_of_a_second_is_drawn_as_it_was_recorded(pages: tuple[Any, str]) -> None:
    made = plot(pages, "friction_force_n", 12.0, 13.0, 400)
    index = np.round(np.array(made["t_s"]) * RATE_HZ).astype(np.int64)
    assert len(index) == 100
    # the expected values come from the counts that were offered and the calibration, not from the store
    np.testing.assert_allclose(made["mean"], counts_at(index)[1] / COUNTS_A_N, rtol=0, atol=1e-9)


def test_friction_is_force_over_load_and_keeps_its_peak(pages: tuple[Any, str]) -> None:
    made = plot(pages, "friction_coefficient", 0.0, float(SECONDS), 30)
    highs = [value for value in made["high"] if value is not None]
    assert max(highs) == pytest.approx(0.2, abs=1e-3)
    assert min(value for value in made["low"] if value is not None) == pytest.approx(0.095, abs=1e-3)


@pytest.mark.parametrize("points", [30, 60, 1000])
def test_a_gap_is_a_hole_at_every_zoom(pages: tuple[Any, str], points: int) -> None:
    made = plot(pages, "friction_force_n", 0.0, float(SECONDS), points)
    empty = [t for t, mean in zip(made["t_s"], made["mean"], strict=True) if mean is None]
    assert empty
    assert all(29.9 <= t <= 35.1 for t in empty)
    assert not any(30.0 <= t <= 33.0 for t, mean in zip(made["t_s"], made["mean"], strict=True) if mean is not None)


def test_what_the_plots_are_drawn_with(pages: tuple[Any, str]) -> None:
    client, name = pages
    text = client.get(f"/runs/{name}").get_data(as_text=True)
    data = json.loads(text.split('id="run-data">', 1)[1].split("</script>", 1)[0])
    friction = data["channels"][0]
    assert (friction["name"], friction["warn"], friction["trip"]) == ("friction_coefficient", 0.16, 0.25)
    assert [gap["t0_s"] for gap in data["gaps"]] == [30.0]
    assert data["gaps"][0]["t1_s"] == 35.0
    assert data["wall_offset_s"] == UTC_S


def test_the_download_holds_the_stages_and_the_events(pages: tuple[Any, str]) -> None:
    client, name = pages
    with zipfile.ZipFile(BytesIO(client.get(f"/runs/{name}/export").data)) as bundle:
        stages = list(csv.DictReader(StringIO(bundle.read("stages.csv").decode())))
        force = list(csv.DictReader(StringIO(bundle.read("envelope_friction_force_n.csv").decode())))
    assert stages[0]["normal_load_n"] == "400.0"
    assert stages[0]["bath_temperature_degc"] == ""
    assert max(float(row["high"]) for row in force if row["high"]) == pytest.approx(80.0)


def test_an_empty_folder_is_an_empty_list(make_app: Any, tmp_path: Path) -> None:
    client = make_app(Archive(tmp_path)).test_client()
    assert "0 runs are recorded here." in client.get("/runs").get_data(as_text=True)
    assert client.get("/last-test").json == {}


def test_a_broken_journal_is_said_and_nothing_else_breaks(make_app: Any, tmp_path: Path) -> None:
    (tmp_path / "journal.sqlite").write_bytes(b"this is no database, it is a shopping list" * 100)
    client = make_app(Archive(tmp_path)).test_client()
    answer = client.get("/runs")
    assert answer.status_code == 503
    assert "journal.sqlite" in answer.get_data(as_text=True)
    assert client.get("/bench").status_code == 200


def test_a_whole_record_is_verified_and_one_flipped_byte_is_found(
    make_app: Any, records: tuple[Path, str], tmp_path: Path
) -> None:
    folder, name = records
    whole = make_app(Archive(folder), data_dir=folder).test_client().get(f"/runs/{name}/verify").json
    assert (whole["checked"], whole["sound"]) == (True, True)
    assert whole["counted"].startswith("Read: ")
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    with sqlite3.connect(copy / "runs" / f"{name}.sqlite") as connection:
        (counts,) = connection.execute("SELECT counts FROM chunks ORDER BY id LIMIT 1").fetchone()
        spoiled = bytes([counts[0], counts[1], counts[2] ^ 1, *counts[3:]])
        connection.execute("UPDATE chunks SET counts = ? WHERE id = (SELECT min(id) FROM chunks)", (spoiled,))
    connection.close()
    broken = make_app(Archive(copy), data_dir=copy).test_client().get(f"/runs/{name}/verify").json
    assert (broken["checked"], broken["sound"]) == (True, False)
    assert any("CRC-32" in sentence for sentence in broken["findings"])


def test_a_live_run_is_not_verified_and_only_one_is_at_a_time(make_app: Any) -> None:
    from fake_archive import RUN_NAME

    live = make_app().test_client().get(f"/runs/{RUN_NAME}/verify").json
    assert live["checked"] is False
    assert "under way" in live["says"]
    begun, go_on = threading.Event(), threading.Event()

    def slow(name: str) -> Verified:
        begun.set()
        assert go_on.wait(10.0)
        return Verified(name, ())

    verifier = Verifier(slow)
    first = threading.Thread(target=verifier.check, args=("a",))
    first.start()
    assert begun.wait(10.0)
    assert verifier.check("b")["checked"] is False
    go_on.set()
    first.join()
    assert verifier.check("b")["sound"] is True
