"""A core and a simulated rig in step, as `co_rig` has them, with the real recorder behind the core."""

from pathlib import Path

from co_rig import CoRig
from crash_feed import NO_RESERVE

from scuffwatch.cli.demo_rig import HEADING, rig_values
from scuffwatch.service.commands import Desk
from scuffwatch.service.core import Core
from scuffwatch.service.settings import RigSettings
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.store.inbox import InboxRules
from scuffwatch.store.items import Item
from scuffwatch.store.recorder import Recorder
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.storage import Storage

DAY = "2026-11-25"
ROOMY = InboxRules(span_s=1e6, size_bytes=1 << 30, events=1_000_000)
"""The simulated rig runs as fast as the machine lets it: its node time is no measure for the queue."""


class RecordedRig(CoRig):
    """One rig, one core and its recorder, which ends with the `with` at the latest."""

    def __init__(
        self,
        folder: Path,
        scenario: str = "healthy",
        *,
        storage: Storage | None = None,
        inbox_rules: InboxRules = ROOMY,
        resume_within_s: float = 600.0,
        lubricants: dict[str, dict[str, float]] | None = None,
    ) -> None:
        super().__init__(scenario)
        values = rig_values("/dev/null", self.machine.settings.identity)
        values["run"]["resume_within_s"] = resume_within_s
        if lubricants is not None:
            values["lubricants"] = lubricants
        self.recorder = Recorder(folder, storage=storage, inbox_rules=inbox_rules, rules=WriterRules(space=NO_RESERVE))
        self.found = self.recorder.start()
        self.core = Core(RigSettings.model_validate(values), annotated_toml(values, HEADING), self)
        self.core.store_fault = lambda: self.recorder.status.last_error
        self.desk = Desk(self.core, lambda _: self.recorder.next_run_name(DAY, "rig 2"))

    def __enter__(self) -> "RecordedRig":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def offer(self, item: Item) -> None:
        """Keep an item for the test and hand it to the recorder."""
        self.sink.offer(item)
        self.recorder.offer(item)

    def tick(self, steps: int = 1) -> None:
        """Move on, and close a run that was not resumed in time, as the loop does."""
        for _ in range(steps):
            super().tick()
            self.to_rig(self.desk.close_expired(self.now))

    def trip_by(self, interlock: str) -> None:
        """Open an interlock until the permit is gone, and close it again."""
        self.machine.set_input(interlock, False)
        assert self.until(lambda: not self.permitted, 1.0)
        self.wait(0.5)
        self.machine.set_input(interlock, True)

    def close(self) -> bool:
        """End the recorder."""
        return self.recorder.close(60.0)
