"""A demonstration under way: three processes, the operator's acts, and what is seen of them.

Reads the live socket and the simulated rig's panel, sends commands and presses buttons. Used by both demonstrations.
"""

import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scuffwatch.cli import demo_rig
from scuffwatch.cli.processes import Children
from scuffwatch.control.client import CoreNotReached, LiveClient, send
from scuffwatch.control.commands import Acknowledge, CloseRun, Command, OpenRun
from scuffwatch.control.messages import Reply
from scuffwatch.model.errors import InternalError
from scuffwatch.model.run import RunKind
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.sim.channels import six_channel_layouts
from scuffwatch.sim.machine import IDENTITY
from scuffwatch.sim.panel import PanelClient
from scuffwatch.sim.scenario import SCENARIOS

START_TIMEOUT_S = 30.0
STARTS_TRIED = 5
PERMIT_WITHIN_S = 5.0
OPERATOR = "demonstration"
RESET_HOLD_RIG_S = 1.0
AFTER_RESET_RIG_S = 1.5
"""The operator waits longer than `unexpected_start_s` before starting the motor."""


class Session:
    """One demonstration in one folder.

    Args:
        folder: empty folder; sockets, rig file, record and logs go there.
        children: starts the processes.
        scenario, seed, speed: what the simulated rig plays.
        rate_hz: sampling rate of its fast group.
        layout: `demo`, or `six` for one group of six channels.
    """

    def __init__(
        self,
        folder: Path,
        children: Children,
        scenario: str,
        seed: int,
        speed: float,
        rate_hz: float = 200.0,
        layout: str = "demo",
    ) -> None:
        self.folder = folder
        self.speed = speed
        self.scenario = SCENARIOS[scenario]
        self._children = children
        self._rate_hz = rate_hz
        self._layout = layout
        self._seed = seed
        self.rig_file = folder / "rig.toml"
        self.command = folder / "command.sock"
        self.live = LiveClient(folder / "live.sock")
        self.panel = PanelClient(folder / "panel.sock")

    def start_rig(self) -> None:
        """Start the simulated rig and wait for its panel."""
        link, panel = self.folder / "rig-box", self.folder / "panel.sock"
        words = ["--link", str(link), "--panel", str(panel), "--scenario", self.scenario.name]
        words += ["--seed", str(self._seed), "--speed", str(self.speed), "--rate-hz", str(self._rate_hz)]
        words += ["--layout", self._layout, "--excuse-pauses"]
        self._children.start("rig", "scuffwatch.sim", *words)
        self.wait("the simulated rig", lambda: panel.exists() and link.exists())
        channels = six_channel_layouts()[0].channels if self._layout == "six" else None
        values = demo_rig.rig_values(str(link), IDENTITY, channels)
        # Relays take their time in real seconds; node time runs faster.
        values["guard"]["readback_s"] = min(10.0, demo_rig.READBACK_S * max(1.0, self.speed))
        self.rig_file.write_text(annotated_toml(values, demo_rig.HEADING), encoding="utf-8")

    def start_core(self) -> subprocess.Popen[bytes]:
        """Start the core and wait until it hears the rig box; the result is its process."""
        words = ["daemon", "--rig", str(self.rig_file), "--data", str(self.folder)]
        core = self._children.start("core", "scuffwatch.cli.main", *words)
        self.wait("the core", self._core_answers)
        return core

    def open_test_run(self) -> str:
        """Open a test run in the demonstration's plan; the result is its name."""
        plan = self.scenario
        reply = self.tell(
            OpenRun(
                RunKind.TEST,
                demo_rig.LUBRICANT,
                demo_rig.TREAT_RATE_PERCENT,
                demo_rig.BATH_VOLUME_ML,
                demo_rig.RING,
                demo_rig.PIN,
                plan.loads_n,
                plan.dwell_s,
            )
        )
        run = reply.data["run"]
        assert isinstance(run, dict)
        return str(run["name"])

    def permit_and_start(self) -> None:
        """Do what a person does: acknowledge, press reset at the rig, wait, start the motor; again where it lapsed.

        Raises:
            InternalError: this computer is too busy for the lease.
        """
        for _ in range(STARTS_TRIED):
            self.tell(Acknowledge())
            self.wait("everything but the reset", lambda: self._unmet() == ["reset"])
            if self._press_reset() and self._start_motor():
                return
        raise InternalError(
            f"the permit lapsed {STARTS_TRIED} times before the motor could start: this computer leaves the processes "
            "standing for longer than the lease lives. Close other programs, or give a lower --speed."
        )

    def _press_reset(self) -> bool:
        """Press the reset and say whether it gave the permit."""
        self.panel.ask(do="press_reset", hold_s=RESET_HOLD_RIG_S / self.speed)
        give_up_mono_s = time.monotonic() + PERMIT_WITHIN_S
        while self.snapshot()["permit"]["state"] != "permitted":
            self.check()
            if time.monotonic() > give_up_mono_s:
                return False
        return True

    def _start_motor(self) -> bool:
        """Wait as one must after a reset, start the motor, and say whether it held."""
        started_s = self.snapshot()["t_rig_s"]
        self.wait("a moment", lambda: self.snapshot()["t_rig_s"] - started_s > AFTER_RESET_RIG_S)
        try:
            self.panel.ask(do="start_motor")
        except ValueError:  # no permit any more, no supply
            return False
        return True

    def check(self) -> None:
        """Raise InternalError where a process has ended by itself."""
        if self._children.dead():
            raise InternalError(f"{self._last_words()} Everything has been stopped. Start the demonstration again.")

    def forget_core(self) -> None:
        """Go on without the core that has been killed; `start_core` starts another."""
        self.live.close()
        self.live = LiveClient(self.folder / "live.sock")

    def close_run(self) -> None:
        """Close the run where one is still open."""
        self.tell(CloseRun())

    def tell(self, command: Command) -> Reply:
        """Send a command; a refusal is a fault of the demonstration."""
        reply = send(self.command, command, OPERATOR)
        if not reply.ok:
            raise InternalError(f"the demonstration asked for something the core refuses: {reply.says}")
        return reply

    def snapshot(self, timeout_s: float = 5.0) -> dict[str, Any]:
        """Give the latest live picture."""
        received = self.live.latest(timeout_s)
        if received is None:
            raise InternalError(f"the core shows nothing for {timeout_s:g} s. {self._last_words()}")
        return received[0]

    def wait(self, what: str, done: Callable[[], bool], timeout_s: float = START_TIMEOUT_S) -> None:
        """Wait until something is so.

        Raises:
            InternalError: it did not come in time, or a process has ended.
        """
        end_mono_s = time.monotonic() + timeout_s
        while not done():
            if self._children.dead():
                raise InternalError(f"while waiting for {what}. {self._last_words()}")
            if time.monotonic() > end_mono_s:
                raise InternalError(f"{what} did not come within {timeout_s:g} s. {self._last_words()}")
            time.sleep(0.02)

    def _core_answers(self) -> bool:
        try:
            received = self.live.latest(0.2)
        except CoreNotReached:
            return False
        return received is not None and bool(received[0]["link"]["up"])

    def _unmet(self) -> list[str]:
        return [need["key"] for need in self.snapshot()["permit"]["needs"] if not need["met"]]

    def _last_words(self) -> str:
        dead = self._children.dead()
        if not dead:
            return ""
        tail = self._children.log_tail(dead)
        ended = f"The process {dead} of the demonstration has ended {self._children.how_ended(dead)}."
        return f"{ended} Before that it had said: {tail}" if tail else ended
