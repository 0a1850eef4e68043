"""The uplink's tests use the made-up rig box of the crash bench and real servers on loopback."""

import sys
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

_TESTS = Path(__file__).parents[1]
sys.path += [str(Path(__file__).parent), str(_TESTS / "rig"), str(_TESTS / "board")]

with warnings.catch_warnings():  # plug-ins of the library use modules that a later Python no longer has
    warnings.simplefilter("ignore", DeprecationWarning)
    import apprise

    apprise.Apprise().add("json://localhost")

from full_runs import record_with_gap  # noqa: E402 - found through the path above
from servers import FaultProxy, VictoriaMetrics  # noqa: E402 - found through the path above


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


@pytest.fixture
def gapped(data_dir: Path) -> Path:
    """Give a folder with one closed run of 13,500 and 135 samples, and a marked gap."""
    record_with_gap(data_dir)
    return data_dir
