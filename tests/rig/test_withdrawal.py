"""A trip does not wait for the lease to lapse: lease 0 is there within one block + 5 ms of the deciding sample."""

import statistics
import tempfile
from collections import Counter
from pathlib import Path

import pytest
from withdrawal_bench import InProcessBench

from scuffwatch.sim.shell import BATCH_S
from scuffwatch.wire.protocol import NodeCause

pytestmark = pytest.mark.rig
TRIALS = 15


def test_a_trip_withdraws_within_a_block_and_5_ms() -> None:
    with tempfile.TemporaryDirectory() as short, InProcessBench(Path(short) / "rig") as bench:
        bench.start_core()
        found = [bench.trial() for _ in range(TRIALS)]
    late_ms = [1000 * late_s for late_s, _ in found]
    causes = Counter(cause for _, cause in found)
    print(f"withdrawn after p50 {statistics.median(late_ms):.1f} ms, worst {max(late_ms):.1f} ms, {causes}")
    assert statistics.median(late_ms) <= 1000 * BATCH_S + 5.0
    assert causes[NodeCause.LEASE_WITHDRAWN] > TRIALS // 2, "the withdrawal, not the lapse, is what opens"
