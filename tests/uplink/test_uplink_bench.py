"""The uplink beside the client library's own batching writer: the same rows, store and outage, and what each lost.

The library gives up after its retries. Its defaults (5 retries, 180 s in all) would need an outage of minutes; here
both are scaled down together: 3 s of retries, 8 s of outage. Ratios count, not seconds.
"""

import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from crash_feed import record
from sending import bench, send_all
from servers import FaultProxy, VictoriaMetrics
from test_uplink_timeseries import arrives, expected_values

pytestmark = pytest.mark.bench

RUN_S = 600.0
OUTAGE_S = 8.0
PRODUCE_S = 10.0


def all_rows(data_dir: Path) -> list[str]:
    """Give every row of a record, as the uplink would send it."""
    from scuffwatch.store.reader import Archive

    sending = bench(data_dir, "http://127.0.0.1:9")
    rows = []
    for found in sending.tail.streams(frozenset()):
        last, _ = sending.tail.census(found.name, found.before_first, False)
        rows += sending.tail.rows(found.name, found.before_first, last, 1_000_000)
    sending.close()
    assert rows
    assert Archive(data_dir).runs()
    return [row.line for row in rows]


@pytest.mark.timeout(600)
def test_beside_the_plain_writer_under_the_same_outage(tmp_path: Path) -> None:
    home = tmp_path / "rig"
    record(home, 0.0, RUN_S)
    lines = all_rows(home)
    told = []
    for kind in ("plain", "uplink"):
        (tmp_path / kind).mkdir()
        store = VictoriaMetrics(tmp_path / kind)
        store.start()
        proxy = FaultProxy(store.port)
        proxy.script.acts = ["drop"]
        back = threading.Timer(OUTAGE_S, lambda p=proxy: setattr(p.script, "acts", ["pass"]))
        back.start()
        begun_s = time.monotonic()
        if kind == "plain":
            (tmp_path / "lines.txt").write_text("\n".join(lines))
            words = [str(Path(__file__).with_name("plain_writer.py")), proxy.url, str(tmp_path / "lines.txt")]
            subprocess.run([sys.executable, *words, str(PRODUCE_S)], check=True, capture_output=True)
        else:
            sending = bench(home, proxy.url, batch_rows=1000, longest_pause_s=1.0)
            send_all(sending)
            sending.close()
            arrives(store, expected_values(home))
        took_s = time.monotonic() - begun_s
        back.join()
        time.sleep(1.5)
        kept = sum(len(set(s["timestamps"])) for s in store.series("scuffwatch_group0_samples"))
        sent_bytes = sum(len(line) + 1 for lines_ in proxy.writes for line in lines_)
        rows_taken = sum(map(len, proxy.writes))
        told.append((kind, kept, rows_taken, proxy.bytes_in, sent_bytes, took_s))
        proxy.close()
        store.stop()
    of_group0 = sum("group0" in line for line in lines)
    print()
    for kind, kept, rows_taken, came, plain, took_s in told:
        lost = of_group0 - kept
        print(
            f"{kind:7} rows of the fast group kept {kept} of {of_group0}, lost {lost}; {rows_taken} rows taken, "
            f"{came / max(1, rows_taken):.0f} bytes a row on the wire with all tries ({plain / max(1, rows_taken):.0f} "
            f"unpacked); done {took_s:.1f} s after the start of an outage of {OUTAGE_S:g} s"
        )
    assert told[1][1] == of_group0
    assert told[0][1] < of_group0


@pytest.mark.timeout(600)
def test_rows_a_second_of_a_catch_up(tmp_path: Path) -> None:
    home = tmp_path / "rig"
    record(home, 0.0, RUN_S)
    store = VictoriaMetrics(tmp_path)
    store.start()
    sending = bench(home, store.url, batch_rows=1000)
    begun_s, cpu_s = time.monotonic(), time.process_time()
    send_all(sending)
    took_s, used_s = time.monotonic() - begun_s, time.process_time() - cpu_s
    rows = sending.ledger.totals().sent
    sending.close()
    store.stop()
    print(
        f"\ncatch-up from a record of 1 kHz x 6: {rows / took_s:.0f} rows/s, {rows / used_s:.0f} a second of one "
        f"processor; an hour of the rig in {took_s * 3600 / RUN_S:.1f} s"
    )
    assert RUN_S / used_s > 60.0, "a day must be caught up in well under half an hour of one core"
