"""The four drives: torque and current from speed and supply, one fine step at a time.

Reads a `Motor`, the speed and the supply; gives torque at the ring. State survives a call; `copy.copy` forks it.
"""

import math

from world_b.values import DriveKind

from .rig import Motor, Rig

DT_S = 0.005
"""The fine step; mechanical time constants are several times longer."""


class Brushed:
    """A brushed motor on a fixed voltage: torque falls linearly with speed, a hot winding gives less."""

    def __init__(self, motor: Motor, set_rad_s: float) -> None:
        self.current_a = 0.0
        self.hot = 0.0
        self._motor = motor
        self._a_per_nm = (motor.rated_a - motor.idle_a) / motor.rated_nm
        self._idle_rad_s = set_rad_s / (1.0 - motor.drag_nm / motor.stall_nm)

    def settle(self, motor_rad_s: float, torque_nm: float) -> None:
        """Take a run that has gone on for long as the state; nothing to remember here."""

    def pull(self, motor_rad_s: float, supply: float) -> float:
        """Give the torque, Nm, for a supply relative to nominal; 0 is switched off."""
        if supply <= 0.0:
            self.current_a = 0.0
            return 0.0
        stall_nm = self._motor.stall_nm / (1.0 + self._motor.warm_up * self.hot)
        torque_nm = max(0.0, stall_nm * (supply - motor_rad_s / self._idle_rad_s))
        self.current_a = self._motor.idle_a + self._a_per_nm * torque_nm
        return torque_nm


class Controlled:
    """A brushed or brushless motor on a speed controller: proportional and integral, torque limited, no braking."""

    def __init__(self, motor: Motor, set_rad_s: float) -> None:
        self.current_a = 0.0
        self.hot = 0.0
        self._motor = motor
        self._set_rad_s = set_rad_s
        self._a_per_nm = (motor.rated_a - motor.idle_a) / motor.rated_nm
        self._gain = motor.inertia_kgm2 * 2.0 * math.pi * motor.band_hz
        self._step_rad_s = set_rad_s * DT_S / motor.ramp_s if motor.ramp_s > 0.0 else math.inf
        self._asked_rad_s = 0.0
        self._integral_nm = 0.0

    def settle(self, motor_rad_s: float, torque_nm: float) -> None:
        """Take a run that has gone on for long as the state."""
        self._asked_rad_s, self._integral_nm = motor_rad_s, torque_nm

    def pull(self, motor_rad_s: float, supply: float) -> float:
        """Give the torque, Nm, for a supply relative to nominal; 0 is switched off."""
        if supply <= 0.0:
            self.current_a, self._integral_nm, self._asked_rad_s = 0.0, 0.0, motor_rad_s
            return 0.0
        self._asked_rad_s = min(self._set_rad_s, self._asked_rad_s + self._step_rad_s)
        most_nm = self._motor.stall_nm * min(1.0, 1.4 * supply)
        error_rad_s = self._asked_rad_s - motor_rad_s
        wanted_nm = self._gain * error_rad_s + self._integral_nm
        torque_nm = min(max(wanted_nm, 0.0), most_nm)
        if torque_nm == wanted_nm or (wanted_nm > most_nm) != (error_rad_s > 0.0):
            self._integral_nm += self._gain * error_rad_s * DT_S / self._motor.integral_s
        self.current_a = self._motor.idle_a * min(1.0, motor_rad_s / self._set_rad_s) + self._a_per_nm * torque_nm
        return torque_nm


class Mains:
    """An induction motor on the mains: torque by Kloss, current by slip, as a true-rms meter shows it."""

    METER_S = 0.06

    def __init__(self, motor: Motor, set_rad_s: float) -> None:
        self.current_a = 0.0
        self.hot = 0.0
        self._motor = motor
        self._tilt = motor.breakdown_slip**2
        idle_slip = motor.drag_nm * motor.breakdown_slip / (2.0 * motor.stall_nm)
        self._synchronous_rad_s = set_rad_s / (1.0 - idle_slip)

    def settle(self, motor_rad_s: float, torque_nm: float) -> None:
        """Take a run that has gone on for long as the state."""
        self.pull(motor_rad_s, 1.0)
        self.current_a /= DT_S / self.METER_S

    def pull(self, motor_rad_s: float, supply: float) -> float:
        """Give the torque, Nm, for a supply relative to nominal; 0 is switched off."""
        amount = DT_S / self.METER_S
        if supply <= 0.0:
            self.current_a -= amount * self.current_a
            return 0.0
        slip = 1.0 - motor_rad_s / self._synchronous_rad_s
        share = slip * slip * (1.0 + self._tilt) / (slip * slip + self._tilt)
        locked_a = self._motor.locked_a / (1.0 + self._motor.warm_up * self.hot)
        now_a = supply * math.sqrt(self._motor.idle_a**2 + (locked_a**2 - self._motor.idle_a**2) * share)
        self.current_a += amount * (now_a - self.current_a)
        breakdown = self._motor.breakdown_slip
        return 2.0 * self._motor.stall_nm * supply * supply * slip * breakdown / (slip * slip + self._tilt)


class Inverter:
    """An induction motor on an inverter: a ramped field, torque by slip, both limited by the inverter's current."""

    def __init__(self, motor: Motor, set_rad_s: float) -> None:
        self.current_a = 0.0
        self.hot = 0.0
        self._motor = motor
        self._nm_per_rad_s = motor.rated_nm / (motor.breakdown_slip * set_rad_s)
        self._field_rad_s = set_rad_s + motor.drag_nm / self._nm_per_rad_s
        self._step_rad_s = set_rad_s * DT_S / motor.ramp_s
        self._asked_rad_s = 0.0
        self._a_per_nm = math.sqrt(motor.rated_a**2 - motor.idle_a**2) / motor.rated_nm

    def settle(self, motor_rad_s: float, torque_nm: float) -> None:
        """Take a run that has gone on for long as the state."""
        self._asked_rad_s = self._field_rad_s

    def pull(self, motor_rad_s: float, supply: float) -> float:
        """Give the torque, Nm, for a supply relative to nominal; 0 is switched off."""
        if supply <= 0.0:
            self.current_a, self._asked_rad_s = 0.0, motor_rad_s
            return 0.0
        self._asked_rad_s = min(self._field_rad_s, self._asked_rad_s + self._step_rad_s)
        most_nm = self._motor.stall_nm * min(1.0, 1.4 * supply)
        torque_nm = min(max(self._nm_per_rad_s * (self._asked_rad_s - motor_rad_s), 0.0), most_nm)
        self.current_a = math.hypot(self._motor.idle_a, self._a_per_nm * torque_nm)
        return torque_nm


Drive = Brushed | Controlled | Mains | Inverter


def drive_of(rig: Rig) -> Drive:
    """Give the drive of a rig, at rest."""
    kinds: dict[DriveKind, type[Drive]] = {
        DriveKind.BRUSHED_BARE: Brushed,
        DriveKind.BRUSHED_LIMITED: Controlled,
        DriveKind.INDUCTION_DIRECT: Mains,
        DriveKind.INDUCTION_INVERTER: Inverter,
    }
    return kinds[rig.motor.kind](rig.motor, rig.set_rad_s)
