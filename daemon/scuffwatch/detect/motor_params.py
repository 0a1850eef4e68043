"""What is known of a motor, and the shares, ratios and delays with which it is judged.

Reads nothing. Gives the numbers to `MotorSigns` and `MotorWatch`.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.zero import zero_off
from scuffwatch.model.finding import Level

OFF_SHARE = 0.3
_UNKNOWN_OFF_A = 0.2
_UNKNOWN_TURNING_RPM = 4.0
_ANY_MOTORS_SHARE = 0.6
_ZERO_SHARE, _NO_RANGE_A = 0.02, 1e4
_LEAST_FORCE_N, _LEAST_FORCE_SHARE, _NO_RANGE_N = 5.0, 0.02, 1e9


@dataclass(frozen=True, slots=True)
class MotorParams:
    """What is known of the motor. Few numbers; the rest is learned from this rig's own healthy seconds.

    Attributes:
        speed_set_rpm: ring speed under test; NaN where it is not known, then the speed it settles at counts.
        no_load_current_a: current with the pin lifted; NaN where it is not known.
        current_limit_a: electronic current limit of the drive; infinite where there is none or it is not known.
        current_zero_a: how far the transducer's zero may be off; see `current_zero_a`.
        turning_rpm: above it the ring turns; NaN for 2 % of the set speed.
        speed_lost_level: of `speed_sensor_lost`.
        supply_lost_level: of `motor_supply_lost`. It is found only with a tachometer and where the contactor is
            known to be closed. NOTICE
            suits a rig whose stop button does not open the contactor: there a normal stop looks the same.
        arm_share, arm_s: the motor has started once its speed was at this share of the set speed for so long.
        stall_share: below this share of the set speed the ring is stalling.
        up_ratio: current above this multiple of its own mean speaks for a stall, with the speed.
        alone_ratio, alone_s: without a tachometer, current above this multiple for so long is a jam.
        unexplained_s: beside a tachometer the same, where friction is measured and does not explain the current.
        unanswered_s: the same beside one that has not given another value meanwhile: a drive may be speeding it up.
        friction_ratio: friction above this multiple of its own mean leads.
        friction_least_n: a friction force of less is no rubbing contact's; see `friction_least_n`.
        speed_lost_s: speed gone so long at unchanged current and friction is a lost sensor.
        supply_lost_s: current gone so long at a closed contactor is a lost supply.
        start_max_s: a motor that draws current and does not turn for so long is stalled.
        coast_s: without a tachometer the ring may turn so long after the current has gone.

    Shares, ratios and delays are this project's own choice; start_max_s and coast_s: common practice, no source.
    """

    speed_set_rpm: float = math.nan
    no_load_current_a: float = math.nan
    current_limit_a: float = math.inf
    current_zero_a: float = 0.0
    turning_rpm: float = math.nan
    speed_lost_level: Level = Level.TRIP
    supply_lost_level: Level = Level.WARN
    arm_share: float = 0.8
    arm_s: float = 1.0
    stall_share: float = 0.5
    up_ratio: float = 1.5
    alone_ratio: float = 2.0
    alone_s: float = 0.3
    unexplained_s: float = 0.15
    unanswered_s: float = 0.4
    friction_ratio: float = 1.5
    friction_least_n: float = _LEAST_FORCE_N
    speed_lost_s: float = 0.3
    supply_lost_s: float = 0.5
    start_max_s: float = 5.0
    coast_s: float = 2.0

    @property
    def off_current_a(self) -> float:
        """Give the current at or below which the motor is off, A: 30 % of no load, or 0.2 A where that is not known."""
        return OFF_SHARE * self.no_load_current_a if self.no_load_current_a > 0.0 else _UNKNOWN_OFF_A

    @property
    def any_motors_a(self) -> float:
        """Give the current below which no motor is switched on, A: 60 % of no load, NaN where that is not known.

        Between `off_current_a` and this it is a transducer's zero.
        """
        return _ANY_MOTORS_SHARE * self.no_load_current_a

    @property
    def zero_most_a(self) -> float:
        """Give the current up to which it may be a transducer's zero, beside a ring that stands, A."""
        any_a = self.any_motors_a
        return any_a if any_a > self.current_zero_a else self.current_zero_a

    @property
    def turning_above_rpm(self) -> float:
        """Give the speed above which the ring turns, r/min; 4 r/min where nothing is known."""
        if not math.isnan(self.turning_rpm):
            return self.turning_rpm
        return 0.02 * self.speed_set_rpm if self.speed_set_rpm > 0.0 else _UNKNOWN_TURNING_RPM


def friction_least_n(valid_n: tuple[float, float] | None) -> float:
    """Give the friction force below which no contact rubs, N: 5 N, or a fiftieth of the cell's range if that is less.

    Args:
        valid_n: lowest and highest valid force, N; None where they are not known.
    Source:
        common practice, no source.
    """
    return min(_LEAST_FORCE_N, zero_off(valid_n, _LEAST_FORCE_SHARE, _NO_RANGE_N) or _LEAST_FORCE_N)


def current_zero_a(valid_a: tuple[float, float] | None) -> float:
    """Give how far a current transducer's zero may be off, A: a fiftieth of its range, for it is made for the start.

    Args:
        valid_a: lowest and highest valid current, A; None where they are not known, which says nothing of the zero.
    Source:
        common practice, no source.
    """
    return zero_off(valid_a, _ZERO_SHARE, _NO_RANGE_A)
