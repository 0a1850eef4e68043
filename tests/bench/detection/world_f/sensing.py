"""The instruments of a rig as they are built.

Reads nothing; `sensing_draws` draws these values, `instruments`, `readings`, `tachometer` and `spoil` use them.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from world_b.values import Tachometer


@dataclass(frozen=True, slots=True)
class Gauge:
    """One instrument.

    Attributes:
        low, high: its range, in the channel's unit; it reads nothing beyond.
        step: of its converter.
        lag_s: its time constant.
        noise: spread of one reading.
        zero, gain: its errors; `drift_per_h` of the zero.
    """

    low: float
    high: float
    step: float
    lag_s: float
    noise: float
    zero: float
    gain: float
    drift_per_h: float


@dataclass(frozen=True, slots=True)
class Sensing:
    """All instruments.

    Attributes:
        gauges: by channel.
        friction_in_load: share of the friction force that the load cell shows.
        load_at_pin: whether the load cell sits under the pin, not under the lever's end.
        hum: of the mains on the friction cell, N.
        ripple_share, ripple_hz: of the current as its sensor shows it.
        remanence_share: of the last peak that the current sensor keeps as a zero.
        tachometer, pulses, gate_s, on_motor: see `RigFacts`; pulses is 0 for the analogue one.
        coarse_degc: step of a coarse thermometer, 0 for a fine one.
    """

    gauges: Mapping[str, Gauge]
    friction_in_load: float
    load_at_pin: bool
    hum: float
    ripple_share: float
    ripple_hz: float
    remanence_share: float
    tachometer: Tachometer
    pulses: int
    gate_s: float
    on_motor: bool
    coarse_degc: float
