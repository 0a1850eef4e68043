"""What is drawn before anything is painted: a rig, its day's plan, what happens to it.

Reads nothing. Every value is frozen; times are s on the clock without breaks, from the first row.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from world_b.values import NAN, ChannelSet, DriveKind, Fault, Kind, Klass, Precursor, Tachometer

from world_n.names import Cause, LoadReading, Oddity, Shape


@dataclass(frozen=True, slots=True)
class Drive:
    """Motor and tachometer; currents in A, torques seen at the ring.

    `full_torque_nm` is the rig's yardstick: largest load at a coefficient of 0.4. `gain` is the rise of the current
    there over `no_load_a`, `droop` the loss of speed there. `squared`: the parts add as squares.
    """

    kind: DriveKind
    speed_rpm: float
    start_s: float
    coast_s: float
    no_load_a: float
    gain: float
    squared: bool
    lock_a: float
    droop: float
    droop_lag_s: float
    drag_nm: float
    full_torque_nm: float
    cold_share: float
    cold_tau_s: float
    belt: bool
    tachometer: Tachometer
    pulses_per_turn: int
    tachometer_on_motor: bool
    gate_s: float


@dataclass(frozen=True, slots=True)
class Contact:
    """Lever, ring and pin. Shares are without unit; `ripple` of the load once and twice a turn."""

    diameter_mm: float
    largest_load_n: float
    coefficient: float
    load_exponent: float
    start_rise: float
    film_share: float
    film_tau_s: float
    wander_share: float
    wander_spacing_s: float
    standstill_share: float
    settle_s: float
    bounce_hz: float
    bounce_s: float
    bounce_share: float
    ripple: tuple[float, float]
    ripple_phase: float
    seed: int


@dataclass(frozen=True, slots=True)
class Heat:
    """Temperatures in degC, rises in K, lags in s; `pin_rise_k` at the rig's ordinary coefficient, largest load."""

    ambient_degc: float
    bath_first_degc: float
    bath_last_degc: float
    bath_tau_s: float
    thermostat_k: float
    thermostat_s: float
    friction_rise_k: float
    friction_tau_s: float
    pin_rise_k: float
    pin_tau_s: float
    pin_gap_k: float
    bath_gap_k: float
    bath_capacity_j_k: float
    bath_loss_w_k: float
    seed: int


@dataclass(frozen=True, slots=True)
class Sound:
    """Levels in dB; `echo_db` per doubling of friction."""

    room_db: float
    machine_db: float
    echo_db: float
    meter_lag_s: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One column of the logger.

    Attributes:
        relative, absolute: unrest as a share of the value and in the channel's unit.
        smooth_share: 0..1 of that which is slow; knots every `spacing_s`.
        step: resolution, in the channel's unit.
        hold_s: the column is renewed this often; 0 for every row.
        delay_s: it comes late.
        lag_s: first-order lag of a thermocouple, bath or pin.
    """

    relative: float
    absolute: float
    smooth_share: float
    spacing_s: float
    step: float
    hold_s: float = 0.0
    delay_s: float = 0.0
    lag_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Rig:
    """All that stays the same through a recording."""

    drive: Drive
    contact: Contact
    heat: Heat
    sound: Sound
    readings: Mapping[str, Reading]
    load_reading: LoadReading
    lever_error: float
    zero_n: float
    signed_current: bool
    channel_set: ChannelSet


@dataclass(frozen=True, slots=True)
class Step:
    """A change of load at `t_s`; `film` is the share by which friction is off at first; `listed` in the plan."""

    t_s: float
    load_n: float
    settle_s: float
    bounce_share: float
    film: float = 0.0
    listed: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """One healthy thing: `size` 0..1 says how much of it, `seed` paints its details."""

    kind: Kind | Oddity
    t_s: float
    duration_s: float
    size: float
    seed: int


@dataclass(frozen=True, slots=True)
class Event:
    """The one thing a recording of an unhealthy class is about.

    Attributes:
        start_s: scuffing begins to grow, jam torque begins, supply goes, or the heating begins.
        precursor_s: first precursor damage; NaN without one.
        hold_s, hold_length_s: the ring begins to be held, and how long until it stands; NaN where it never is.
        heat_length_s: from the cause to the limit.
    """

    klass: Klass
    start_s: float
    seed: int
    shape: Shape = Shape.STEP
    rise_s: float = NAN
    coefficient: float = NAN
    unrest: float = 0.0
    precursor: Precursor = Precursor.NONE
    precursor_s: float = NAN
    precursor_size: float = 0.0
    hold_s: float = NAN
    hold_length_s: float = NAN
    belt_slips: bool = False
    sound_db: float = 0.0
    sound_delay_s: float = 0.0
    sound_fade_s: float = 1e3
    cause: Cause | None = None
    heat_length_s: float = NAN


@dataclass(frozen=True, slots=True)
class Broken:
    """A sensor that goes wrong at `t_s` for good; `size` 0..1."""

    fault: Fault
    channel: str
    t_s: float
    size: float


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything a painter needs.

    Attributes:
        runs: (on, off) of the motor; the first may begin before the recording, the last end after it.
        night_s, night_length_s: where the stamps jump by a night, and by how much; NaN and 0 without one.
    """

    seed: int
    klass: Klass
    rig: Rig
    duration_s: float
    steps: tuple[Step, ...]
    runs: tuple[tuple[float, float], ...]
    event: Event | None
    broken: Broken | None
    marks: tuple[Mark, ...]
    night_s: float
    night_length_s: float

    def of(self, *kinds: Kind | Oddity) -> tuple[Mark, ...]:
        """Give the marks of these kinds."""
        return tuple(m for m in self.marks if m.kind in kinds)
