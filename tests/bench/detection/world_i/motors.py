"""What turns the ring: six motors, each as torque and current over speed, both seen at the ring.

Electrical transients are taken as settled (they last a few ms); what a controller remembers is kept in the object.
Every motor offers `pull(speed, dt, supply)` giving torque in N m, its slope over speed in N m s (never positive) and
the current in A. `supply` is 0 when switched off, 1 on full mains, between in a dip.
"""

import math
from dataclasses import dataclass, replace

Pull = tuple[float, float, float]


@dataclass(slots=True)
class PermanentMagnet:
    """Direct current motor with magnets on a fixed voltage: torque falls in a straight line with speed."""

    max_torque_nm: float
    free_speed_rad_s: float
    amps_per_nm: float

    def pull(self, speed_rad_s: float, dt_s: float, supply: float) -> Pull:
        """Give torque, slope and current; switched off, the circuit is open."""
        if supply <= 0.0:
            return 0.0, 0.0, 0.0
        torque = self.max_torque_nm * max(supply - speed_rad_s / self.free_speed_rad_s, 0.0)
        return torque, -self.max_torque_nm / self.free_speed_rad_s, torque * self.amps_per_nm


@dataclass(slots=True)
class SpeedLoop:
    """The same motor behind a proportional-integral speed loop with a current limit and a ramp at the start."""

    max_torque_nm: float
    set_speed_rad_s: float
    amps_per_nm: float
    gain_nm_s: float
    integral_gain_nm: float
    ramp_s: float
    asked_rad_s: float = 0.0
    held_nm: float = 0.0

    def pull(self, speed_rad_s: float, dt_s: float, supply: float) -> Pull:
        """Give torque, slope and current; the integral stands still at the limits."""
        if supply <= 0.05:
            self.asked_rad_s, self.held_nm = 0.0, 0.0
            return 0.0, 0.0, 0.0
        self.asked_rad_s = min(self.asked_rad_s + self.set_speed_rad_s * dt_s / self.ramp_s, self.set_speed_rad_s)
        limit = self.max_torque_nm * min(supply * 1.3, 1.0)
        error = self.asked_rad_s - speed_rad_s
        wanted = self.gain_nm_s * error + self.held_nm
        if wanted >= limit:
            return limit, 0.0, limit * self.amps_per_nm
        self.held_nm = min(max(self.held_nm + self.integral_gain_nm * error * dt_s, 0.0), limit)
        torque = max(wanted, 0.0)
        return torque, -self.gain_nm_s if torque > 0 else 0.0, torque * self.amps_per_nm


@dataclass(slots=True)
class Universal:
    """Series-wound motor on the mains: current falls with speed, torque goes with its square."""

    max_torque_nm: float
    half_current_speed_rad_s: float
    max_current_a: float

    def pull(self, speed_rad_s: float, dt_s: float, supply: float) -> Pull:
        """Give torque, slope and current (effective value)."""
        share = supply / (1.0 + speed_rad_s / self.half_current_speed_rad_s)
        torque = self.max_torque_nm * share * share
        slope = -2.0 * torque / (self.half_current_speed_rad_s + speed_rad_s)
        return torque, slope, self.max_current_a * share


@dataclass(slots=True)
class Induction:
    """Cage motor straight on the mains: Kloss's curve, with a cage whose resistance grows with slip."""

    max_torque_nm: float
    synchronous_rad_s: float
    breakdown_slip: float
    magnetising_a: float
    breakdown_a: float
    deep_bar: float

    def pull(self, speed_rad_s: float, dt_s: float, supply: float) -> Pull:
        """Give torque, slope and current (effective value of one phase).

        Source: T = 2 Tb / (s / sb + sb / s), M. Kloss 1890, as in any textbook of electrical machines.
        """
        if supply <= 0.02:
            return 0.0, 0.0, 0.0
        slip = 1.0 - speed_rad_s / self.synchronous_rad_s
        ratio = slip / (self.breakdown_slip * (1.0 + self.deep_bar * max(slip, 0.0)))
        scale = supply * supply * 2.0 * self.max_torque_nm / (1.0 + ratio * ratio)
        rotor_a = self.breakdown_a * 1.4142 * abs(ratio) / math.sqrt(1.0 + ratio * ratio)
        current = supply * math.hypot(self.magnetising_a, rotor_a)
        slope = -scale / (self.breakdown_slip * self.synchronous_rad_s) if ratio < 0.8 else 0.0
        return scale * ratio, slope, current


@dataclass(slots=True)
class Inverter:
    """Cage motor on a frequency inverter: ramp, part of the slip made good after a delay, torque held at a limit."""

    max_torque_nm: float
    set_speed_rad_s: float
    slip_per_nm_rad_s: float
    magnetising_a: float
    amps_per_nm: float
    ramp_s: float
    compensation: float
    delay_s: float
    asked_rad_s: float = 0.0
    added_rad_s: float = 0.0

    def pull(self, speed_rad_s: float, dt_s: float, supply: float) -> Pull:
        """Give torque, slope and current; on the straight part of the curve, below the limit."""
        if supply <= 0.3:
            self.asked_rad_s, self.added_rad_s = 0.0, 0.0
            return 0.0, 0.0, 0.0
        self.asked_rad_s = min(self.asked_rad_s + self.set_speed_rad_s * dt_s / self.ramp_s, self.set_speed_rad_s)
        if self.asked_rad_s < 0.5 * speed_rad_s:
            self.asked_rad_s = speed_rad_s
        wanted = (self.asked_rad_s + self.added_rad_s - speed_rad_s) / self.slip_per_nm_rad_s
        torque = min(max(wanted, 0.0), self.max_torque_nm)
        aim = self.compensation * torque * self.slip_per_nm_rad_s
        self.added_rad_s += (aim - self.added_rad_s) * min(dt_s / self.delay_s, 1.0)
        slope = -1.0 / self.slip_per_nm_rad_s if 0.0 < wanted < self.max_torque_nm else 0.0
        return torque, slope, math.hypot(self.magnetising_a, self.amps_per_nm * torque)


def locked_current_a(motor: "Motor") -> float:
    """Give the current with the ring held, once ramps and integrals have run out."""
    held, current_a = replace(motor), 0.0
    for _ in range(2000):
        current_a = held.pull(0.0, 0.01, 1.0)[2]
    return current_a


Motor = PermanentMagnet | SpeedLoop | Universal | Induction | Inverter
