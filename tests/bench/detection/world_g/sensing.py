"""The instruments of a rig, in the units of the trade. Reads nothing; drawn by `sensor_draws`."""

from dataclasses import dataclass

from world_b.values import Tachometer


@dataclass(frozen=True, slots=True)
class Cell:
    """One analogue channel.

    Attributes:
        lag_s: of its filter.
        noise: spread of its noise, in its unit, noise_lag_s: its memory.
        wander: spread of its slow zero, in its unit, wander_s: its memory.
        gain, zero: its errors of calibration.
        low, high: rails; bits: of the converter between them.
    """

    lag_s: float
    noise: float
    noise_lag_s: float
    wander: float
    wander_s: float
    gain: float
    zero: float
    low: float
    high: float
    bits: int


@dataclass(frozen=True, slots=True)
class Sensing:
    """Everything that reads.

    Attributes:
        load_on_weights: the load cell hangs in the weights' link and is blind to run-out and drawing in.
        cross_talk: of friction force into the load cell.
        current_play_a: hysteresis of the current sensor; ripple_a: mains ripple left by its filter, at ripple_hz.
        pin_touch: 1 where the thermocouple sits in the pin's well, less where it feels the oil.
        degc_step: of the temperatures as shown.
        hum_n: mains hum on the friction cell at hum_hz.
        tachometer, pulses_per_turn, on_motor, gate_s: of the speed; gate_s is a lag for the analogue one.
        meter_s: weighting of the sound meter; shop_db, drive_db, contact_db: at the microphone.
    """

    load: Cell
    friction: Cell
    current: Cell
    pin: Cell
    bath: Cell
    speed: Cell
    sound: Cell
    load_on_weights: bool
    cross_talk: float
    current_play_a: float
    ripple_a: float
    ripple_hz: float
    pin_touch: float
    degc_step: float
    hum_n: float
    hum_hz: float
    tachometer: Tachometer
    pulses_per_turn: int
    on_motor: bool
    gate_s: float
    meter_s: float
    shop_db: float
    drive_db: float
    contact_db: float
