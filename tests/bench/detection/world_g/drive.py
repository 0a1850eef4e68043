"""Torque and current of the four kinds of motor. Holds the state of one drive; `turning` goes on with its speed."""

import math

from world_b.values import DriveKind

from .chance import STEP_S
from .rig import Motor


class Drive:
    """A motor's state; `pull` gives (torque N m, current A, slope N m s) at a speed."""

    __slots__ = ("ceiling", "kept_nm", "motor", "pull", "set_rad_s", "was_on")

    def __init__(self, motor: Motor) -> None:
        self.motor = motor
        self.kept_nm, self.set_rad_s, self.was_on = 0.0, 0.0, False
        self.ceiling = motor.ideal_rad_s
        self.pull = {
            DriveKind.BRUSHED_BARE: self._bare,
            DriveKind.BRUSHED_LIMITED: self._controlled,
            DriveKind.INDUCTION_DIRECT: self._on_mains,
            DriveKind.INDUCTION_INVERTER: self._on_inverter,
        }[motor.kind]

    def off(self) -> None:
        self.was_on, self.kept_nm, self.set_rad_s = False, 0.0, 0.0

    def _ramp(self, speed: float) -> None:
        if not self.was_on:
            self.was_on, self.set_rad_s, self.kept_nm = True, speed, 0.0
        if self.set_rad_s < self.ceiling:
            self.set_rad_s = min(self.ceiling, self.set_rad_s + self.ceiling / self.motor.ramp_s * STEP_S)

    def _bare(self, speed: float, supply: float) -> tuple[float, float, float]:
        motor = self.motor
        slope = motor.most_torque_nm / motor.ideal_rad_s
        torque = max(supply * motor.most_torque_nm - slope * speed, 0.0)
        return torque, torque / motor.nm_per_a, slope if torque > 0.0 else 0.0

    def _controlled(self, speed: float, supply: float) -> tuple[float, float, float]:
        motor = self.motor
        self._ramp(speed)
        error, most = self.set_rad_s - speed, motor.most_torque_nm * supply
        asked = motor.gain_nms * error + self.kept_nm
        torque = min(max(asked, 0.0), most)
        if torque == asked or (asked > most) != (error > 0.0):
            self.kept_nm += motor.gain_nms / motor.reset_s * error * STEP_S
        return torque, torque / motor.nm_per_a, motor.gain_nms if torque == asked else 0.0

    def _on_mains(self, speed: float, supply: float) -> tuple[float, float, float]:
        motor = self.motor
        if supply <= 0.0:
            return 0.0, 0.0, 0.0
        x = max(1.0 - speed / motor.ideal_rad_s, 0.0) / motor.pull_out_slip
        most, square = motor.most_torque_nm * supply * supply, 1.0 + x * x
        torque = most * (1.5 * x / square + 0.25 * min(x, 1.0))
        rotor_a = 2.0 * motor.most_torque_nm / motor.nm_per_a * supply * x / math.sqrt(square)
        slope = 1.75 * most / (motor.pull_out_slip * motor.ideal_rad_s) if x < 1.0 else 0.0
        return torque, math.hypot(motor.magnetising_a * supply, rotor_a), slope

    def _on_inverter(self, speed: float, supply: float) -> tuple[float, float, float]:
        motor = self.motor
        if supply <= 0.3:
            return 0.0, 0.0, 0.0
        self._ramp(speed)
        slope = motor.most_torque_nm / (motor.pull_out_slip * motor.ideal_rad_s)
        asked = slope * (self.set_rad_s - speed)
        torque = min(max(asked, 0.0), motor.most_torque_nm)
        current = math.hypot(motor.magnetising_a, torque / motor.nm_per_a)
        return torque, current, slope if torque == asked else 0.0
