"""Drive of the simulated rig: a torque-speed curve with a breakdown torque, a rotor that can stop, its current.

Reads supply and resisting torque, gives ring speed and current.
"""

import math

from scuffwatch.sim.params import RigParams

_COARSE_RAD_S = 0.5
"""Speed change in one step above which the step is divided."""
_PARTS = 5
_INRUSH_SHARE = 0.5
_INRUSH_S = 0.030
RPM_PER_RAD_S = 30.0 / math.pi


class Motor:
    """An induction motor at the ring: torque after Kloss, stick at standstill, no reverse.

    What survives a call: speed, angle, time since the supply came.
    Source: Kloss's formula M = 2 Mk / (s/sk + sk/s) (from memory, any text on induction machines); the current is the
    same circuit's rotor current over a constant magnetising current.
    """

    __slots__ = (
        "_breakdown_slip",
        "_double_breakdown_nm",
        "_inertia_kg_m2",
        "_magnetising_squared",
        "_rotor_current_a",
        "_slip_squared",
        "_synchronous_rad_s",
        "_t_powered_s",
        "angle_rad",
        "speed_rad_s",
        "torque_nm",
    )

    def __init__(self, params: RigParams) -> None:
        self._breakdown_slip = params.breakdown_slip
        self._slip_squared = params.breakdown_slip**2
        self._double_breakdown_nm = 2.0 * params.breakdown_torque_nm
        self._inertia_kg_m2 = params.inertia_kg_m2
        self._synchronous_rad_s = params.synchronous_speed_rpm / RPM_PER_RAD_S
        self._magnetising_squared = params.magnetising_current_a**2
        rotor_squared = params.locked_current_a**2 - params.magnetising_current_a**2
        self._rotor_current_a = math.sqrt(rotor_squared * (1.0 + self._slip_squared))
        self._t_powered_s = 0.0
        self.speed_rad_s = 0.0
        self.angle_rad = 0.0
        self.torque_nm = 0.0

    def torque_at(self, speed_rad_s: float) -> float:
        """Give the torque of the supplied motor at a ring speed, N m."""
        slip = 1.0 - speed_rad_s / self._synchronous_rad_s
        return self._double_breakdown_nm * slip * self._breakdown_slip / (slip * slip + self._slip_squared)

    def current_at(self, speed_rad_s: float) -> float:
        """Give the current of the supplied motor at a ring speed, A rms, without the inrush."""
        slip_squared = (1.0 - speed_rad_s / self._synchronous_rad_s) ** 2
        rotor_squared = self._rotor_current_a**2 * slip_squared / (slip_squared + self._slip_squared)
        return math.sqrt(self._magnetising_squared + rotor_squared)

    def step(self, dt_s: float, powered: bool, resist_nm: float) -> float:
        """Let `dt_s` pass.

        Args:
            dt_s: step, s.
            powered: whether the contactor is closed and the starter in.
            resist_nm: torque against the motion while there is any, the most it can take while there is none.
        Returns:
            Motor current at the end of the step, A rms.
        """
        before = self.speed_rad_s
        torque = self.torque_at(before) if powered else 0.0
        gain_rad_s = (torque - resist_nm) * dt_s / self._inertia_kg_m2
        if -_COARSE_RAD_S < gain_rad_s < _COARSE_RAD_S:
            after = before + gain_rad_s
            self.speed_rad_s = after if after > 0.0 else 0.0
            self.angle_rad += 0.5 * (before + self.speed_rad_s) * dt_s
        elif before > 0.0 or gain_rad_s > 0.0:
            self._fine(dt_s / _PARTS, powered, resist_nm)
        self.torque_nm = self.torque_at(self.speed_rad_s) if powered else 0.0
        return self._current(dt_s, powered)

    def _fine(self, dt_s: float, powered: bool, resist_nm: float) -> None:
        for _ in range(_PARTS):
            before = self.speed_rad_s
            torque = self.torque_at(before) if powered else 0.0
            after = max(before + (torque - resist_nm) * dt_s / self._inertia_kg_m2, 0.0)
            self.angle_rad += 0.5 * (before + after) * dt_s
            self.speed_rad_s = after

    def _current(self, dt_s: float, powered: bool) -> float:
        if not powered:
            self._t_powered_s = 0.0
            return 0.0
        t_s = self._t_powered_s
        self._t_powered_s = t_s + dt_s
        current_a = self.current_at(self.speed_rad_s)
        return current_a if t_s > 10 * _INRUSH_S else current_a * (1.0 + _INRUSH_SHARE * math.exp(-t_s / _INRUSH_S))
