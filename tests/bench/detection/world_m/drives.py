"""Four drives, all seen at the ring: torque and current from speed and supply.

Reads `world_b.values`. A drive keeps its controller's state; `supply` is 0 switched off, 1 full mains, less in a dip.
"""

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Protocol

from world_b.values import DriveKind

from world_m.streams import Stream, between, happens, log_between


class Drive(Protocol):
    """What the shaft sees of a motor.

    Attributes:
        peak_torque_nm: no resisting torque above it can be turned for long.
    """

    @property
    def peak_torque_nm(self) -> float: ...

    def step(self, speed_rad_s: float, supply: float, dt_s: float) -> tuple[float, float]:
        """Advance by dt_s; give torque at the ring in N m and motor current in A."""
        ...


@dataclass(slots=True)
class BareDc:
    """A brushed motor on a rectifier of fixed voltage: it droops with load and draws V / R at stall."""

    voltage_v: float
    resistance_ohm: float
    flux_v_s: float

    @property
    def peak_torque_nm(self) -> float:
        return self.flux_v_s * self.voltage_v / self.resistance_ohm

    def step(self, speed_rad_s: float, supply: float, dt_s: float) -> tuple[float, float]:
        if supply <= 0.0:
            return 0.0, 0.0
        current_a = max(0.0, (supply * self.voltage_v - self.flux_v_s * speed_rad_s) / self.resistance_ohm)
        return self.flux_v_s * current_a, current_a


@dataclass(slots=True)
class LimitedDc:
    """A brushed motor under a proportional-integral speed controller with a soft start and a current limit."""

    motor: BareDc
    limit_a: float
    set_rad_s: float
    gain_a_s: float
    integral_s: float
    ramp_s: float
    reference_rad_s: float = 0.0
    integral_a: float = 0.0

    @property
    def peak_torque_nm(self) -> float:
        return self.motor.flux_v_s * self.limit_a

    def step(self, speed_rad_s: float, supply: float, dt_s: float) -> tuple[float, float]:
        if supply <= 0.0:
            self.reference_rad_s, self.integral_a = speed_rad_s, 0.0
            return 0.0, 0.0
        self.reference_rad_s = min(self.set_rad_s, self.reference_rad_s + self.set_rad_s * dt_s / self.ramp_s)
        error = self.reference_rad_s - speed_rad_s
        asked_a = self.gain_a_s * error + self.integral_a
        room_a = (supply * self.motor.voltage_v - self.motor.flux_v_s * speed_rad_s) / self.motor.resistance_ohm
        current_a = max(0.0, min(asked_a, self.limit_a, room_a))
        if current_a == asked_a or error * asked_a < 0.0:
            self.integral_a += self.gain_a_s * error * dt_s / self.integral_s
        return self.motor.flux_v_s * current_a, current_a


@dataclass(slots=True)
class InductionDirect:
    """An induction motor on the mains after Kloss; its current lies on the circle that belongs to that curve."""

    synchronous_rad_s: float
    pull_out_nm: float
    pull_out_slip: float
    rotor_a: float
    magnetising_a: float

    @property
    def peak_torque_nm(self) -> float:
        return self.pull_out_nm

    def step(self, speed_rad_s: float, supply: float, dt_s: float) -> tuple[float, float]:
        if supply <= 0.0:
            return 0.0, 0.0
        slip = 1.0 - speed_rad_s / self.synchronous_rad_s
        both = slip * slip + self.pull_out_slip**2
        torque_nm = 2.0 * self.pull_out_nm * self.pull_out_slip * slip / both * supply * supply
        active_a = self.rotor_a * slip * self.pull_out_slip / both
        reactive_a = self.magnetising_a + self.rotor_a * slip * slip / both
        return torque_nm, supply * hypot(active_a, reactive_a)


@dataclass(slots=True)
class InductionInverter:
    """An induction motor on an inverter: ramp, torque limit by current, and where fed back a slow trim to set speed."""

    set_rad_s: float
    stiffness_nm_s: float
    limit_nm: float
    torque_per_a_nm: float
    magnetising_a: float
    ramp_s: float
    trim_1_s: float
    reference_rad_s: float = 0.0
    trim_rad_s: float = 0.0

    @property
    def peak_torque_nm(self) -> float:
        return self.limit_nm

    def step(self, speed_rad_s: float, supply: float, dt_s: float) -> tuple[float, float]:
        if supply <= 0.0:
            self.reference_rad_s, self.trim_rad_s = speed_rad_s, 0.0
            return 0.0, 0.0
        target_rad_s = self.set_rad_s + self.trim_rad_s
        climbed = self.reference_rad_s + self.set_rad_s * dt_s / self.ramp_s
        self.reference_rad_s = min(target_rad_s, climbed)
        limit_nm = self.limit_nm * supply
        torque_nm = (self.reference_rad_s - speed_rad_s) * self.stiffness_nm_s
        if torque_nm >= limit_nm:
            torque_nm = limit_nm
            self.reference_rad_s = speed_rad_s + limit_nm / self.stiffness_nm_s
        elif self.reference_rad_s == target_rad_s:
            wanted = self.trim_rad_s + self.trim_1_s * (self.set_rad_s - speed_rad_s) * dt_s
            self.trim_rad_s = max(-0.1 * self.set_rad_s, min(0.1 * self.set_rad_s, wanted))
        torque_nm = max(torque_nm, -0.1 * limit_nm)
        return torque_nm, hypot(self.magnetising_a, torque_nm / self.torque_per_a_nm)


@dataclass(frozen=True, slots=True)
class DriveNumbers:
    """A drive as it was bought, from which a fresh one is made for each run.

    Attributes:
        kind: see `DriveKind`.
        speed_rad_s: idle speed of the ring about which it was bought.
        need_nm: largest healthy torque at the ring, at a loaded start.
        reserve: peak torque over need.
        voltage_v: of the supply.
        efficiency: of the conversion, sets the current.
        ramp_s: of controller or inverter.
        softness: droop or slip at pull-out, meaning by kind.
        trim_1_s: of the inverter's feedback; 0 without.
    """

    kind: DriveKind
    speed_rad_s: float
    need_nm: float
    reserve: float
    voltage_v: float
    efficiency: float
    ramp_s: float
    softness: float
    trim_1_s: float

    def fresh(self) -> Drive:
        """Give the drive at rest."""
        peak_nm = self.need_nm * self.reserve
        if self.kind is DriveKind.BRUSHED_BARE:
            return self._brushed(peak_nm)
        if self.kind is DriveKind.BRUSHED_LIMITED:
            motor = self._brushed(2.5 * peak_nm)
            limit_a = peak_nm / motor.flux_v_s
            gain = limit_a / (self.softness * self.speed_rad_s)
            set_rad_s = 0.8 * self.speed_rad_s
            return LimitedDc(motor, limit_a, set_rad_s, gain, 0.4 + 4.0 * self.softness, self.ramp_s)
        if self.kind is DriveKind.INDUCTION_DIRECT:
            return self._induction(peak_nm)
        rated_nm = peak_nm / 1.6
        per_a_nm = self.efficiency * sqrt(3.0) * self.voltage_v / self.speed_rad_s
        stiffness = rated_nm / (0.25 * self.softness * self.speed_rad_s)
        magnetising_a = 0.5 * rated_nm / per_a_nm
        return InductionInverter(
            self.speed_rad_s, stiffness, peak_nm, per_a_nm, magnetising_a, self.ramp_s, self.trim_1_s
        )

    def _brushed(self, stall_nm: float) -> BareDc:
        flux_v_s = self.voltage_v / self.speed_rad_s
        return BareDc(self.voltage_v, flux_v_s * self.voltage_v / stall_nm, flux_v_s)

    def _induction(self, start_nm: float) -> InductionDirect:
        """Size by the torque at standstill, which is what a loaded start needs."""
        slip = self.softness
        pull_out_nm = start_nm * (1.0 + slip * slip) / (2.0 * slip)
        rated_a = pull_out_nm / 2.4 * self.speed_rad_s / (self.efficiency * sqrt(3.0) * self.voltage_v)
        rotor_a = 2.0 * 2.4 * rated_a * self.efficiency * 1.1
        return InductionDirect(self.speed_rad_s, pull_out_nm, slip, rotor_a, 0.45 * rated_a)


def draw_drive(rng: Stream, kind: DriveKind, speed_rad_s: float, need_nm: float) -> DriveNumbers:
    """Draw what was bought for a ring of that speed and need."""
    brushed = kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    reserve = {
        DriveKind.BRUSHED_BARE: log_between(rng, 2.6, 7.0),
        DriveKind.BRUSHED_LIMITED: log_between(rng, 1.35, 4.5),
        DriveKind.INDUCTION_DIRECT: log_between(rng, 1.2, 2.2),
        DriveKind.INDUCTION_INVERTER: log_between(rng, 1.35, 4.5),
    }[kind]
    softness = {
        DriveKind.BRUSHED_BARE: 1.0,
        DriveKind.BRUSHED_LIMITED: between(rng, 0.06, 0.25),
        DriveKind.INDUCTION_DIRECT: between(rng, 0.15, 0.4),
        DriveKind.INDUCTION_INVERTER: between(rng, 0.15, 0.35),
    }[kind]
    strong = need_nm * speed_rad_s > 80.0
    direct_v = [48.0, 110.0, 180.0] if strong else [12.0, 24.0, 24.0, 48.0]
    voltage_v = float(rng.choice(direct_v if brushed else ([230.0, 400.0] if strong else [230.0])))
    trim_1_s = between(rng, 0.2, 1.0) if happens(rng, 0.4) else 0.0
    efficiency, ramp_s = between(rng, 0.5, 0.85), log_between(rng, 0.3, 8.0)
    return DriveNumbers(kind, speed_rad_s, need_nm, reserve, voltage_v, efficiency, ramp_s, softness, trim_1_s)
