"""Figures of the store: bytes a value, bytes a day, processor share, 72 h envelope beside Parquet. Run with `-m bench`.

Each figure is printed and compared with its goal; the comparison with Parquet is measured in the same run on the same
values.
"""

import os
import resource
import sqlite3
import time
from pathlib import Path

import numpy as np
import pyarrow
import pyarrow.parquet
import pytest
from crash_feed import FAST, NAME, NO_RESERVE, Bench, closed, opened

from scuffwatch.model.block import Block, IntArray
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.store import borders, chunks, pyramid
from scuffwatch.store.collector import chunk_id
from scuffwatch.store.reader import Archive
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.run_file import open_run_file
from scuffwatch.store.storage import DiskStorage

pytestmark = pytest.mark.bench
DAY_S = 86_400
BRIDGE = GroupLayout(0, 1000.0, IntegerType.INT32, FAST.channels)


def noisy(layout: GroupLayout, first: int, n: int, rng: np.random.Generator) -> IntArray:
    """Give noise on a slow drift: 20 counts rms for int16, 5000 for a 24-bit bridge in int32."""
    wide = layout.integer_type is IntegerType.INT32
    drift = 400 * np.sin(np.arange(first, first + n) / 50_000)
    rows = [1000 * (k + 1) + drift + rng.normal(0, 20, n) for k in range(len(layout.channels))]
    scaled = np.array(rows) * (250 if wide else 1)
    return scaled.astype("<i4" if wide else "<i2")


def written_bytes() -> int:
    """Give what this process has sent to block devices so far, from /proc/self/io."""
    lines = Path("/proc/self/io").read_text().splitlines()
    return int(dict(line.split(": ") for line in lines)["write_bytes"])


@pytest.mark.parametrize(("layout", "goal"), [(FAST, 1.15), (BRIDGE, 2.3)], ids=["int16", "24-bit"])
def test_bytes_a_value_and_a_day(
    data_dir: Path, layout: GroupLayout, goal: float, capsys: pytest.CaptureFixture[str]
) -> None:
    span_s = 120
    rng = np.random.default_rng(1)
    blocks = [
        Block(layout, 0, k & 0xFFFF, k * 20, k * 0.02, noisy(layout, k * 20, 20, rng), 0) for k in range(span_s * 50)
    ]
    bench = Bench(data_dir, rules=WriterRules(space=NO_RESERVE)).start()
    bench.offer(opened(0.0, layouts=(layout,)))
    bench.turn()
    before_bytes, before_s = written_bytes(), time.process_time()
    for number, block in enumerate(blocks):
        bench.offer(block)
        if number % 5 == 4:
            bench.turn(0.1)
    live_bytes, used_s = written_bytes() - before_bytes, time.process_time() - before_s
    bench.offer(closed(float(span_s)))
    bench.finish()
    all_bytes = written_bytes() - before_bytes
    values = span_s * 1000 * len(layout.channels)
    size_bytes = (data_dir / "runs" / f"{NAME}.sqlite").stat().st_size
    per_value, gb_day = size_bytes / values, live_bytes / span_s * DAY_S / 1e9
    with capsys.disabled():
        print(
            f"\n{layout.integer_type.value}: {per_value:.3f} bytes a value (whole file), "
            f"{gb_day:.2f} GB a day while running, {all_bytes / span_s * DAY_S / 1e9:.2f} GB with the merge, "
            f"writer {100 * used_s / span_s:.2f} % of one processor at real time"
        )
    assert per_value <= goal
    if layout is FAST:
        assert gb_day <= 2.0
        assert all_bytes / span_s * DAY_S / 1e9 <= 3.0


def fill_run(path: Path, hours: float) -> None:
    """Fill an empty closed run with chunks of 10 s and their pyramid, as merging leaves them; samples repeat."""
    rng = np.random.default_rng(2)
    minute = noisy(FAST, 0, 60_000, rng)
    parts = [chunks.encode(minute[:, k * 10_000 : (k + 1) * 10_000]) for k in range(6)]
    k = np.arange(500)
    connection = sqlite3.connect(path)
    last = -1
    for ten in range(round(hours * 360)):
        t_s = 10.0 * ten
        frames = borders.Borders(np.full(500, 20), (k + ten * 500) % 65_536, 0 * k, k + ten * 500, t_s + k * 0.02)
        packed, crc = parts[ten % 6]
        last = chunk_id(0, t_s, last)
        row = (last, 0, 0, ten * 10_000, 10_000, t_s, t_s + 9.999, 6, crc, borders.encode(frames), packed)
        connection.execute("INSERT INTO chunks VALUES(?,?,?,?,?,?,?,?,?,?,?)", row)
    many = int(hours * 60)
    shape = (6, 60 * many)  # cells of their own for every second, as noisy as real ones, so that nothing is repeated
    middle = 1000.0 * np.arange(1, 7)[:, None] + 400 * np.sin(np.arange(60 * many) / 50.0)
    low, high = middle - 40 + rng.normal(0, 4, shape), middle + 40 + rng.normal(0, 4, shape)
    total = 1000 * middle + rng.normal(0, 400, shape)
    whole = pyramid.Cells(
        np.arange(60 * many), np.full(60 * many, 1000), *(part.astype(np.int64) for part in (low, high, total))
    )
    for level_s, cells in ((1, whole), (60, pyramid.combine([whole], 60))):
        for row in pyramid.rows(cells, pyramid.CELLS_IN_ROW[level_s]):
            connection.execute("INSERT INTO cells VALUES(?,?,?,?,?)", (level_s, 0, *row))
    connection.execute("UPDATE ledger SET stored = ?, next_index = ?", (many * 60_000, many * 60_000))
    connection.commit()
    connection.close()


def forget(path: Path) -> None:
    """Take a file out of the kernel's page cache."""
    descriptor = os.open(path, os.O_RDONLY)
    os.fsync(descriptor)
    os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
    os.close(descriptor)


def test_seventy_two_hours_of_envelope_beside_parquet(data_dir: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hours, points = 72.0, 2000
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0, layouts=(FAST,)))
    bench.turn()
    bench.offer(closed(hours * 3600))
    bench.finish()
    path = data_dir / "runs" / f"{NAME}.sqlite"
    fill_run(path, hours)
    file = open_run_file(DiskStorage(), path)
    file.settle()
    file.close()
    rng = np.random.default_rng(2)
    minute = noisy(FAST, 0, 60_000, rng)
    other = data_dir / "other.parquet"
    with pyarrow.parquet.ParquetWriter(other, pyarrow.schema([(n, pyarrow.int16()) for n in FAST.channels])) as writer:
        table = pyarrow.table({n: minute[i] for i, n in enumerate(FAST.channels)})
        for _ in range(int(hours * 60)):
            writer.write_table(table)
    cold_ms, warm_ms = [], []
    for _ in range(5):
        forget(path)
        for into in (cold_ms, warm_ms):
            begin = time.perf_counter()
            with Archive(data_dir).open_run(NAME) as reader:
                found = reader.envelopes(FAST.channels, 0.0, hours * 3600, points)
            into.append(1000 * (time.perf_counter() - begin))
    forget(other)
    begin = time.perf_counter()
    one = pyarrow.parquet.read_table(other, columns=[FAST.channels[0]]).column(0).to_numpy()
    edges = np.linspace(0, len(one), points + 1).astype(np.int64)[:-1]
    low, high = np.minimum.reduceat(one, edges), np.maximum.reduceat(one, edges)
    parquet_ms = 1000 * (time.perf_counter() - begin)
    with capsys.disabled():
        print(
            f"\n72 h, six channels, {points} points, {path.stat().st_size / 1e6:.0f} MB: "
            f"{min(cold_ms):.1f}/{np.median(cold_ms):.1f} ms cold (least/median), {np.median(warm_ms):.1f} ms warm; "
            f"Parquet with pyarrow, one channel, {other.stat().st_size / 1e6:.0f} MB: {parquet_ms:.0f} ms; "
            f"highest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB"
        )
    assert all(len(envelope.t_s) == points for envelope in found.values())
    assert len(low) == len(high) == points
    assert np.median(cold_ms) <= 10.0
    assert parquet_ms / np.median(cold_ms) > 10.0
