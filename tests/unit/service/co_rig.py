"""A core and a simulated rig in one process, in step, without a clock: real bytes both ways, time as an argument."""

from collections.abc import Callable
from dataclasses import dataclass, field

from scuffwatch.cli.demo_rig import rig_values
from scuffwatch.control.commands import Acknowledge, Command, OpenRun
from scuffwatch.control.messages import Reply
from scuffwatch.guard.values import PermitState
from scuffwatch.model.event import Event, EventKind
from scuffwatch.model.run import RunKind
from scuffwatch.service.commands import Desk
from scuffwatch.service.core import Core, Now
from scuffwatch.service.settings import RigSettings
from scuffwatch.sim.channels import demo_layouts
from scuffwatch.sim.machine import Machine, scenario_named
from scuffwatch.store.items import Item

RATE_HZ = 200.0
STEP_S = 1.0 / RATE_HZ
MONO_0_S = 1000.0
LOOK_EVERY = 4
"""Without bytes the host looks after 20 ms, as the loop does."""
WALL_0_S = 1.79e9


@dataclass
class ListSink:
    """Keeps what it is offered."""

    items: list[Item] = field(default_factory=list)

    def offer(self, item: Item) -> None:
        self.items.append(item)


class CoRig:
    """One simulated rig and one core, moved together."""

    def __init__(
        self, scenario: str = "healthy", seed: int = 1, identity: str | None = None, settings_toml: str = ""
    ) -> None:
        self.machine = Machine(scenario_named(scenario), seed, demo_layouts(RATE_HZ))
        values = rig_values("/dev/null", identity or self.machine.settings.identity)
        self.sink = ListSink()
        self.core = Core(RigSettings.model_validate(values), settings_toml, self.sink)
        self.desk = Desk(self.core, lambda _: "2026-11-25-rig2-001")
        self.t_s = 0.0
        self.steps = 0
        self.wall_shift_s = 0.0
        self.host_lives = True
        self.wire = bytearray()

    @property
    def now(self) -> Now:
        return Now(MONO_0_S + self.t_s, WALL_0_S + self.t_s + self.wall_shift_s)

    def tick(self, steps: int = 1) -> None:
        """Move rig and core by sampling periods of 5 ms; the host looks when bytes come."""
        for _ in range(steps):
            self.steps += 1
            self.t_s = self.steps * STEP_S
            mono_s = MONO_0_S + self.t_s
            self.machine.advance(1, mono_s)
            self.machine.pulse(mono_s)
            raw = b"".join(raw for raw, _ in self.machine.frames(mono_s))
            if self.machine.cable_pulled:
                raw = b""
            self.wire += raw
            if self.host_lives and (raw or self.steps % LOOK_EVERY == 0):
                self.to_rig(self.core.on_bytes(raw, self.now))

    def to_rig(self, raw: bytes) -> None:
        if raw and not self.machine.cable_pulled:
            self.machine.receive(raw, MONO_0_S + self.t_s)

    def until(self, done: Callable[[], bool], most_s: float) -> bool:
        end = self.steps + round(most_s * RATE_HZ)
        while not done() and self.steps < end:
            self.tick()
        return done()

    def wait(self, time_s: float) -> None:
        self.tick(round(time_s * RATE_HZ))

    def tell(self, command: Command) -> Reply:
        reply, raw = self.desk.carry_out(command, self.now)
        self.to_rig(raw)
        return reply

    @property
    def permitted(self) -> bool:
        return self.core.guard.permit is PermitState.PERMITTED

    def unmet(self) -> list[str]:
        return [need.key for need in self.core.decision.needs if not need.met]

    def connect(self) -> None:
        assert self.until(lambda: self.core.link.up and self.core.link.limits_confirmed, 3.0)

    def open_run(self) -> None:
        scenario = self.machine.play.scenario
        opened = OpenRun(RunKind.TEST, loads_n=scenario.loads_n, dwell_s=scenario.dwell_s, actor="anna")
        assert self.tell(opened).ok

    def press_reset(self, hold_s: float = 0.5) -> None:
        self.machine.reset.press(self.machine.t_s, hold_s)
        self.wait(hold_s + 0.1)

    def permit(self) -> None:
        """Do everything a person does up to the permit."""
        self.connect()
        if self.core.runs.current is None:
            self.open_run()
        self.tell(Acknowledge(actor="anna"))
        assert self.until(lambda: self.unmet() == ["reset"], 10.0), self.core.decision.needs
        self.press_reset()
        assert self.permitted

    def run_motor(self) -> float:
        """Start the motor as a person does; the result is the rig time of the start, s."""
        self.permit()
        self.wait(1.2)
        started_s = self.machine.t_s
        assert self.machine.start_motor()
        return started_s

    def events(self, *kinds: EventKind) -> list[Event]:
        return [item for item in self.sink.items if isinstance(item, Event) and item.kind in kinds]
