"""What viewers cost the page server, measured in one run: none, one, twenty."""

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from stand_in_core import StandInCore
from viewer import Viewer

pytestmark = [pytest.mark.bench, pytest.mark.timeout(300)]

STRETCH_S = 20.0
VIEWERS = 20
CORE_SHARE_MOST, MEMORY_GROWTH_MOST_MB = 0.02, 3.0
TICKS_HZ = os.sysconf("SC_CLK_TCK")


@contextmanager
def page_server(folder: Path) -> Iterator[tuple[int, str]]:
    """Give the process and the address of a page server of its own, as a user starts it."""
    words = ["--data", str(folder), "--live", str(folder / "live.sock"), "--command", str(folder / "command.sock")]
    command = [sys.executable, "-m", "scuffboard.main", *words, "--port", "0", "--viewers", "24"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            found = re.search(r"http://\S+[^/\s]", process.stdout.readline())
            assert found
            yield process.pid, found[0]
        finally:
            process.terminate()


def cpu_s(pid: int) -> float:
    """Give the processor time a process has had, s (proc(5): fields 14 and 15 of stat)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_HZ


def rss_mb(pid: int) -> float:
    """Give its resident memory, MB (proc(5): VmRSS of status)."""
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
    assert found
    return int(found[1]) * 1024 / 1e6


def test_twenty_viewers_cost_little(tmp_path: Path) -> None:
    """Snapshots ten times a second from the core. Aim: 2 % of a core and 50 MB with twenty viewers at 5 Hz.

    Memory is told and its growth held: nearly all of it is Python, Flask and numpy before the first viewer.
    """
    shares, memory_mb = {}, {}
    with StandInCore(tmp_path), page_server(tmp_path) as (pid, url):
        for count in (0, 1, VIEWERS):
            viewers = [Viewer(url) for _ in range(count)]
            time.sleep(2.0)
            before_s, begun_s = cpu_s(pid), time.monotonic()
            before = sum(viewer.bytes_read for viewer in viewers)
            time.sleep(STRETCH_S)
            shares[count] = (cpu_s(pid) - before_s) / (time.monotonic() - begun_s)
            bytes_s = (sum(viewer.bytes_read for viewer in viewers) - before) / STRETCH_S / max(1, count)
            memory_mb[count] = rss_mb(pid)
            took = f"{100 * shares[count]:.2f} % of a core, {memory_mb[count]:.1f} MB"
            print(f"{count} viewers: {took}, {bytes_s:.0f} B/s each")
            for viewer in viewers:
                viewer.close()
    assert shares[VIEWERS] < CORE_SHARE_MOST, shares
    assert memory_mb[VIEWERS] - memory_mb[0] < MEMORY_GROWTH_MOST_MB, memory_mb
