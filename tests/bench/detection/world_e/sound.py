"""What there is to hear: the room, the rig, the contact, squeal, doors, voices, the neighbour; and the meter.

Reads dice, a rig, a plan and what turned, gives levels. Levels add as powers. Scuffing is louder as a rule, by much or
by little: emission and friction need not go together (DETECTION 1.2).
"""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import Flags, Floats, Kind

from .chance import STEP_S, Dice, between, lagged, one_of, scaled, wander, window
from .damage import Harm
from .plan import Plan
from .rig import Rig
from .turning import Turned


@dataclass(frozen=True, slots=True)
class Ear:
    """How a rig sounds.

    Attributes:
        contact_db: of the healthy contact under the most load, relative to the rig.
        gain_db: of a contact that is scuffed all over.
        speed_power: with which the rig's sound power grows with speed.
        others: (n,) power of everything that is not the rig, relative to 0 dB.
        tone: (n,) factor on the rig's power by squeal and stick-slip.
    """

    contact_db: float
    gain_db: float
    speed_power: float
    others: Floats
    tone: Floats

    def until(self, count: int) -> "Ear":
        """Give the first `count` samples."""
        return replace(self, others=self.others[:count], tone=self.tone[:count])


def draw_ear(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Ear:
    """Draw how the rig sounds and what else is to be heard, on the inner clock, (n,)."""
    count = len(t_s)
    quiet = _power(rig.sensing.quiet_db + 0.8 * wander(dice, count, 5.0))
    rig_db, tone = rig.sensing.rig_db, np.ones(count)
    for slam in plan.of(Kind.DOOR_SLAM):
        late_s = np.clip(t_s - slam.t_s, 0.0, None)
        quiet += (t_s >= slam.t_s) * _power(between(dice, 78.0, 100.0)) * np.exp(-late_s / (0.25 * slam.duration_s))
    for machine in plan.of(Kind.NEIGHBOUR):
        span = window(t_s, machine.t_s, machine.t_s + machine.duration_s, min(2.0, machine.duration_s / 3.0))
        quiet += span * _power(rig_db + between(dice, 0.0, 12.0) + 0.7 * wander(dice, count, 1.0))
    for talk in plan.of(Kind.VOICES):
        span = window(t_s, talk.t_s, talk.t_s + talk.duration_s, 0.3)
        quiet += span * _power(between(dice, 58.0, 74.0) + 7.0 * wander(dice, count, 0.25))
    for bout in plan.of(Kind.SQUEAL):
        span = window(t_s, bout.t_s, bout.t_s + bout.duration_s, min(0.5, bout.duration_s / 3.0))
        tone += span * _power(between(dice, 8.0, 24.0) + 2.5 * wander(dice, count, scaled(dice, 0.2, 3.0)))
    for bout in plan.of(Kind.STICK_SLIP):
        span = window(t_s, bout.t_s, bout.t_s + bout.duration_s, min(1.0, bout.duration_s / 3.0))
        tone += span * _power(between(dice, -3.0, 8.0) + 2.0 * wander(dice, count, 0.5))
    return Ear(
        contact_db=between(dice, -10.0, 3.0),
        gain_db=one_of(dice, (between(dice, 6.0, 20.0), between(dice, 1.0, 6.0)), (0.85, 0.15)),
        speed_power=between(dice, 2.0, 3.5),
        others=quiet,
        tone=tone,
    )


def level_db(rig: Rig, ear: Ear, turned: Turned, harm: Harm, on: Flags) -> Floats:
    """Give the level before the meter, (n,) dB."""
    motor = rig.motor
    pace = np.maximum(turned.motor_rad_s / motor.set_speed_rad_s, 0.0)
    full_w = rig.contact.film_mu * rig.most_load_n * rig.radius_m * motor.set_speed_rad_s
    rubbed = (turned.power_w(rig) / full_w).clip(0.0) ** 0.8
    torn = _power(ear.gain_db * np.sqrt(harm.spread)) * harm.lift**3 * (1.0 + 4.0 * harm.patch)
    hum = (
        0.08
        * on.astype(np.float64)
        * np.minimum(turned.current_a / max(motor.amps_per_nm * motor.rated_torque_nm, 1e-6), 3.0)
    )
    own = pace**ear.speed_power + hum + float(_power(np.float64(ear.contact_db))) * rubbed * torn
    turning = np.minimum(pace * 5.0, 1.0)
    own *= 1.0 + (ear.tone - 1.0) * turning
    return np.asarray(10.0 * np.log10(ear.others + own * 10.0 ** (rig.sensing.rig_db / 10.0)))


def metered_db(level: Floats, time_constant_s: float, fluctuation: Floats | None = None) -> Floats:
    """Give what a meter shows: powers averaged with an exponential of 0.125 or 1 s (IEC 61672-1).

    Args:
        level: (n,) dB on the inner clock.
        time_constant_s: of the meter.
        fluctuation: (n,) factors of mean 1 on the power, noise being noise; None for none.
    """
    power = 10.0 ** (level / 10.0)
    if fluctuation is not None:
        power = power * fluctuation
    return np.asarray(10.0 * np.log10(lagged(power, time_constant_s)))


def fluctuation(dice: Dice, count: int) -> Floats:
    """Give the power of noise of a few hundred hertz bandwidth in one inner step, relative to its mean, (count,)."""
    shape = 400.0 * STEP_S
    return np.asarray(dice.gamma(shape, 1.0 / shape, count))


def _power(level_db: Floats | float) -> Floats:
    return np.asarray(10.0 ** (np.asarray(level_db) / 10.0))
