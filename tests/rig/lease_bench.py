"""What every lease trial needs: a simulated rig at real time, a witness, and a core that is hurt and started again."""

import contextlib
import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from scuffwatch.cli.demo_rig import rig_values
from scuffwatch.control.client import CoreNotReached, LiveClient, send
from scuffwatch.control.commands import Acknowledge, OpenRun
from scuffwatch.model.run import RunKind
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.sim.machine import IDENTITY
from scuffwatch.sim.panel import PanelClient

HERE = Path(__file__).parent
LIMIT_MS = 250.0


class LeaseBench:
    """One rig, one witness, one core at a time; `rig_words` are further words for the simulated rig."""

    core_script = "freezing_core.py"

    def __init__(self, folder: Path, rig_words: tuple[str, ...] = ()) -> None:
        self.folder, self._rig_words = folder, rig_words
        folder.mkdir()
        self.panel = PanelClient(folder / "panel.sock")
        self._log = folder / "witness.jsonl"
        self._children: list[subprocess.Popen[bytes]] = []
        self.core: subprocess.Popen[bytes] | None = None
        self._values = rig_values(str(folder / "rig-box"), IDENTITY)
        self._values["guard"]["at_rest_s"] = 0.2
        (folder / "rig.toml").write_text(annotated_toml(self._values, "lease trials"), encoding="utf-8")

    def __enter__(self) -> "LeaseBench":
        self._start("-m", "scuffwatch.sim.witness", "--listen", self.folder / "witness", "--log", self._log)
        self._await(lambda: (self.folder / "witness").exists())
        words = ("--link", self.folder / "rig-box", "--panel", self.folder / "panel.sock")
        self.rig = self._start("-m", "scuffwatch.sim", *words, "--witness", self.folder / "witness", *self._rig_words)
        self._await(lambda: (self.folder / "panel.sock").exists())
        return self

    def __exit__(self, *_: object) -> None:
        self.end_core()
        for child in reversed(self._children):
            child.kill()
            child.wait()

    def start_core(self) -> None:
        """Start a core that can be frozen, unless one lives."""
        if self.core is None:
            words = (HERE / self.core_script, self.folder / "rig.toml", self.folder / "data")
            self.core = self._popen(*words)

    def end_core(self) -> None:
        """Kill the core, whatever state it is in."""
        if self.core is not None:
            self.core.kill()
            self.core.wait()
            self.core = None

    def permit(self) -> None:
        """Bring the rig to a closed contactor, as a person does, again and again until it is."""
        live = LiveClient(self.folder / "data" / "live.sock")
        try:
            self._await(lambda: self._ready(live), 30.0)
        finally:
            live.close()

    def _ready(self, live: LiveClient) -> bool:
        command = self.folder / "data" / "command.sock"
        seen = live.latest(0.3)
        if seen is None:
            return False
        picture = seen[0]
        if picture["permit"]["state"] == "permitted":
            return bool(self.panel.status()["contactor_closed"])
        with contextlib.suppress(CoreNotReached):
            if picture["run"] is None:
                send(command, OpenRun(RunKind.SETUP), "bench")
            if not picture["permit"]["acknowledged"]:
                send(command, Acknowledge(), "bench")
        if [need["key"] for need in picture["permit"]["needs"] if not need["met"]] == ["reset"]:
            self.panel.ask(do="press_reset", hold_s=0.25)
            time.sleep(0.45)
        return False

    def opened_ms(self, before: int) -> float:
        """Wait until the witness has seen the contactor open and give ms since the last block a lease was for."""
        self._await(lambda: len(self.openings()) > before, 3.0)
        block_mono_s = self.panel.status()["lease_block_mono_s"]
        return float(self.openings()[-1]["t_mono_ns"]) / 1e6 - block_mono_s * 1e3

    def openings(self) -> list[dict[str, float]]:
        """Give every opening the witness has written."""
        lines = self._log.read_text(encoding="ascii").splitlines() if self._log.exists() else []
        rows: list[dict[str, float]] = [json.loads(line) for line in lines]
        return [row for row in rows if row["event"] == "open"]

    def hurt(self, how: str) -> None:
        """Do the fault."""
        assert self.core is not None
        if how == "cable":
            self.panel.ask(do="cable", plugged=False)
        else:
            self.core.send_signal({"kill": signal.SIGKILL, "stop": signal.SIGSTOP, "freeze": signal.SIGUSR1}[how])

    def heal(self, how: str) -> None:
        """Undo it; what only a new process undoes gets one."""
        assert self.core is not None
        if how == "cable":
            self.panel.ask(do="cable", plugged=True)
        elif how == "stop":
            self.core.send_signal(signal.SIGCONT)
        else:
            self.end_core()

    def _start(self, *words: object) -> subprocess.Popen[bytes]:
        self._children.append(self._popen(*words))
        return self._children[-1]

    def _popen(self, *words: object) -> subprocess.Popen[bytes]:
        with (self.folder / "log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, *map(str, words)], stdin=subprocess.DEVNULL, stdout=log, stderr=log
            )

    def _await(self, done: Callable[[], bool], most_s: float = 10.0) -> None:
        end_s = time.monotonic() + most_s
        while not done():
            if time.monotonic() > end_s:
                raise AssertionError(f"did not come; log: {(self.folder / 'log').read_text()[-2000:]}")
            time.sleep(0.02)
