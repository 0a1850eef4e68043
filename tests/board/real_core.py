"""The real core over a simulated rig, with the pages over both, started as `deploy/demo` starts them."""

import os
import re
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from subprocess import Popen
from typing import Any

from scuffwatch.cli.demo_session import AFTER_RESET_RIG_S, Session
from scuffwatch.cli.processes import Children
from scuffwatch.control.commands import Acknowledge
from scuffwatch.model.event import Event, EventKind
from scuffwatch.store.reader import Archive

RIG_PRIORITY = -10
RESET_HOLD_RIG_S = 0.4
PRESSES_MOST = 4
PAGES_TIMEOUT_S = 20.0
AT_REST_TIMEOUT_S = 30.0


class Crew(Children):
    """Children by name, of which the rig goes before: it stands for a box with a processor of its own."""

    def __init__(self, log_folder: Path) -> None:
        super().__init__(log_folder)
        self.named: dict[str, Popen[bytes]] = {}

    def start(self, name: str, module: str, *words: str) -> "Popen[bytes]":
        """Start one; the rig gets the core's own priority where that is allowed."""
        child = self.named[name] = super().start(name, module, *words)
        if name == "rig":
            with suppress(PermissionError):
                os.setpriority(os.PRIO_PROCESS, child.pid, RIG_PRIORITY)
        return child


@dataclass
class RealRig:
    """Rig, core and pages under way, with a test run open.

    Attributes:
        folder: everything they keep.
        session: the operator's acts.
        children: the processes.
        url: where the pages are.
        run: name of the open run.
        pages: process of the pages.
    """

    folder: Path
    session: Session
    children: Crew
    url: str = ""
    run: str = ""
    pages: "Popen[bytes]" = field(init=False)

    def start_pages(self) -> None:
        """Start the pages on a free port and wait for their address; also again, after they have been killed."""
        words = ["--data", str(self.folder), "--port", "0", "--sim-panel", str(self.folder / "panel.sock")]
        before = len(self._addresses())
        self.pages = self.children.start("pages", "scuffboard.main", *words)
        self.session.wait("the pages", lambda: len(self._addresses()) > before, PAGES_TIMEOUT_S)
        self.url = self._addresses()[-1]

    def _addresses(self) -> list[str]:
        log = self.folder / "pages.log"
        return re.findall(r"pages at (http://\S+?)/?\n", log.read_text()) if log.exists() else []

    def core_pid(self) -> int:
        """Give the process of the core."""
        return self.children.named["core"].pid

    def permit(self) -> None:
        """Acknowledge, press the reset at the rig, and wait for the permit; the motor stays off."""
        session = self.session
        if self.picture()["permit"]["state"] == "permitted":
            return
        session.tell(Acknowledge())
        session.wait("everything but the reset", lambda: unmet(self.picture()) == ["reset"], AT_REST_TIMEOUT_S)
        for _ in range(PRESSES_MOST):
            session.panel.ask(do="press_reset", hold_s=RESET_HOLD_RIG_S / session.speed)
            if seen_within(lambda: self.picture()["permit"]["state"] == "permitted", 3.0) < 3.0:
                return
        raise AssertionError(f"no press gave the permit: {self.picture()['permit']}")

    def run_under_load(self, tries: int = 3) -> None:
        """Start the motor and wait until friction has a value; again where a busy machine let the permit lapse."""
        for _ in range(tries):
            self.permit()
            time.sleep(AFTER_RESET_RIG_S / self.session.speed)
            with suppress(ValueError):  # no permit, no supply
                self.session.panel.ask(do="start_motor")
            if self._has_friction():
                return
        raise AssertionError(f"the rig would not run: {self.picture()['permit']}")

    def _has_friction(self) -> bool:
        while self.picture()["permit"]["state"] == "permitted":
            if self.picture()["channels"]["friction_coefficient"]["value"] is not None:
                return True
        return False

    def trip_by_guard(self) -> None:
        """Open the guard, see the core trip, and close the guard again."""
        self.session.panel.ask(do="guard", closed=False)
        self.session.wait("the trip", lambda: self.picture()["permit"]["state"] == "tripped")
        self.session.panel.ask(do="guard", closed=True)

    def picture(self) -> dict[str, Any]:
        """Give a live picture made after the call: what waits in the socket may be from before."""
        asked_s = time.monotonic()
        while True:
            picture = self.session.snapshot()
            if picture["t_mono_s"] >= asked_s:
                return picture

    def trips(self) -> list[Event]:
        """Give the recorded trips of the open run, the newest first, once the last event is in the journal."""
        last = self.picture()["store"]["last_event"]
        self.session.wait("the record", lambda: self.picture()["store"]["last_recorded_event"] >= last)
        events = Archive(self.folder).latest_events(200)
        return [event for event in events if event.kind is EventKind.TRIPPED and event.run == self.run]

    def withdrawn_after_s(self) -> float:
        """Open the guard and give how long the core took to trip, s, by the host's monotonic clock."""
        asked_s = time.monotonic()
        self.trip_by_guard()
        return self.trips()[0].t_mono_s - asked_s

    def stretch(self, seconds: float) -> tuple[list[float], float]:
        """Watch a permitted rig for a while and trip it; give the lateness of every slice, ms, and of the trip, s."""
        begun, known = self.picture()["loop"]["slices"], len(self._trip_lateness_ms())
        time.sleep(seconds)
        slices = self.picture()["loop"]["slices"] - begun
        took_s = self.withdrawn_after_s()
        self.session.wait("the trip record", lambda: len(self._trip_lateness_ms()) > known)
        return list(self._trip_lateness_ms()[-1][-slices:]), took_s

    def _trip_lateness_ms(self) -> list[tuple[float, ...]]:
        """Give the lateness of the loop that each trip record keeps, ms, slice by slice."""
        with Archive(self.folder).open_run(self.run) as reader:
            return [trip.lateness_ms for trip in reader.trips()]

    def wait_for_samples(self, t_rig_s: float) -> None:
        """Wait until the store holds samples later than a node time."""
        self.session.wait("samples in the store", lambda: self._stored_s() > t_rig_s, 10.0)

    def _stored_s(self) -> float:
        with Archive(self.folder).open_run(self.run) as reader:
            return reader.last_t_rig_s()


def unmet(picture: dict[str, Any]) -> list[str]:
    """Give the keys of what is missing for the permit."""
    return [need["key"] for need in picture["permit"]["needs"] if not need["met"]]


@contextmanager
def real_rig(folder: Path, scenario: str = "healthy", speed: float = 1.0, seed: int = 1) -> Iterator[RealRig]:
    """Give a rig, a core, a test run and pages; all end with the block."""
    with Crew(folder) as children:
        session = Session(folder, children, scenario, seed, speed)
        made = RealRig(folder, session, children)
        try:
            session.start_rig()
            session.start_core()
            made.start_pages()
            made.run = session.open_test_run()
            yield made
        finally:
            session.live.close()
            if hasattr(made, "pages"):
                made.pages.send_signal(signal.SIGCONT)


def seen_within(done: Any, timeout_s: float) -> float:
    """Wait until something is so and give how long that took, s; infinity where it never came."""
    begun_s = time.monotonic()
    while time.monotonic() - begun_s < timeout_s:
        if done():
            return time.monotonic() - begun_s
        time.sleep(0.01)
    return float("inf")
