"""What the operator does: switch on and off, put weights on and take them off, with the mishaps of hands.

Reads draws and a rig, gives a `Script`: a list of primitive moves and switchings that the rest of the world obeys.
"""

from dataclasses import dataclass, field

from .draws import Draw
from .rigs import Rig
from .values import Kind, Nuisance


@dataclass(frozen=True, slots=True)
class Move:
    """The load goes to a new value.

    Attributes:
        t_s: the hand begins.
        to_n: load afterwards, N.
        hand_s: time the hand takes.
        bounce_n: first swing of the lever afterwards, N; may be larger than the step when the lever is only knocked.
    """

    t_s: float
    to_n: float
    hand_s: float
    bounce_n: float


@dataclass(slots=True)
class Script:
    """The operator's acts in order of time, on a clock without breaks."""

    draw: Draw
    rig: Rig
    t_s: float = 0.0
    on: bool = False
    load_n: float = 0.0
    running_since_s: float = 0.0
    last_load_s: float = 0.0
    first_on: bool = False
    first_load_n: float = 0.0
    switches: list[tuple[float, bool]] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    breaks: list[tuple[float, float]] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)
    loads_n: list[float] = field(default_factory=list)

    def note(self, kind: Kind, t_s: float | None = None, duration_s: float = 0.0) -> None:
        """Write down a nuisance, now unless told otherwise."""
        self.nuisances.append(Nuisance(kind, self.t_s if t_s is None else t_s, duration_s))

    def wait(self, duration_s: float) -> None:
        """Let time pass."""
        self.t_s += duration_s

    def switch(self, on: bool) -> None:
        """Work the motor switch."""
        if on == self.on:
            return
        self.on = on
        self.switches.append((self.t_s, on))
        if on:
            self.running_since_s = self.t_s

    def start(self) -> None:
        """Switch on and wait until the ring must be at speed."""
        if not self.on:
            if self.load_n > 0.2 * self.rig.top_load_n:
                self.note(Kind.LOADED_START)
            self.switch(True)
            self.wait(self.rig.drive.ramp_s + self.draw.within(3.0, 8.0))

    def move(self, to_n: float, hard: float = 1.0) -> None:
        """Change the load once, with the lever's own bounce times hard."""
        habits = self.rig.habits
        hand_s = habits.hand_s * self.draw.within(0.6, 1.6) / max(hard, 0.5)
        bounce_n = abs(to_n - self.load_n) * habits.bounce_share * self.draw.within(0.5, 1.3) * hard
        self.moves.append(Move(self.t_s, to_n, hand_s, bounce_n))
        self.load_n = to_n
        self.last_load_s = self.t_s

    def place(self, load_n: float) -> None:
        """Bring a load on the way this operator does, mishaps included."""
        before_n = self.load_n
        style = self.rig.habits.change if before_n > 0.1 * load_n else "add"
        if style == "lift":
            self.note(Kind.LIFTED)
            self.move(0.0)
            self.wait(self.draw.within(3.0, 14.0))
        elif style == "stop" and self.on:
            self.pause(self.draw.within(8.0, 40.0), restart=False)
        base_n = self.load_n
        self._mishap(base_n, load_n)
        if style == "stop":
            self.start()
        self.loads_n.append(load_n)

    def _mishap(self, base_n: float, load_n: float) -> None:
        clumsy, lot = self.rig.habits.clumsy, self.draw.within(0.0, 1.0)
        if lot < 0.08 * clumsy:
            self.note(Kind.SET_DOWN_TWICE)
            self.move(load_n)
            self.wait(self.draw.within(0.4, 2.0))
            self.move(base_n + self.draw.within(0.0, 0.4) * (load_n - base_n))
            self.wait(self.draw.within(0.3, 1.5))
            self.move(load_n)
        elif lot < 0.13 * clumsy:
            self.note(Kind.TAKEN_OFF_AGAIN)
            self.move(load_n)
            self.wait(self.draw.within(3.0, 40.0))
            self.move(base_n)
            self.wait(self.draw.within(3.0, 30.0))
            self.move(load_n)
        elif lot < 0.23 * clumsy:
            self.note(Kind.HARD_SET_DOWN)
            self.move(load_n, hard=self.draw.within(1.5, 2.5))
        else:
            self.move(load_n)

    def bump(self) -> None:
        """Knock the lever without changing the load."""
        self.note(Kind.BUMP)
        self.moves.append(Move(self.t_s, self.load_n, 0.05, self.load_n * self.draw.within(0.1, 0.5)))

    def pause(self, rest_s: float, restart: bool = True) -> None:
        """Stop the motor, rest, and start again if told."""
        self.note(Kind.PAUSE, duration_s=rest_s)
        self.switch(False)
        self.wait(rest_s)
        if restart:
            self.start()

    def day_between(self) -> None:
        """Stop, leave hours or days out of the recording, come back to a cold rig, and go on with the same load."""
        load_n = self.load_n
        self.switch(False)
        self.wait(self.draw.within(20.0, 60.0))
        if self.draw.chance(0.5):
            self.move(0.0)
            self.wait(6.0)
        self.note(Kind.DAY_BETWEEN)
        self.breaks.append((self.t_s, self.draw.within(5.0, 70.0) * 3600.0))
        self.wait(self.draw.within(5.0, 30.0))
        self.start()
        self.wait(self.draw.within(2.0, 30.0))
        if self.load_n != load_n:
            self.move(load_n)
            self.wait(self.draw.within(3.0, 10.0))

    def begin(self, mid_run_share: float = 0.12) -> None:
        """Start the recording: at rest, loaded at rest, or already running."""
        rig, draw = self.rig, self.draw
        hanger_n = rig.habits.hanger_share * rig.top_load_n
        lot = draw.within(0.0, 1.0)
        if lot < mid_run_share:
            self.note(Kind.MID_RUN)
            self.on = self.first_on = True
            self.running_since_s = -600.0
            self.load_n = self.first_load_n = rig.loads_n[0]
            self.last_load_s = -600.0
            self.loads_n.append(rig.loads_n[0])
            self.wait(draw.within(15.0, 60.0))
            return
        self.load_n = self.first_load_n = rig.loads_n[0] if lot > 0.85 else hanger_n
        if lot > 0.85:
            self.loads_n.append(self.load_n)
        self.wait(draw.within(4.0, 30.0))
        self.start()
        self.wait(draw.within(4.0, 60.0))

    def climb(self, count: int, dwell_s: float) -> None:
        """Go up the first `count` loads of the plan, dwelling on each but the last."""
        for number, load_n in enumerate(self.rig.loads_n[:count]):
            if load_n != self.load_n:
                self.place(load_n)
            if number < count - 1:
                self.dwell(dwell_s * self.draw.within(0.9, 1.1))

    def dwell(self, duration_s: float) -> None:
        """Stay on a load, with a bump now and then, and rarely a pause."""
        end_s = self.t_s + duration_s
        for t_s in self.draw.times(1.5 * self.rig.habits.clumsy, self.t_s + 5.0, end_s - 8.0):
            if t_s > self.t_s:
                self.t_s = t_s
                self.bump()
        self.t_s = end_s
        if self.draw.chance(min(0.3, duration_s / 6000.0)):
            self.pause(self.draw.log_within(6.0, 400.0))
            self.wait(self.draw.within(10.0, 30.0))

    def finish(self) -> None:
        """End a run by plan: the motor is stopped, or the recording just ends."""
        if self.draw.chance(0.6):
            if self.draw.chance(0.5):
                self.move(0.0)
                self.wait(self.draw.within(3.0, 10.0))
            self.switch(False)
            self.wait(self.draw.within(5.0, 30.0))
