"""A drive in motion: ramp, speed controller, current limit. Reads speed and switch, gives torque."""

from world_b.values import DriveKind

from .drives import Drive
from .heat import STEP_S


class DriveState:
    """Holds what a drive remembers from step to step, and the slope and slip of the last step.

    Attributes:
        slope: of torque over speed, N m s, <= 0.
        slip: of a cage motor, rad/s.
    """

    def __init__(self, drive: Drive, running: bool, torque_nm: float) -> None:
        self.kind = drive.kind
        self.free, self.peak, self.pull_out = drive.free_speed_rad_s, drive.peak_torque_nm, drive.pull_out_rad_s
        self.gain, self.limit_slip = drive.gain_nm_s, drive.limit_slip_rad_s
        self.ramp = drive.ramp_rad_s2 * STEP_S
        self.reset = drive.gain_nm_s / drive.reset_s * STEP_S if drive.reset_s > 0.0 else 0.0
        self.command = self.free if running else 0.0
        self.integral = torque_nm if running and self.reset > 0.0 else 0.0
        self.slope = self.slip = 0.0

    def pull(self, speed: float, on: bool) -> float:
        """Give the torque at a speed in rad/s, N m."""
        self.slope = self.slip = 0.0
        if not on:
            self.command, self.integral = speed, 0.0
            return 0.0
        if self.kind is DriveKind.BRUSHED_BARE:
            self.slope = -self.peak / self.free
            return self.peak * (1.0 - speed / self.free)
        if self.kind is DriveKind.INDUCTION_DIRECT:
            return self._cage(self.free - speed, steep=True)
        self.command = min(self.command + self.ramp, self.free)
        if self.kind is DriveKind.BRUSHED_LIMITED:
            return self._controlled(self.command - speed)
        slip = self.command - speed
        if slip <= self.limit_slip:
            return self._cage(slip, steep=True)
        self.command = min(self.command, speed + 1.5 * self.limit_slip)
        return self._cage(self.limit_slip, steep=False)

    def _controlled(self, error: float) -> float:
        torque = self.gain * error + self.integral
        if torque >= self.peak:
            return self.peak
        if torque <= 0.0:
            return 0.0
        self.slope = -self.gain
        self.integral += self.reset * error
        return torque

    def _cage(self, slip: float, steep: bool) -> float:
        self.slip = slip
        square, top = slip * slip + self.pull_out * self.pull_out, 2.0 * self.peak * self.pull_out
        if steep:
            self.slope = min(-top * (self.pull_out * self.pull_out - slip * slip) / (square * square), 0.0)
        return top * slip / square
