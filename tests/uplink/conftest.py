"""The uplink's tests use the made-up rig box of the crash bench and real servers on loopback."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "rig")]

from servers import FaultProxy, VictoriaMetrics


@pytest.fixture
def store(tmp_path: Path) -> Iterator[VictoriaMetrics]:
    """Give a time-series store of its own, empty."""
    server = VictoriaMetrics(tmp_path)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def proxy(store: VictoriaMetrics) -> Iterator[FaultProxy]:
    """Give a proxy before the store."""
    made = FaultProxy(store.port)
    yield made
    made.close()
