"""Every row of the record gets to a real store once, whatever happens in between."""

import json
import math
import time
from pathlib import Path

import numpy as np
import pytest
from crash_feed import NAME, T0_UTC_S, record
from crash_feed import Bench as Feed
from sending import RIG, Bench, bench, check, send_all
from servers import FaultProxy, VictoriaMetrics

from scuffwatch.model.event import EventKind
from scuffwatch.store.reader import Archive
from scuffwatch.uplink.rows import EVENT_CODE

RUN_S = 61.3
ALL_CHANNELS = 8
STEPS = math.ceil(RUN_S * 2)
GROUPS = 2


@pytest.fixture
def recorded(data_dir: Path) -> Path:
    """Give a folder with one closed run."""
    record(data_dir, 0.0, RUN_S)
    return data_dir


def expected_values(data_dir: Path) -> int:
    """Count what must be on the store straight from the samples, by another way than the uplink's."""
    archive = Archive(data_dir)
    total = 3 * len(archive.events(limit=1_000_000))
    for run in archive.runs():
        with archive.open_run(run.name) as reader:
            for channel in reader.channels:
                t_s, _ = reader.samples(channel.name, -np.inf, np.inf)
                total += 4 * len({int(t * 2 + 1e-9) for t in t_s})
            for layout in reader.layouts:
                t_s, _ = reader.samples(layout.channels[0], -np.inf, np.inf)
                total += 2 * len({int(t * 2 + 1e-9) for t in t_s})
    for group in archive.idle_groups():
        for _, names, _ in archive.idle_after(group, 0, 10_000):
            total += 1 + 3 * (names.count(",") + 1)
    return total


def arrives(store: VictoriaMetrics, values: int) -> None:
    """Check the number of values the store holds; it shows what it has taken within a second or so."""
    end_s = time.monotonic() + 3.0
    while store.count() != values and time.monotonic() < end_s:
        time.sleep(0.2)
    assert store.count() == values


def finish(sending: Bench, data_dir: Path, store: VictoriaMetrics) -> None:
    """Send the rest, and compare what the store holds with the record."""
    send_all(sending)
    assert sending.ledger.totals().quarantined == 0
    arrives(store, expected_values(data_dir))
    sending.close()


def test_counts_and_values_on_the_store_are_those_of_the_record(recorded: Path, store: VictoriaMetrics) -> None:
    sending = bench(recorded, store.url)
    send_all(sending)
    totals = sending.ledger.totals()
    events = len(Archive(recorded).events())
    assert totals.sent == GROUPS * STEPS + events
    arrives(store, expected_values(recorded))
    with Archive(recorded).open_run(NAME) as reader:
        t_s, values = reader.samples("friction_force_n", 10.0, 10.5)
        stamp_ms = round((reader.t_open_utc_s - reader.t_open_rig_s + 10.0) * 1000)
    for kind, truth in (
        ("mean", values.mean()), ("min", values.min()), ("max", values.max()), ("rms", np.sqrt((values**2).mean())),
    ):  # fmt: skip
        (series,) = store.series(f"scuffwatch_friction_force_n_{kind}")
        sent = dict(zip(series["timestamps"], series["values"], strict=True))
        assert sent[stamp_ms] == pytest.approx(truth, rel=1e-6)
        tags = {"rig": RIG, "run": NAME, "kind": "test", "lubricant": "HEES 46", "simulated": "true"}
        assert tags.items() <= series["metric"].items()
        assert series["timestamps"] == sorted(series["timestamps"])
    assert t_s[0] == 10.0
    codes = {value for series in store.series("scuffwatch_event_code") for value in series["values"]}
    assert EVENT_CODE[EventKind.NOTE] in codes
    sending.close()


@pytest.mark.parametrize(
    "acts",
    [
        ["drop", "drop", "pass"],
        [500, 503, 500, "pass"],
        [429, 429, "pass"],
        [401, 404, "pass"],
        ["lost reply", "lost reply", "pass"],
        ["pass", "drop", "pass", 500, "pass", "lost reply", "pass"],
    ],
    ids=str,
)
def test_no_answer_loses_or_doubles_a_row(
    recorded: Path, store: VictoriaMetrics, proxy: FaultProxy, acts: list[str | int]
) -> None:
    proxy.script.acts = list(acts)
    finish(bench(recorded, proxy.url), recorded, store)
    assert proxy.statuses[: len(acts)] == acts
    seen = [int(line.rsplit(" ", 1)[1]) for lines in proxy.writes for line in lines if "group0" in line]
    first = list(dict.fromkeys(seen))
    assert first == sorted(first)


def test_a_slow_server_is_given_up_and_asked_again(recorded: Path, store: VictoriaMetrics, proxy: FaultProxy) -> None:
    proxy.script.acts, proxy.script.slow_s = ["slow", "slow", "pass"], 0.6
    sending = bench(recorded, proxy.url, timeout_s=0.3)
    begun_s = time.monotonic()
    sending.sender.turn()
    assert time.monotonic() - begun_s < 0.6
    assert not sending.sender.state.up
    finish(sending, recorded, store)


def test_a_pause_the_server_asks_for_is_kept_and_capped(
    recorded: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    proxy.script.acts, proxy.script.retry_after = [429, "pass"], "100000"
    sending = bench(recorded, proxy.url, longest_pause_s=0.2)
    begun_s = time.monotonic()
    finish(sending, recorded, store)
    assert time.monotonic() - begun_s >= 0.2


def test_bad_rows_are_put_aside_with_the_reason_and_all_others_arrive(
    recorded: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    bad = [str(1_795_600_010_000), str(1_795_600_020_500)]
    proxy.script.acts = ["partial"]
    proxy.script.poison = f"{bad[0]}"
    sending = bench(recorded, proxy.url)
    send_all(sending)
    aside = sending.ledger.quarantine()
    assert [(line.endswith(bad[0]), "partial write" in reason) for _, _, line, reason in aside] == [(True, True)] * 2
    totals = sending.ledger.totals()
    assert totals.quarantined == 2
    assert totals.produced == totals.sent + 2
    lost = 4 * ALL_CHANNELS + 2 * GROUPS
    arrives(store, expected_values(recorded) - lost)
    proxy.script.acts = ["pass"]
    assert sending.ledger.release_quarantine() == 2
    finish(sending, recorded, store)


def test_a_server_that_refuses_everything_is_no_reason_to_put_rows_aside(
    recorded: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    proxy.script.acts = [400]
    sending = bench(recorded, proxy.url)
    for _ in range(20):
        sending.sender.turn()
        time.sleep(0.02)
    check(sending.ledger)
    assert sending.ledger.totals().sent == sending.ledger.totals().quarantined == 0
    assert "refuses every line" in sending.sender.state.says
    proxy.script.acts = ["pass"]
    finish(sending, recorded, store)


def test_what_a_killed_server_had_only_in_memory_is_sent_again(
    recorded: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    proxy.script.acts = ["swallow", "swallow", "pass"]
    proxy.started_utc_s = 1000.0
    sending = bench(recorded, proxy.url)
    sending.sender.turn()
    assert sending.ledger.totals().sent > 0
    proxy.started_utc_s = 2000.0
    finish(sending, recorded, store)
    assert sending.sender.state.rewinds == 1


def test_a_server_that_does_not_say_when_it_started_is_sent_the_last_minutes_after_each_absence(
    recorded: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    proxy.script.acts = ["swallow", "swallow", "drop", "pass"]
    sending = bench(recorded, proxy.url)
    finish(sending, recorded, store)
    assert sending.sender.state.rewinds == 1


def test_a_real_server_killed_in_mid_sending_holds_every_row_in_the_end(recorded: Path, store: VictoriaMetrics) -> None:
    sending = bench(recorded, store.url, batch_rows=20)
    for round_ in range(3):
        for _ in range(3):
            sending.sender.turn()
        store.kill()
        sending.sender.turn()
        assert not sending.sender.state.up, round_
        store.start()
        time.sleep(0.06)
    finish(sending, recorded, store)
    assert sending.sender.state.rewinds >= 2


def test_a_restart_of_the_uplink_goes_on_where_it_was(recorded: Path, store: VictoriaMetrics) -> None:
    for _ in range(3):
        sending = bench(recorded, store.url, batch_rows=20)
        sending.sender.turn()
        sending.close()
    sending = bench(recorded, store.url, boot="another boot")
    assert 0 < sending.ledger.totals().sent < sending.ledger.totals().produced
    finish(sending, recorded, store)
    again = bench(recorded, store.url)
    send_all(again)
    assert again.ledger.totals().resent == 0
    again.close()


def test_a_live_run_is_followed_and_the_present_is_not_kept_waiting(data_dir: Path, store: VictoriaMetrics) -> None:
    from crash_feed import closed, event, opened

    feed = Feed(data_dir).start()
    from scuffwatch.store.lock import FolderLock

    lock = FolderLock(data_dir)
    lock.take()
    feed.offer(event(1), opened(0.0))
    feed.feed(0.0, 30.0)
    sending = bench(data_dir, store.url, batch_rows=20)
    sending.sender.turn()
    feed.feed(30.0, 33.0)
    sending.sender.turn()
    newest_s = sending.sender.state.newest_ms / 1000 - 1_795_600_000.0
    assert newest_s > 30.0
    assert sending.ledger.totals().queued > 20
    for second in range(33, 40):
        feed.feed(float(second), second + 1.0)
        sending.sender.turn()
    feed.offer(event(2), closed(40.0))
    feed.finish()
    lock.release()
    finish(sending, data_dir, store)


def test_a_damaged_stretch_is_told_and_costs_only_itself(recorded: Path, store: VictoriaMetrics) -> None:
    import sqlite3

    (path,) = (recorded / "runs").glob("*.sqlite")
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE chunks SET crc32 = crc32 + 1 WHERE grp = 0 AND t_rig_s BETWEEN 15 AND 25")
    connection.close()
    sending = bench(recorded, store.url)
    send_all(sending)
    totals = sending.ledger.totals()
    assert 0 < totals.quarantined <= 42
    assert {reason for _, _, _, reason in sending.ledger.quarantine()} == {"the record is damaged here"}
    sending.close()


def test_rows_of_a_clock_that_was_not_set_are_put_aside(recorded: Path, store: VictoriaMetrics) -> None:
    import sqlite3

    (path,) = (recorded / "runs").glob("*.sqlite")
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE header SET value = 12.0 WHERE key = 't_open_utc_s'")
    connection.close()
    sending = bench(recorded, store.url)
    send_all(sending)
    assert sending.ledger.totals().quarantined == GROUPS * STEPS
    assert "before 2020" in sending.ledger.quarantine()[0][3]
    sending.close()


def test_every_ready_query_finds_something_in_a_real_store(recorded: Path, store: VictoriaMetrics) -> None:
    sending = bench(recorded, store.url)
    finish(sending, recorded, store)
    lines = (Path(__file__).parents[2] / "deploy" / "store" / "queries.txt").read_text().splitlines()
    queries = [line for line in lines if line and not line.startswith("#") and "full_rate" not in line]
    assert len(queries) == 9
    at = str(T0_UTC_S + RUN_S - 1.0)
    for query in queries:
        asked = query.replace("RIG", RIG).replace("RUN", NAME)
        told = json.loads(store.get("/api/v1/query", query=asked, time=at, nocache="1"))
        assert told["data"]["result"], query
