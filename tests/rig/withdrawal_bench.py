"""A rig in a thread of the test, whose friction force can be put over its limit, so that a withdrawal can be timed."""

import threading
import time
from collections.abc import Sequence

from lease_bench import LeaseBench

from scuffwatch.model.channel import FRICTION_FORCE, IntegerType
from scuffwatch.sim.channels import counts_of, demo_layouts
from scuffwatch.sim.machine import Machine, scenario_named
from scuffwatch.sim.shell import Shell
from scuffwatch.wire.protocol import NodeCause, NodePermit

OVER_N = 320.0
ON_DELAY_SAMPLES = 8
"""40 ms at 200 Hz."""


class OverForce:
    """Puts the friction force over its limit and notes when the sample that decides has been taken."""

    def __init__(self) -> None:
        self.on: dict[str, str] = {}
        self.decided_mono_s = 0.0
        self._counts = counts_of(FRICTION_FORCE, OVER_N, IntegerType.INT16)
        self._place = demo_layouts()[0].channels.index(FRICTION_FORCE)
        self._seen = 0

    def begin(self) -> None:
        self._seen, self.on = 0, {FRICTION_FORCE: "over"}

    def apply(self, rows: Sequence[tuple[int, list[int]]]) -> None:
        rows[0][1][self._place] = self._counts
        self._seen += 1
        if self._seen == ON_DELAY_SAMPLES:
            self.decided_mono_s = time.monotonic()


class InProcessBench(LeaseBench):
    """The rig in a thread of the test, so that it can be asked when it latched."""

    def __enter__(self) -> "InProcessBench":
        self.machine = Machine(scenario_named("healthy"), 1, demo_layouts())
        self.force = OverForce()
        self.machine.sensor_faults = self.force  # type: ignore[assignment]
        self.latched_mono_s = 0.0
        self.latch = self.machine.node.latch.latch
        self.machine.node.latch.latch = self._note  # type: ignore[method-assign]
        self.shell = Shell(self.machine, self.folder / "rig-box", self.folder / "panel.sock", 1.0)
        self.thread = threading.Thread(target=self.shell.run)
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        super().__exit__()
        self.shell.stop()
        self.thread.join()

    def _note(self, cause: NodeCause) -> None:
        if self.machine.node.latch.permit is NodePermit.PERMITTED:
            self.latched_mono_s = time.monotonic()
        self.latch(cause)

    def trial(self) -> tuple[float, NodeCause]:
        self.permit()
        self.latched_mono_s = 0.0
        self.force.begin()
        end_s = time.monotonic() + 2.0
        while self.latched_mono_s == 0.0 and time.monotonic() < end_s:
            time.sleep(0.005)
        self.force.on = {}
        return self.latched_mono_s - self.force.decided_mono_s, self.machine.node.latch.cause
