"""A real disk that is really full, and one the kernel turns read-only under the core; rows 11 and 13.

Needs root, tmpfs, a loop device and ext4, so it belongs to the long campaigns; without them it fails and says so. What
the normal run has instead is the model disk of the crash bench.
"""

import contextlib
import os
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from lease_bench import LeaseBench

from scuffwatch.control.client import LiveClient, send
from scuffwatch.control.commands import Acknowledge, CloseRun, Note
from scuffwatch.model.run import Outcome
from scuffwatch.store.reader import Archive
from scuffwatch.store.verify import verify_journal, verify_run

pytestmark = [pytest.mark.rig, pytest.mark.long]
MIB = 1 << 20
ALARM_WITHIN_S = 2.0
LAPSES = {"rig_box", "link_lost"}


def must(*words: object) -> None:
    """Run a command of the system that this test cannot do without."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True)
    if done.returncode != 0:
        pytest.fail(f"This test needs root and a machine that lets it mount: {' '.join(done.args)}: {done.stderr}")


class DiskBench(LeaseBench):
    """A rig and a core whose data folder is a file system of its own."""

    @property
    def data(self) -> Path:
        return self.folder / "data"

    def picture(self) -> dict[str, Any]:
        """Give the latest live picture."""
        live = LiveClient(self.data / "live.sock")
        try:
            seen = live.latest(5.0)
        finally:
            live.close()
        assert seen is not None
        return dict(seen[0])

    def sees(self, true: Callable[[dict[str, Any]], bool], most_s: float = 15.0) -> float:
        """Wait until the picture is so; give how long that took, s."""
        begun_s = time.monotonic()
        self._await(lambda: true(self.picture()), most_s)
        return time.monotonic() - begun_s

    def recorded_all(self, picture: dict[str, Any]) -> bool:
        """Say whether every event is on the disk."""
        return bool(picture["store"]["last_recorded_event"] == picture["store"]["last_event"])

    def open_run(self) -> str:
        """Permit and give the run's name, with more than a second of it on the disk."""
        self.start_core()
        self.permit()
        self.sees(self.recorded_all)
        time.sleep(3.0)
        return str(self.picture()["run"]["name"])

    def trip_and_try_to_reset(self) -> None:
        """Open the guard, close it again, acknowledge, and press reset: without a record there is no new permit."""
        self.panel.ask(do="guard", closed=False)
        self.sees(lambda picture: picture["permit"]["state"] == "tripped", 2.0)
        self.panel.ask(do="guard", closed=True)
        send(self.data / "command.sock", Acknowledge(), "bench")
        time.sleep(1.0)
        self.panel.ask(do="press_reset", hold_s=0.4)
        time.sleep(1.0)
        permit = self.picture()["permit"]
        assert permit["state"] == "tripped"
        assert "prestart" in {need["key"] for need in permit["needs"] if not need["met"]}

    def end(self) -> int:
        """Tell the core to end; give its exit code."""
        assert self.core is not None
        self.core.send_signal(signal.SIGTERM)
        code = self.core.wait(40.0)
        self.core = None
        return code


def alarmed(picture: dict[str, Any]) -> bool:
    """Say whether the alarm about the record stands. A disk takes no permit away; a busy machine may let it lapse."""
    permit = picture["permit"]
    assert permit["state"] == "permitted" or permit["first_out"]["kind"] in LAPSES, permit["first_out"]
    return any(alarm["key"] == "record" for alarm in picture["alarms"])


def whole(data: Path) -> None:
    assert verify_journal(data).findings == ()
    for run in Archive(data).runs():
        assert verify_run(data, run.name).findings == (), run.name


@pytest.fixture
def bench() -> Iterator[DiskBench]:
    """Give a rig without a core yet, in a folder with a short path, and an unmounted place for the data."""
    with tempfile.TemporaryDirectory(prefix="scuff-") as short:
        made = DiskBench(Path(short) / "b")
        made.data.mkdir()
        with made:
            yield made
            made.end_core()
        if made.data.is_mount():
            must("umount", made.data)


def fill(path: Path, leave_bytes: int) -> None:
    """Write a file until the disk has this much left, or none."""
    left_bytes = _free_bytes(path.parent) - leave_bytes
    with path.open("ab", buffering=0) as file, contextlib.suppress(OSError):
        while left_bytes > 0:
            left_bytes -= file.write(bytes(min(MIB, left_bytes)))
    assert _free_bytes(path.parent) <= leave_bytes + MIB


def _free_bytes(folder: Path) -> int:
    found = os.statvfs(folder)
    return found.f_bavail * found.f_frsize


def test_a_disk_that_is_full_keeps_events_and_goes_on_when_there_is_room(bench: DiskBench) -> None:
    must("mount", "-t", "tmpfs", "-o", "size=192m", "none", bench.data)
    name = bench.open_run()
    ballast = bench.data / "ballast"
    fill(ballast, 40 * MIB)
    bench.sees(alarmed)
    error = bench.picture()["store"]["error"]
    assert "Samples are not recorded: the disk is nearly full" in error
    assert error.endswith(" MiB left, limit 64 MiB.")

    fill(ballast, 0)
    for number in range(300):
        assert send(bench.data / "command.sock", Note(f"note {number}"), "bench").ok
    bench.sees(bench.recorded_all, 30.0)  # out of the reserve
    bench.trip_and_try_to_reset()
    bench.sees(bench.recorded_all, 30.0)

    ballast.unlink()
    print(f"goes on {bench.sees(lambda picture: picture['store']['error'] == ''):.1f} s after there is room")
    bench.permit()
    assert bench.picture()["run"]["name"] == name
    time.sleep(3.0)
    assert send(bench.data / "command.sock", CloseRun(), "bench").ok
    assert bench.end() == 0

    whole(bench.data)
    (run,) = Archive(bench.data).runs()
    assert (run.outcome, run.interrupted) == (Outcome.STOPPED, True)
    texts = [event.says for event in Archive(bench.data).events(0, 100_000)]
    assert [text for text in texts if text.startswith("note ")] == [f"note {number}" for number in range(300)]
    with Archive(bench.data).open_run(name) as reader:
        assert "disk nearly full" in {gap.why for gap in reader.gaps()}
        assert all(account.balances for account in reader.ledger())
        group = next(account for account in reader.ledger() if account.group == 0)
        assert group.marked > 0
        assert group.stored > 4 * 200  # before and after
        assert len(reader.trips()) >= 1


def test_a_disk_that_turns_read_only_is_said_and_the_record_before_is_whole(bench: DiskBench) -> None:
    """`remount,abort` is what ext4 does to itself after an error of the medium: read-only, whoever has files open."""
    image = bench.folder / "disk"
    with image.open("wb") as file:
        file.truncate(320 * MIB)
    must("mkfs.ext4", "-q", image)
    must("mount", "-o", "loop", image, bench.data)
    name = bench.open_run()
    bench.sees(bench.recorded_all)
    before = Archive(bench.data).events(0, 10_000)
    must("mount", "-o", "remount,abort", bench.data)
    took_s = bench.sees(alarmed)
    print(f"alarm {took_s:.2f} s after the disk turned read-only: {bench.picture()['store']['error']}")
    assert took_s < ALARM_WITHIN_S + 1.0  # and one batch of samples, until when nothing is written
    bench.trip_and_try_to_reset()
    assert not bench.recorded_all(bench.picture())
    bench.end()

    must("umount", bench.data)
    repaired = subprocess.run(["e2fsck", "-fy", image], capture_output=True, text=True)
    assert repaired.returncode in (0, 1), repaired.stdout  # e2fsck(8): 1 is "errors corrected"
    must("mount", "-o", "loop", image, bench.data)
    second = bench.open_run()
    assert second > name
    assert send(bench.data / "command.sock", CloseRun(), "bench").ok
    assert bench.end() == 0
    whole(bench.data)
    assert Archive(bench.data).events(0, 10_000)[: len(before)] == before
    assert {run.name: run.outcome for run in Archive(bench.data).runs()} == {
        name: Outcome.POWER_LOSS,
        second: Outcome.STOPPED,
    }
