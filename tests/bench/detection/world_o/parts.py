"""Values of this world: what a rig is made of and the tracks its plan lays down.  Reads nothing."""

from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.random import Generator
from world_b.values import DriveKind, Fault, Floats, Klass, Nuisance, Precursor, Tachometer

CORE_DT_S = 0.01
"""Step of contact and mechanics; the same at every rate asked for, so that the truth is the same as well."""


class Mechanism(Enum):
    """What random process the contact follows."""

    WELL = "film state in a potential with two wells"
    CUSP = "two wells with heat fed back and healing"
    SECTORS = "coupled two-well patches round the ring"
    CASCADE = "asperity events that beget events"


class Noise(Enum):
    """What shakes the film state."""

    WHITE = "white"
    COLOURED = "coloured"
    HEAVY = "heavy tails"
    MULTIPLICATIVE = "grows with the state"


class Cause(Enum):
    """Why a rig overheats."""

    HEATER_STUCK = "heater stuck on"
    COOLING_LOST = "cooling water lost"
    OIL_LOW = "oil runs low at the pin"


@dataclass(frozen=True, slots=True)
class Contact:
    """Numbers of pin, ring and film."""

    mechanism: Mechanism
    noise: Noise
    mu_healthy: float
    mu_scuffed: float
    unrest_ratio: float
    return_s: float
    growth_s: float
    tilt_rest: float
    tilt_per_load: float
    stribeck_gain: float
    stribeck_ratio: float
    sectors_count: int
    pin_turns: float
    run_out_ratio: float

    @property
    def span(self) -> float:
        """Give the logarithm of scuffed over healthy friction."""
        return float(np.log(self.mu_scuffed / self.mu_healthy))


@dataclass(frozen=True, slots=True)
class Drive:
    """Motor, belt and bearings, all seen at the ring."""

    kind: DriveKind
    belt: bool
    speed_rad_s: float
    stall_nm: float
    peak_nm: float
    belt_nm: float
    drag_nm: float
    inertia_kgm2: float
    motor_inertia_kgm2: float
    a_per_nm: float
    idle_a: float
    locked_a: float
    slip_at_peak: float
    ramp_s: float


@dataclass(frozen=True, slots=True)
class Thermal:
    """Heat balance of oil bath and pin."""

    ambient_degc: float
    start_degc: float
    bath_j_per_k: float
    bath_w_per_k: float
    heater_w: float
    set_degc: float
    pin_k_per_w: float
    pin_s: float
    margin_k: float


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig."""

    radius_m: float
    speed_rpm: float
    contact: Contact
    drive: Drive
    thermal: Thermal
    tachometer: Tachometer
    pulses_per_turn: int
    tachometer_on_motor: bool


@dataclass(slots=True)
class Plan:
    """What is going to be done and to happen, on the clock of the core.

    Attributes:
        steps: time and load of every weight set.
        event_s: when damage, jam, fault of cooling or lost supply begins; NaN where none does.
        ramp_s: how long damage takes from its begin to about the tipping.
        off: motor pauses as (begin, end).
        free_until_s: nothing mechanical of a nuisance after this.
        listed: healthy nuisances with a name in `Kind`.
        night_s, night_lasts_s: when a day passes between two rows, and how long by the logger's clock.
        oddities: healthy things nobody lists, as (name, begin, duration, size).
    """

    klass: Klass
    length_s: float
    steps: list[tuple[float, float]]
    start_s: float
    event_s: float
    ramp_s: float
    tail_s: float
    precursor: Precursor
    free_until_s: float
    off: list[tuple[float, float]] = field(default_factory=list)
    listed: list[Nuisance] = field(default_factory=list)
    oddities: list[tuple[str, float, float, float]] = field(default_factory=list)
    fault: Fault | None = None
    fault_s: float = float("nan")
    night_s: float = float("nan")
    night_lasts_s: float = 0.0
    cause: Cause | None = None

    def stamped_s(self, t_s: float) -> float:
        """Give a time of the core on the clock of the stamps."""
        return t_s + self.night_lasts_s if t_s >= self.night_s else t_s


@dataclass(slots=True)
class Tracks:
    """Everything imposed from outside, (n,) each on the core's clock."""

    t_s: Floats
    load_n: Floats
    on_ratio: Floats
    supply_ratio: Floats
    outer_nm: Floats
    film_ratio: Floats
    wave_ratio: Floats
    flick_log: Floats
    bath_w: Floats
    lean_n: Floats


KLASSES = tuple(Klass)


def stream(seed: int, klass: Klass, name: str, attempt: int = 0) -> Generator:
    """Give a random stream of its own for one purpose of one recording."""
    return np.random.default_rng(
        [seed & 0xFFFFFFFF, seed >> 32 & 0xFFFFFFFF, KLASSES.index(klass), attempt, *name.encode()]
    )


def log_uniform(rng: Generator, low: float, high: float) -> float:
    """Draw a number whose logarithm is uniform between two positive bounds."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
