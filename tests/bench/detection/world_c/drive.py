"""Motors with what feeds them, in shares of full torque, set speed and full current, and the belt behind them.

Reads the torque that holds the ring, gives speeds and current. Full torque is friction at the top load plus drag.
"""

from dataclasses import dataclass
from math import exp, hypot, sqrt

from world_b.values import DriveKind

_STOPPED_SHARE = 0.004
_MOST_STEP_S = 0.005


@dataclass(frozen=True, slots=True)
class DriveFacts:
    """What turns the ring.

    Attributes:
        kind: see `DriveKind`.
        full_torque_nm, full_current_a: at the ring; A.
        drag_share: torque of seals and bearings, warm.
        cold_drag_share, drag_lag_s: more of it while cold, as a share of the drag; how fast it goes.
        accelerate_s: time in which full torque alone would bring the ring to set speed.
        peak_share: torque of a held or pulled-out motor, or the torque at the current limit.
        pull_out_slip: of an induction motor, at peak torque.
        full_slip: of an inverter drive, at full torque.
        magnetising_share: current without torque; for a brushed motor that of its own losses.
        gain, integral_per_s: of a speed controller.
        ramp_s: over which the set speed is raised; 0 for none.
        current_lag_s: of current behind torque, by what measures it.
        cut_off_s: after which a held drive is switched off by fuse, thermal relay or inverter.
        belt_share: torque at which the belt slips; infinite without one.
    """

    kind: DriveKind
    full_torque_nm: float
    full_current_a: float
    drag_share: float
    cold_drag_share: float
    drag_lag_s: float
    accelerate_s: float
    peak_share: float
    pull_out_slip: float
    full_slip: float
    magnetising_share: float
    gain: float
    integral_per_s: float
    ramp_s: float
    current_lag_s: float
    cut_off_s: float
    belt_share: float

    @property
    def idle_slip(self) -> float:
        """Give the slip of an induction motor that carries its drag only, so that set speed is idle speed."""
        ratio = self.peak_share / self.drag_share
        return self.pull_out_slip * (ratio - sqrt(ratio * ratio - 1.0))

    def torque(self, speed_share: float, volts_share: float) -> float:
        """Give the torque of a motor straight on its supply, over full torque."""
        if self.kind is DriveKind.BRUSHED_BARE:
            return self.peak_share * volts_share - speed_share * (self.peak_share - self.drag_share)
        slip = max(1.0 - speed_share * (1.0 - self.idle_slip), 1e-6)
        ratio = slip / self.pull_out_slip
        return 2.0 * self.peak_share * volts_share * volts_share / (ratio + 1.0 / ratio)

    def stiffness(self, speed_share: float) -> float:
        """Give by how much that torque falls with speed, at most; for the implicit step."""
        if self.kind is DriveKind.BRUSHED_BARE:
            return self.peak_share
        slip = 1.0 - speed_share * (1.0 - self.idle_slip)
        return 2.0 * self.peak_share / self.pull_out_slip if slip < self.pull_out_slip else 0.0

    def current(self, torque_share: float, speed_share: float, volts_share: float) -> float:
        """Give the steady current over full current."""
        own = self.magnetising_share
        if self.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED):
            return own + (1.0 - own) * torque_share
        if self.kind is DriveKind.INDUCTION_INVERTER:
            return hypot(own, sqrt(1.0 - own * own) * torque_share)
        slip, pull_out = 1.0 - speed_share * (1.0 - self.idle_slip), self.pull_out_slip
        full_slip = pull_out * (self.peak_share - sqrt(self.peak_share * self.peak_share - 1.0))
        rotor = slip / hypot(slip, pull_out) * hypot(full_slip, pull_out) / full_slip
        return volts_share * hypot(own, sqrt(1.0 - own * own) * rotor)


class Drive:
    """State of motor and ring; everything but `facts` changes with each step."""

    __slots__ = ("cold", "current_share", "dead", "facts", "held_s", "integral", "motor_share", "ramp_share",
                 "ring_share", "torque_share")  # fmt: skip

    def __init__(self, facts: DriveFacts, running: bool) -> None:
        """Begin at rest, or at set speed."""
        self.facts = facts
        self.ring_share = self.motor_share = self.ramp_share = 1.0 if running else 0.0
        self.integral = facts.drag_share if running else 0.0
        self.cold = 0.3 if running else 1.0
        self.torque_share = facts.drag_share if running else 0.0
        self.current_share = facts.current(self.torque_share, 1.0, 1.0) if running else 0.0
        self.held_s = 0.0
        self.dead = False

    def rest(self, away_s: float) -> None:
        """Let the grease cool."""
        self.cold = 1.0 - (1.0 - self.cold) * exp(-away_s / 3000.0)

    def step(self, dt_s: float, on: bool, volts_share: float, load_share: float) -> None:
        """Move on.

        Args:
            dt_s: length of the step; a long one is taken to be steady unless the drive is not.
            on: the motor is switched on and supplied.
            volts_share: of the supply.
            load_share: torque that friction and whatever else would put on a turning ring, without drag.
        """
        facts = self.facts
        on = on and not self.dead
        self.cold *= exp(-dt_s / facts.drag_lag_s) if on else 1.0
        load_share += facts.drag_share * (1.0 + facts.cold_drag_share * self.cold)
        if dt_s <= 0.02 or not self._settle(dt_s, on, volts_share, load_share):
            count = int(dt_s / _MOST_STEP_S + 0.999)
            for _ in range(count):
                self._move(dt_s / count, on, volts_share, load_share)
        wanted = facts.current(self.torque_share, self.motor_share, volts_share) if on else 0.0
        self.current_share += (wanted - self.current_share) * (1.0 - exp(-dt_s / facts.current_lag_s))
        self.held_s = self.held_s + dt_s if on and self.ring_share < 0.05 else 0.0
        self.dead = self.dead or self.held_s > facts.cut_off_s

    def _settle(self, dt_s: float, on: bool, volts_share: float, load_share: float) -> bool:
        facts, limit = self.facts, min(0.95 * self.facts.peak_share, self.facts.belt_share)
        if not on:
            return self.ring_share == 0.0 and self.motor_share == 0.0
        if self.ring_share < 0.8 or load_share > limit or abs(self.ring_share - self.motor_share) > 1e-3:
            return False
        if facts.kind is DriveKind.BRUSHED_BARE:
            aim = (facts.peak_share * volts_share - load_share) / (facts.peak_share - facts.drag_share)
        elif facts.kind is DriveKind.INDUCTION_DIRECT:
            ratio = facts.peak_share * volts_share * volts_share / load_share
            if ratio <= 1.0:
                return False
            aim = (1.0 - facts.pull_out_slip * (ratio - sqrt(ratio * ratio - 1.0))) / (1.0 - facts.idle_slip)
        else:
            aim = 1.0 if facts.kind is DriveKind.BRUSHED_LIMITED else self._inverter_speed(load_share)
            self.integral, self.ramp_share = load_share, 1.0
        self.ring_share += (aim - self.ring_share) * (1.0 - exp(-dt_s / (0.1 + facts.accelerate_s)))
        self.motor_share, self.torque_share = self.ring_share, load_share
        return True

    def _inverter_speed(self, torque_share: float) -> float:
        return 1.0 - self.facts.full_slip * (torque_share - self.facts.drag_share)

    def _given(self, dt_s: float, volts_share: float) -> tuple[float, float]:
        facts, speed = self.facts, self.motor_share
        if facts.kind in (DriveKind.BRUSHED_BARE, DriveKind.INDUCTION_DIRECT):
            return facts.torque(speed, volts_share), facts.stiffness(speed)
        self.ramp_share = 1.0 if facts.ramp_s <= dt_s else min(1.0, self.ramp_share + dt_s / facts.ramp_s)
        limit = facts.peak_share * min(1.0, volts_share + 0.1)
        if facts.kind is DriveKind.INDUCTION_INVERTER:
            torque = facts.drag_share + (self.ramp_share - speed) / facts.full_slip
            return min(max(torque, 0.0), limit), 1.0 / facts.full_slip if torque < limit else 0.0
        wanted = facts.gain * (self.ramp_share - speed) + self.integral
        torque = min(max(wanted, 0.0), limit)
        if wanted == torque or (wanted > torque) == (speed > self.ramp_share):
            self.integral += dt_s * facts.integral_per_s * (self.ramp_share - speed)
        return torque, facts.gain if torque < limit else 0.0

    def _move(self, dt_s: float, on: bool, volts_share: float, load_share: float) -> None:
        facts = self.facts
        if on:
            torque, slope = self._given(dt_s, volts_share)
        else:
            torque, slope, self.ramp_share, self.integral = 0.0, 0.0, 0.0, 0.0
        self.torque_share = torque
        rate = dt_s / facts.accelerate_s
        slipping = abs(self.motor_share - self.ring_share) > 1e-9
        passed = load_share + 0.2 * (torque - load_share)
        if slipping or (abs(passed) > facts.belt_share and torque > 0.0):
            sign = 1.0 if self.motor_share >= self.ring_share else -1.0
            belt = sign * facts.belt_share
            ahead = self.motor_share - self.ring_share
            self.motor_share = max(0.0, self.motor_share + rate / 0.8 * (torque - belt) / (1.0 + rate / 0.8 * slope))
            self.ring_share = max(0.0, self.ring_share + rate / 0.2 * (belt - load_share))
            if slipping and (self.motor_share - self.ring_share) * ahead <= 0.0:
                self.ring_share = self.motor_share
        else:
            speed = self.motor_share + rate * (torque - load_share) / (1.0 + rate * slope)
            self.motor_share = self.ring_share = speed if speed > _STOPPED_SHARE or torque > load_share else 0.0
