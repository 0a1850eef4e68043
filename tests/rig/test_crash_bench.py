"""The crash bench: kill, power cut, failing, full, read-only and stalled disk, clocks that step, readers that stay.

Rows of the fault matrix (FAULTS §1) are named beside each test. A test of a promise has a control beside it that breaks
the promise, so that the bench itself is known to see it.
"""

import random
import tempfile
from collections.abc import Iterator
from pathlib import Path

import apsw
import pytest
from crash_check import emptied, faults_after
from crash_disk import ModelDisk, ModelStorage, disk_of, pour_out
from crash_life import MODEL_FOLDER, Life, operations_of_a_life

# Where SQLite goes on after an error of the model disk, apsw reports the exception behind it as never raised.
pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")

CUTS, CUTS_LONG = 200, 10_000


@pytest.fixture(scope="module")
def life_operations() -> list[str]:
    """Give the disk operations of an undisturbed life."""
    return operations_of_a_life()


@pytest.fixture
def quick_dir() -> Iterator[Path]:
    """Give a folder in memory where there is one: what is poured out there is only read back."""
    where = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(prefix="scuff-", dir=where) as name:
        yield Path(name)


class _Cut:
    """Takes the power away at one operation, for good."""

    def __init__(self, disk: ModelDisk, number: int) -> None:
        self._disk, self._number = disk, number

    def __call__(self, operation: int, kind: str) -> Exception | None:
        if operation >= self._number:
            self._disk.dead = True
            return apsw.IOError("the power went")
        return None


def one_cut(seed: int, operations: int, folder: Path, synchronous: str = "FULL") -> list[str]:
    """Cut one life short at random, one in three a second time while it recovers; give the promises broken."""
    chance = random.Random(seed)
    disk = ModelDisk()
    storage = ModelStorage(disk, synchronous)
    disk.fault = _Cut(disk, chance.randrange(operations))
    life = Life(disk, storage, MODEL_FOLDER)
    life.live()
    storage.unregister()
    files = disk.after_cut(chance)
    if chance.random() < 0.33:
        second = disk_of(files)
        storage = ModelStorage(second, synchronous)
        second.fault = _Cut(second, chance.randrange(80))
        Life(second, storage, MODEL_FOLDER, events_from=1000).live(starts=1)
        storage.unregister()
        files = second.after_cut(chance)
        life.promised.run = ""  # the second life may have opened a run of the same name
    pour_out(files, emptied(folder), MODEL_FOLDER)
    return faults_after(folder, life.promised)


def cuts(count: int, operations: int, folder: Path, synchronous: str = "FULL") -> dict[int, list[str]]:
    """Give the broken promises of many cuts, by seed."""
    broken = {}
    for seed in range(count):
        try:
            found = one_cut(seed, operations, folder, synchronous)
        except Exception as error:  # noqa: BLE001 - a control may leave files nobody can open; that is its finding
            found = [repr(error)]
        if found:
            broken[seed] = found
    return broken


def test_power_cuts_lose_nothing_that_was_promised(life_operations: list[str], quick_dir: Path) -> None:
    """Rows 8, 9 and 10: every write point of opening, feeding, closing, merging and recovering is in the draw."""
    assert len(life_operations) > 300
    assert cuts(CUTS, len(life_operations), quick_dir / "cut") == {}


@pytest.mark.parametrize(("synchronous", "count"), [("NORMAL", 12), ("OFF", 12)])
def test_weaker_syncing_breaks_the_promises(
    life_operations: list[str], quick_dir: Path, synchronous: str, count: int
) -> None:
    """Controls: NORMAL loses what was promised, OFF does that or leaves files nobody can open (FAULTS, decision 5)."""
    assert len(cuts(count, len(life_operations), quick_dir / "cut", synchronous)) >= count // 4
