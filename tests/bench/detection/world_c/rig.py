"""A rig of the third world: contact, heat, drive, lever, and what is bolted on to measure them."""

from dataclasses import dataclass

import numpy as np
from world_b.values import ChannelSet, Tachometer

from .contact import ContactFacts
from .drive import DriveFacts
from .heat import HeatFacts
from .lever import LeverFacts


@dataclass(frozen=True, slots=True)
class CellFacts:
    """A strain-gauge cell and its amplifier.

    Attributes:
        range_n: rated, either way.
        noise_share: of the range, standard deviation of a row.
        step_n: of the converter.
        zero_share, drift_share: of the range: zero after taring, and its change while the rig warms.
        beam_hz, beam_damping: of the cell as a spring with the pin on it.
        low_pass_hz: of the amplifier.
        hum_share: of the range, mains hum as sampled.
        crosstalk_share: of the other force, load in friction or friction in load.
    """

    range_n: float
    noise_share: float
    step_n: float
    zero_share: float
    drift_share: float
    beam_hz: float
    beam_damping: float
    low_pass_hz: float
    hum_share: float
    crosstalk_share: float


@dataclass(frozen=True, slots=True)
class CurrentFacts:
    """A current sensor.

    Attributes:
        range_a: upper end.
        noise_share: of full current, standard deviation of a row.
        step_a: of the converter.
        zero_share: of full current.
        ripple_share: of the current, once and twice a turn of the motor.
        hum_share: of full current.
        hunt_share, hunt_hz: of the current, how a badly set speed controller hunts; 0 for none.
    """

    range_a: float
    noise_share: float
    step_a: float
    zero_share: float
    ripple_share: float
    hum_share: float
    hunt_share: float
    hunt_hz: float


@dataclass(frozen=True, slots=True)
class TachometerFacts:
    """What reads the speed.

    Attributes:
        kind: see `Tachometer`.
        pulses_per_turn: 0 for the analogue one.
        on_motor: blind to a slipping belt.
        gate_s: of a counter; time-out of a period meter.
        noise_share: of set speed, for the analogue one; of a period, else.
        range_rpm: upper end.
    """

    kind: Tachometer
    pulses_per_turn: int
    on_motor: bool
    gate_s: float
    noise_share: float
    range_rpm: float


@dataclass(frozen=True, slots=True)
class ThermocoupleFacts:
    """How a temperature is read; the lag is in `HeatFacts`.

    Attributes:
        step_k, noise_k, offset_k: kelvin.
        refresh_s: between readings, held.
        range_degc: both ends.
    """

    step_k: float
    noise_k: float
    offset_k: float
    refresh_s: float
    range_degc: tuple[float, float]


@dataclass(frozen=True, slots=True)
class SoundFacts:
    """A sound meter and what it hears when all is well.

    Attributes:
        room_db, motor_db, rub_db: levels of the room, of the motor at set speed, of the contact at its top load.
        weighting_s: time constant of the mean square.
        refresh_s: between readings, held.
        step_db, noise_db: of a reading.
        offset_db: what the meter adds; far below zero for a meter in dB below full scale.
        range_db: both ends, as read.
    """

    room_db: float
    motor_db: float
    rub_db: float
    weighting_s: float
    refresh_s: float
    step_db: float
    noise_db: float
    offset_db: float
    range_db: tuple[float, float]


@dataclass(frozen=True, slots=True)
class UnrestFacts:
    """How a healthy contact never keeps still.

    Attributes:
        broad_share, broad_lag_s: of friction, fast.
        slow_share, slow_lag_s: of friction, slow.
        film_share, film_lag_s: of the oil film.
        turn_share: of friction, once a turn.
    """

    broad_share: float
    broad_lag_s: float
    slow_share: float
    slow_lag_s: float
    film_share: float
    film_lag_s: float
    turn_share: float


@dataclass(frozen=True, slots=True)
class SlipFacts:
    """A pin holder that can stick and slip.

    Attributes:
        frequency_hz: of the holder on its spring.
        damping_ratio: of it.
        static_excess: of static over kinetic friction.
        fading_share: speed at which the excess has faded to 1/e, over the sliding speed.
        travel: sliding speed times holder's angular frequency, over load and stiffness: how far it is carried.
    """

    frequency_hz: float
    damping_ratio: float
    static_excess: float
    fading_share: float
    travel: float


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything that stays as it is during a recording.

    Attributes:
        channel_set: see `ChannelSet`.
        ring_radius_m, ring_speed_rpm, top_load_n: m, r/min with the pin lifted, N.
        contact, heat, drive, lever: physics.
        friction_cell, load_cell, current, tachometer, pin, bath, sound: sensors, had or not.
        unrest, slip: see there.
    """

    channel_set: ChannelSet
    ring_radius_m: float
    ring_speed_rpm: float
    top_load_n: float
    contact: ContactFacts
    heat: HeatFacts
    drive: DriveFacts
    lever: LeverFacts
    friction_cell: CellFacts
    load_cell: CellFacts
    current: CurrentFacts
    tachometer: TachometerFacts
    pin: ThermocoupleFacts
    bath: ThermocoupleFacts
    sound: SoundFacts
    unrest: UnrestFacts
    slip: SlipFacts

    @property
    def turns_hz(self) -> float:
        """Give the set speed, turns a second."""
        return self.ring_speed_rpm / 60.0

    @property
    def sliding_speed_m_s(self) -> float:
        """Give the sliding speed at set speed, m/s."""
        return 2.0 * np.pi * self.turns_hz * self.ring_radius_m

    @property
    def top_power_w(self) -> float:
        """Give the friction power at the top load, warm and run in, W."""
        return self.contact.top_friction * self.top_load_n * self.sliding_speed_m_s

    @property
    def hottest_pin_degc(self) -> float:
        """Give the warmest that a healthy pin is thought to get, with friction up to 1.4 times its warm value."""
        excess = min(self.contact.boundary_friction / self.contact.top_friction, 1.4)
        bath_degc = max(self.heat.hottest_bath_degc, self.heat.ambient_degc + excess * self.heat.bath_rise_k)
        return bath_degc + excess * self.heat.pin_rise_k
