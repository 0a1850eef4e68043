"""What is decided before a recording begins: hands, switches, damage, troubles, nuisances.

Reads nothing. All times in s on a clock that runs through, from the first row; no noise enters here.
"""

from dataclasses import dataclass
from math import inf, nan

from world_b.values import Fault, Nuisance, Precursor


@dataclass(frozen=True, slots=True)
class Hand:
    """One change of load.

    Attributes:
        t_s: it begins.
        load_n: on the contact afterwards.
        ramp_s: it takes.
        bounce_share, bounce_hz, bounce_s: of the change, ringing of the lever, and how fast that dies.
    """

    t_s: float
    load_n: float
    ramp_s: float
    bounce_share: float
    bounce_hz: float
    bounce_s: float


@dataclass(frozen=True, slots=True)
class Damage:
    """Scuffing or seizure.

    Attributes:
        first_s: the first sign.
        onset_s: it begins to grow for good.
        precursor: see `Precursor`.
        grow_s: from the onset until the force has tripled, or until it is nearly full grown where it never triples.
        plateau: coefficient when full grown, over the healthy one; infinite for a seizure, which holds the drive.
        manner: "steady", "steps", "late" or "healing".
        pin_share: of the damage that sits on the pin and so shows all around the turn.
        chatter_share, chatter_s: fast unrest of the damaged contact.
    """

    first_s: float
    onset_s: float
    precursor: Precursor
    grow_s: float
    plateau: float
    manner: str
    pin_share: float
    chatter_share: float
    chatter_s: float


@dataclass(frozen=True, slots=True)
class Jam:
    """A torque from outside that holds the ring: begins, takes `ramp_s` to grow to `strength` times what can turn."""

    t_s: float
    ramp_s: float
    strength: float


@dataclass(frozen=True, slots=True)
class HeatTrouble:
    """Abnormal heating: "cooling" lost, "heater" stuck on or contact "starved", by `strength` within about `lag_s`."""

    kind: str
    t_s: float
    strength: float
    lag_s: float


@dataclass(frozen=True, slots=True)
class SensorTrouble:
    """A sensor goes wrong for good; `strength` in 0 to 1 and `lag_s` say how, by kind."""

    fault: Fault
    channel: str
    t_s: float
    strength: float
    lag_s: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One recording, decided.

    Attributes:
        duration_s: without what is left out.
        mid_run: the motor has been turning at set speed before the first row, under the first load.
        loads_n: in the order set.
        hands: in order of time.
        switches: motor on and off, s, in order; off may be infinite.
        nights_s: where a day is left out, and how long that is, s.
        supply_lost: from and until; infinite where it does not come back.
        hand_off_s: the motor is switched off because of the damage.
        nuisances: in order of time.
    """

    duration_s: float
    mid_run: bool
    loads_n: tuple[float, ...]
    hands: tuple[Hand, ...]
    switches: tuple[tuple[float, float], ...]
    nights_s: tuple[tuple[float, float], ...] = ()
    damage: Damage | None = None
    jam: Jam | None = None
    heat: HeatTrouble | None = None
    sensor: SensorTrouble | None = None
    supply_lost: tuple[float, float] = (inf, inf)
    hand_off_s: float = nan
    nuisances: tuple[Nuisance, ...] = ()
