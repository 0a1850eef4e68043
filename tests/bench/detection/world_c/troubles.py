"""Draws what goes wrong: damage and its forerunners, jams, abnormal heating, faults of sensors.

Sizes and times are plausible and invented where no source is named: no published distribution is known.
"""

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    RING_SPEED,
    Fault,
    Klass,
    Precursor,
)

from .contact import Damage
from .dice import Dice
from .heat import HeatTrouble
from .plan import FaultPlan, Rise, Trouble
from .rig import Rig

FAULTS = (
    Fault.STUCK,
    Fault.SATURATED,
    Fault.OPEN_THERMOCOUPLE,
    Fault.DROPOUT,
    Fault.DRIFT,
    Fault.SIGN_FLIP,
    Fault.TACHOMETER_LOST,
)
_LEADS_S = {Klass.SCUFFING_LONG: (15.0, 400.0), Klass.SCUFFING_SHORT: (1.0, 12.0), Klass.SEIZURE: (1.0, 60.0)}


def lead_s(dice: Dice, klass: Klass) -> float:
    """Give how long before the onset a precursor begins, s; 0 for none."""
    if klass is Klass.SCUFFING_WITH_FAULT or (klass is Klass.SEIZURE and dice.chance(0.5)):
        klass = dice.one_of((Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN))
    return dice.even_log(*_LEADS_S[klass]) if klass in _LEADS_S else 0.0


def scuffing(dice: Dice, klass: Klass, t_s: float, before_s: float) -> Trouble:
    """Give a scuffing at `t_s` with forerunners from `before_s` earlier, or a seizure."""
    precursor, first_s, creep = Precursor.NONE, t_s, 0.0
    rises: list[Rise] = []
    if before_s > 0.0:
        kinds = {
            Precursor.BURSTS: 0.4,
            Precursor.ONCE_PER_TURN: 0.2,
            Precursor.CREEP: 0.25,
            Precursor.MICRO_SCUFF: 0.15,
        }
        precursor, first_s = dice.weighed(kinds), t_s - before_s
        # What passes once a turn is eight times its mean at its height (see `grid.forerun`).
        creep = dice.flat(0.02, 0.09) if precursor is Precursor.ONCE_PER_TURN else dice.flat(0.12, 0.5)
        if precursor in (Precursor.BURSTS, Precursor.MICRO_SCUFF):
            creep = dice.flat(0.0, 0.1)
            rises = _bursts(dice, first_s, t_s, precursor)
    trebles = klass is Klass.SEIZURE or not dice.chance(1.0 / 7.0)
    sudden = before_s == 0.0
    return Trouble(
        t_s=t_s,
        first_s=first_s,
        precursor=precursor,
        rises=tuple(rises),
        creep_share=creep,
        damage=Damage(
            pace=1.0,
            overshoot=dice.flat(0.4, 2.2),
            final_ratio=dice.flat(3.6, 6.0) if trebles else dice.flat(1.8, 2.7),
            final_friction=dice.flat(0.25, 0.65) if trebles else 0.0,
            weld_per_s=dice.even_log(0.1, 2.0) if klass is Klass.SEIZURE else 0.0,
        ),
        severe_after_s=dice.even_log(0.1, 3.0) if sudden else dice.even_log(0.25, 18.0),
        chatter_share=dice.even_log(0.02, 0.3),
        # Sound has been found to go with friction either way (multi-signal study, Friction 3 (2015)).
        sound_db=dice.weighed({dice.flat(3.0, 18.0): 0.8, 0.0: 0.1, -dice.flat(2.0, 8.0): 0.1}),
        hand_off_s=dice.flat(5.0, 12.0) if dice.chance(1.0 / 3.0) else float("inf"),
    )


def _bursts(dice: Dice, first_s: float, t_s: float, precursor: Precursor) -> list[Rise]:
    """Give hot spots that come and go ever faster (three stages of Matsuzaki, Yagi, Sugimura, Tribol. Lett. 66 (2018)),
    or one small scuff that heals."""
    if precursor is Precursor.MICRO_SCUFF:
        return [Rise(first_s, dice.even_log(0.2, 1.5), dice.flat(0.4, 1.2), 0.05, dice.even_log(0.2, 2.0))]
    rises: list[Rise] = []
    at_s = first_s
    gap_s = min((t_s - first_s) / 5.0, dice.flat(2.0, 20.0))
    while at_s < t_s and len(rises) < 400:
        share = dice.flat(0.1, 0.45) * (1.0 + 0.5 * (at_s - first_s) / (t_s - first_s))
        rise = Rise(at_s, dice.even_log(0.05, 0.5), share, 0.01, dice.even_log(0.03, 0.3))
        rises.append(rise)
        left = max((t_s - at_s) / (t_s - first_s), 0.05)
        at_s += max(rise.length_s + 1.5 * rise.heal_s, gap_s * left * dice.even_log(0.4, 2.0))
    return rises


def jam(dice: Dice, t_s: float) -> Trouble:
    """Give a torque from outside the contact that comes within 10 to 300 ms, one in four within 3 s."""
    over_s = dice.even_log(0.3, 3.0) if dice.chance(0.25) else dice.even_log(0.01, 0.3)
    return Trouble(t_s, t_s, jam_share=dice.flat(8.0, 20.0), jam_over_s=over_s, hand_off_s=dice.flat(8.0, 90.0))


def overheat(dice: Dice, rig: Rig, t_s: float) -> Trouble:
    """Give an abnormal heating whose cause fits the rig."""
    causes = {HeatTrouble.COOLING: 0.4, HeatTrouble.HEATER: 1.0 if rig.heat.heated else 0.0, HeatTrouble.PIN_DRY: 0.4}
    cause = dice.weighed(causes)
    times = {HeatTrouble.COOLING: (150.0, 450.0), HeatTrouble.HEATER: (60.0, 400.0), HeatTrouble.PIN_DRY: (15.0, 200.0)}
    return Trouble(t_s, t_s, heat=cause, heat_within_s=dice.even_log(*times[cause]))


def sensor_fault(dice: Dice, rig: Rig, t_s: float, seed: int, spared: bool) -> FaultPlan:
    """Give a fault that the rig's channels can have: seven kinds in turn by the seed.

    Args:
        dice: draws.
        rig: whose channels.
        t_s: when it begins.
        seed: of the recording.
        spared: leave the current alone if there is another channel, as a scuffing must show somewhere.
    """
    channels = CHANNELS_OF[rig.channel_set]
    order = FAULTS[seed % len(FAULTS) :] + FAULTS[: seed % len(FAULTS)]
    for fault in order:
        able = [name for name in channels if _can(fault, name)]
        if spared and len(channels) > 1:
            able = [name for name in able if name != MOTOR_CURRENT or len(channels) > 2]
        if able:
            return FaultPlan(t_s, fault, dice.one_of(able), dice.even_log(0.1, 2.0), dice.whole(0, 3))
    raise ValueError(f"no fault fits {rig.channel_set}")


def _can(fault: Fault, name: str) -> bool:
    if fault is Fault.OPEN_THERMOCOUPLE:
        return name in (PIN_TEMPERATURE, BATH_TEMPERATURE)
    if fault is Fault.TACHOMETER_LOST:
        return name == RING_SPEED
    if fault is Fault.SIGN_FLIP:
        return name not in (PIN_TEMPERATURE, BATH_TEMPERATURE, "sound_level_db")
    return True
