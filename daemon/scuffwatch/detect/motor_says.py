"""What `MotorWatch` says: its findings with evidence and sentence.

Reads the signs of one slice, gives findings.
"""

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.motor_signs import MotorSigns
from scuffwatch.detect.speed_swings import FALLS_TO
from scuffwatch.detect.words import bare, number, quantity
from scuffwatch.model.channel import MOTOR_CURRENT, RING_SPEED
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.signals.friction import FRICTION_COEFFICIENT


def held_still(t_rig_s: float, signs: MotorSigns, params: MotorParams, low_rpm: float) -> Finding:
    """Give STALL where friction led, else JAM: the motor is held still under current."""
    by_speed, by_friction = signs.speed_rpm < low_rpm, signs.is_against_friction
    beyond = not by_speed and not by_friction and signs.speed_rpm == signs.speed_rpm
    led = signs.friction.has_led or (signs.friction.explains and not beyond)
    kind, cause = (FindingKind.STALL, "Stall") if led else (FindingKind.JAM, "Jam")
    evidence: list[Evidence] = []
    says = f"{cause}: "
    if by_speed:
        evidence.append(Evidence(RING_SPEED, signs.speed_rpm, low_rpm, "r/min"))
        says += f"ring speed {quantity(RING_SPEED, signs.speed_rpm)}, limit {number(low_rpm, 0)}"
        if signs.current_a == signs.current_a:
            limit_a = params.up_ratio * signs.usual_current_a.value
            evidence.append(Evidence(MOTOR_CURRENT, signs.current_a, limit_a, "A"))
            says += f", and motor current {quantity(MOTOR_CURRENT, signs.current_a)}"
    else:
        limit_a = signs.against_limit_a if by_friction else min(signs.alone_limit_a, 0.95 * params.current_limit_a)
        evidence.append(Evidence(MOTOR_CURRENT, signs.current_a, limit_a, "A"))
        high = f"motor current {quantity(MOTOR_CURRENT, signs.current_a)}, limit {bare(MOTOR_CURRENT, limit_a)}"
        if by_friction:
            says += f"{high}, while friction has fallen"
        elif beyond and signs.friction.explains:
            says += f"{high}, far more than friction explains"
        elif beyond:
            says += f"{high}, which friction does not explain"
        else:
            says = f"{cause}, by current alone: {high}"
    if led:
        friction = signs.friction
        value, limit, when = friction.led, params.friction_ratio * friction.usual.value, "before"
        if not friction.has_led:
            value, limit, when = friction.now, friction.explains_limit, "beside it"
        is_coefficient = friction.name == FRICTION_COEFFICIENT
        evidence.append(Evidence(friction.name, value, limit, "" if is_coefficient else "N"))
        words = "friction coefficient" if is_coefficient else "friction force"
        says += f"; {words} {quantity(friction.name, value)} {when}"
    channels = tuple(item.name for item in evidence)
    return Finding(kind, Level.TRIP, t_rig_s, channels, tuple(evidence), says + ".")


def not_started(t_rig_s: float, signs: MotorSigns, params: MotorParams, waited_s: float) -> Finding:
    """Give STALL at start: current flows and the ring does not turn, or the current does not fall as it would then."""
    if signs.speed_rpm != signs.speed_rpm:
        limit_a = signs.held_at_least_a
        says = (
            f"Stall at start, by current alone: motor current {quantity(MOTOR_CURRENT, signs.current_a)}, "
            f"limit {bare(MOTOR_CURRENT, limit_a)}, and it has not fallen for {number(waited_s, 1)} s."
        )
        current = Evidence(MOTOR_CURRENT, signs.current_a, limit_a, "A")
        return Finding(FindingKind.STALL, Level.TRIP, t_rig_s, (MOTOR_CURRENT,), (current,), says)
    limit_rpm = params.turning_above_rpm
    says = (
        f"Stall at start: ring speed {quantity(RING_SPEED, signs.speed_rpm)} after {number(waited_s, 1)} s, "
        f"limit {number(limit_rpm, 0)}, and motor current {quantity(MOTOR_CURRENT, signs.current_a)}."
    )
    evidence = (
        Evidence(RING_SPEED, signs.speed_rpm, limit_rpm, "r/min"),
        Evidence(MOTOR_CURRENT, signs.current_a, signs.off_current_a, "A"),
    )
    return Finding(FindingKind.STALL, Level.TRIP, t_rig_s, (RING_SPEED, MOTOR_CURRENT), evidence, says)


def speed_sensor_lost(t_rig_s: float, signs: MotorSigns, params: MotorParams, low_rpm: float) -> Finding:
    """Give SPEED_SENSOR_LOST: no speed while the motor runs on as before."""
    says = (
        f"Speed sensor lost: ring speed {quantity(RING_SPEED, signs.speed_rpm)}, limit {number(low_rpm, 0)}, "
        f"and motor current {quantity(MOTOR_CURRENT, signs.current_a)}, as when it runs."
    )
    friction = signs.friction
    if friction.now == friction.now and not signs.is_unloaded and not friction.rubs:
        says = f"{says[:-1]}; nothing rubs under the load either, so the ring may stand: look at belt and coupling."
    evidence = (
        Evidence(RING_SPEED, signs.speed_rpm, low_rpm, "r/min"),
        Evidence(MOTOR_CURRENT, signs.current_a, signs.usual_current_a.value, "A"),
    )
    channels = (RING_SPEED, MOTOR_CURRENT)
    return Finding(FindingKind.SPEED_SENSOR_LOST, params.speed_lost_level, t_rig_s, channels, evidence, says)


def swinging_speed(t_rig_s: float, low_rpm: float, high_rpm: float) -> Finding:
    """Give the sensor fault of a tachometer whose value swings while the motor's current is steady."""
    says = (
        f"Sensor fault: ring speed swings between {number(low_rpm, 0)} and {quantity(RING_SPEED, high_rpm)} "
        "at a steady motor current; it is not believed."
    )
    evidence = (Evidence(RING_SPEED, low_rpm, FALLS_TO * high_rpm, "r/min"),)
    return Finding(FindingKind.SENSOR_FAULT, Level.WARN, t_rig_s, (RING_SPEED,), evidence, says)


def supply_lost(t_rig_s: float, signs: MotorSigns, params: MotorParams) -> Finding:
    """Give MOTOR_SUPPLY_LOST: current and speed gone at a closed contactor."""
    off_a = signs.off_current_a
    evidence = (
        Evidence(MOTOR_CURRENT, signs.current_a, off_a, "A"),
        Evidence(RING_SPEED, signs.speed_rpm, signs.usual_speed_rpm.value, "r/min"),
    )
    says = (
        f"Motor supply lost: motor current {quantity(MOTOR_CURRENT, signs.current_a)}, "
        f"limit {bare(MOTOR_CURRENT, off_a)}, "
        f"and ring speed {quantity(RING_SPEED, signs.speed_rpm)} with the contactor closed."
    )
    channels = (MOTOR_CURRENT, RING_SPEED)
    return Finding(FindingKind.MOTOR_SUPPLY_LOST, params.supply_lost_level, t_rig_s, channels, evidence, says)
