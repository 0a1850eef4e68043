"""Bath and pin as two bodies, a thermostat, and the thermocouples in them.

Reads friction power step by step, gives temperatures. What goes wrong is an addition that the story sizes.
"""

from dataclasses import dataclass
from enum import Enum
from math import exp


class HeatTrouble(Enum):
    """Closed set of ways in which a rig overheats."""

    COOLING = "the cooling of the bath is lost"
    HEATER = "the heater of the bath stays on"
    PIN_DRY = "the pin is no longer wetted, and keeps its heat"


@dataclass(frozen=True, slots=True)
class HeatFacts:
    """What a rig does with heat.

    Attributes:
        ambient_degc: of the room.
        bath_rise_k, bath_lag_s: of the bath at the top load's healthy friction power.
        pin_rise_k, pin_lag_s: of the pin above the bath at the same.
        thermostat_degc: set point of a bath heater; NaN where there is none.
        hysteresis_k: of the thermostat, half width.
        heater_rise_k: of the bath, were the heater on for ever.
        pin_sensor_lag_s, bath_sensor_lag_s: of the thermocouples.
    """

    ambient_degc: float
    bath_rise_k: float
    bath_lag_s: float
    pin_rise_k: float
    pin_lag_s: float
    thermostat_degc: float
    hysteresis_k: float
    heater_rise_k: float
    pin_sensor_lag_s: float
    bath_sensor_lag_s: float

    @property
    def heated(self) -> bool:
        """Say whether there is a thermostat."""
        return self.thermostat_degc == self.thermostat_degc

    @property
    def hottest_bath_degc(self) -> float:
        """Give the warmest that a healthy bath can get at the top load, degC."""
        own = self.ambient_degc + self.bath_rise_k
        return max(own, self.thermostat_degc + 2.0 * self.hysteresis_k) if self.heated else own


class Heat:
    """State of the heat; everything but `facts` changes with each step."""

    __slots__ = ("bath_degc", "bath_read_degc", "extra_bath_k", "extra_pin_k", "facts", "heating", "pin_degc",
                 "pin_read_degc", "power_share")  # fmt: skip

    def __init__(self, facts: HeatFacts, warm: float) -> None:
        """Begin with the bath at its set point, or at `warm` of its way up."""
        self.facts = facts
        start_degc = facts.thermostat_degc if facts.heated else facts.ambient_degc + warm * facts.bath_rise_k
        self.bath_degc = self.bath_read_degc = start_degc
        self.pin_degc = self.pin_read_degc = start_degc + warm * facts.pin_rise_k
        self.heating = False
        self.extra_bath_k = 0.0
        self.extra_pin_k = 0.0
        self.power_share = 0.0

    def fail(self, trouble: HeatTrouble, limit_degc: float, within_s: float) -> None:
        """Begin an abnormal heating that reaches the limit in about the time given, all else staying.

        It would end at least a quarter of the way beyond, so that the limit is passed and not crept up to.
        """
        dry = trouble is HeatTrouble.PIN_DRY
        lag_s = self.facts.pin_lag_s if dry else self.facts.bath_lag_s
        reach = max(1.0 / (1.0 - exp(-within_s / lag_s)), 1.25)
        if dry:
            self.extra_pin_k = reach * (limit_degc - self.pin_degc) / max(min(self.power_share, 1.0), 0.05)
        else:
            self.extra_bath_k = reach * (limit_degc - self.bath_degc)

    def rest(self, away_s: float) -> None:
        """Let everything cool for a while without friction."""
        facts = self.facts
        floor_degc = facts.thermostat_degc if facts.heated else facts.ambient_degc
        self.bath_degc = floor_degc + (self.bath_degc - floor_degc) * exp(-away_s / facts.bath_lag_s)
        self.pin_degc = self.bath_degc + (self.pin_degc - self.bath_degc) * exp(-away_s / facts.pin_lag_s)
        self.bath_read_degc, self.pin_read_degc = self.bath_degc, self.pin_degc

    def cool_by(self, drop_k: float) -> None:
        """Pour in cool oil."""
        self.bath_degc -= drop_k

    def step(self, dt_s: float, power_share: float) -> None:
        """Move all temperatures on.

        Args:
            dt_s: length of the step.
            power_share: friction power over that of the healthy top load.
        """
        facts, self.power_share = self.facts, power_share
        if facts.heated:
            if self.heating:
                self.heating = self.bath_degc < facts.thermostat_degc + facts.hysteresis_k
            else:
                self.heating = self.bath_degc < facts.thermostat_degc - facts.hysteresis_k
        bath_aim_degc = facts.ambient_degc + facts.bath_rise_k * power_share + self.extra_bath_k
        if self.heating:
            bath_aim_degc += facts.heater_rise_k
        self.bath_degc += (bath_aim_degc - self.bath_degc) * (1.0 - exp(-dt_s / facts.bath_lag_s))
        pin_aim_degc = self.bath_degc + facts.pin_rise_k * power_share + self.extra_pin_k * min(power_share, 1.0)
        self.pin_degc += (pin_aim_degc - self.pin_degc) * (1.0 - exp(-dt_s / facts.pin_lag_s))
        self.bath_read_degc += (self.bath_degc - self.bath_read_degc) * (1.0 - exp(-dt_s / facts.bath_sensor_lag_s))
        self.pin_read_degc += (self.pin_degc - self.pin_read_degc) * (1.0 - exp(-dt_s / facts.pin_sensor_lag_s))
