"""Settings of one rig: every key with unit, bounds and one line of help; nothing unknown is let through.

Reads TOML text, gives a frozen `RigSettings` or a `ConfigError` that lists every problem at once. The annotated
example in config/ and the reference table are made from these same classes (`settings_doc`).
"""

import hashlib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from scuffwatch.model.settings_file import Section, check, read_text

Required = ...
Name = Annotated[str, Field(min_length=1, max_length=32, pattern=r"^[A-Za-z0-9][A-Za-z0-9 _.-]*$")]
Span = tuple[float, float]


class Rig(Section):
    """The rig itself."""

    name: Name = Field(description="name of this rig on screens, in topics and in run names")
    ring_diameter_mm: float = Field(gt=1, le=1000, description="outer diameter of the ring")
    ring_speed_rpm: float = Field(gt=0, le=20000, description="speed the ring runs at under test")
    simulated: bool = Field(default=False, description="true for the simulated rig: shown everywhere, never compared")


class Link(Section):
    """The way to the rig box."""

    port: str = Field(min_length=1, description="serial port of the rig box, its by-id path where there is one")
    baud_hz: int = Field(default=230400, ge=9600, le=12_000_000, description="bit rate of the serial port")
    identity: str = Field(min_length=1, max_length=32, description="identity the rig box must give, else it is refused")


class Motor(Section):
    """The motor, as far as the detectors need it."""

    no_load_current_a: float = Field(ge=0, le=1000, description="current with the pin lifted at test speed")
    running_fraction: float = Field(
        default=0.8, gt=0.1, lt=1, description="share of ring_speed_rpm from which the motor counts as started"
    )
    turning_rpm: float = Field(default=10, gt=0, le=500, description="below this speed the ring counts as at rest")
    current_limit_a: float | None = Field(
        default=None, gt=0, le=1000, description="electronic current limit of the drive, where it has one"
    )
    stop_opens_contactor: bool = Field(
        default=False,
        description="true where the stop button opens the contactor: then a lost supply is told",
    )


class Channel(Section):
    """One channel of the rig box: how its counts become a value, and when the value is not believed."""

    coefficients: tuple[float, ...] = Field(
        min_length=2, max_length=6, description="polynomial from counts to the channel's unit, lowest power first"
    )
    tare: float = Field(default=0, ge=-1e6, le=1e6, description="subtracted from the value, in the channel's unit")
    range: Span = Field(description="valid values in the channel's unit; outside of them the value is BAD")
    max_age_s: float = Field(gt=0, le=60, description="oldest value that still counts")
    stuck_after_s: float = Field(default=0, ge=0, le=3600, description="identical counts this long are BAD; 0 is off")
    on_loss: Literal["trip", "degrade"] = Field(description="what is done when the channel is BAD")
    axis: Span = Field(description="fixed ends of the axis on the screens, in the channel's unit")
    decimals: int = Field(default=1, ge=0, le=6, description="decimals shown")
    calibration_id: str = Field(default="", max_length=64, description="name or date of the calibration")

    @model_validator(mode="after")
    def _ordered(self) -> "Channel":
        for name, (low, high) in (("range", self.range), ("axis", self.axis)):
            if low >= high:
                raise ValueError(f"{name}: low end {low:g} is not below high end {high:g}")
        return self


class Limits(Section):
    """Hard limits. Safety section: no key has a default."""

    friction_force_max_n: float = Field(gt=0, le=100_000, description="trip above this friction force")
    friction_coefficient_max: float = Field(gt=0, le=2, description="trip above this friction coefficient")
    friction_coefficient_warn: float = Field(gt=0, le=2, description="warn above this friction coefficient")
    motor_current_max_a: float = Field(gt=0, le=1000, description="trip above this current once the motor has started")
    pin_temperature_max_degc: float = Field(gt=0, le=600, description="trip above this pin temperature")
    pin_temperature_warn_degc: float = Field(gt=0, le=600, description="warn above this pin temperature")
    bath_temperature_max_degc: float = Field(gt=0, le=400, description="trip above this bath temperature")
    load_min_n: float = Field(gt=0, le=10_000, description="below this load the friction coefficient is not defined")
    on_delay_s: float = Field(ge=0.01, le=0.5, description="time a limit must be passed without a break before a trip")

    @model_validator(mode="after")
    def _warn_below_trip(self) -> "Limits":
        for name in ("friction_coefficient", "pin_temperature"):
            unit = "_degc" if name == "pin_temperature" else ""
            warn, trip = getattr(self, f"{name}_warn{unit}"), getattr(self, f"{name}_max{unit}")
            if warn >= trip:
                raise ValueError(f"{name}_warn{unit} {warn:g} is not below {name}_max{unit} {trip:g}")
        return self


class Guard(Section):
    """Permit, latch and reset. Safety section: no key has a default."""

    lease_ms: int = Field(ge=40, le=150, description="life of the permit from the sending of the last good block")
    max_silence_s: float = Field(ge=0.05, le=1, description="silence of the rig box after which the link is lost")
    at_rest_s: float = Field(ge=0.2, le=60, description="time the ring must be at rest before a reset counts")
    reset_min_s: float = Field(ge=0.1, le=1, description="shortest press of the local reset that counts")
    reset_max_s: float = Field(ge=1, le=10, description="longest press of the local reset that counts")
    readback_s: float = Field(ge=0.1, le=10, description="a contactor still closed this long after a trip is an alarm")
    unexpected_start_s: float = Field(ge=0.2, le=10, description="a ring that turns this soon after reset is a trip")
    extraction_required: bool = Field(description="true where the motor may run only with the extraction on")
    bath_required: bool = Field(description="true where the motor may run only with the bath up")


class Run(Section):
    """Runs."""

    resume_within_s: float = Field(default=600, ge=0, le=86400, description="a tripped run may be resumed this long")
    dwell_s: float = Field(default=300, ge=1, le=864_000, description="dwell of a stage where the plan says nothing")


class Lubricant(Section):
    """What is known of a lubricant as it is tested; additives and solvent lower a flash point."""

    flash_point_degc: float | None = Field(
        default=None, ge=30, le=400, description="flash point, open cup; the bath trips 25 K below it, warns 50 K below"
    )
    smoke_point_degc: float | None = Field(
        default=None, ge=30, le=400, description="smoke point; the bath trips there, warns 25 K below"
    )


class RigSettings(Section):
    """All settings of one rig."""

    rig: Rig
    link: Link
    motor: Motor
    limits: Limits
    guard: Guard
    run: Run = Run()
    channels: dict[str, Channel] = Field(min_length=1)
    lubricants: dict[str, Lubricant] = Field(default_factory=dict)


SAFETY_SECTIONS = ("limits", "guard")


def load(path: Path) -> RigSettings:
    """Read a rig file.

    Args:
        path: TOML file.
    Returns:
        Checked settings.
    Raises:
        ConfigError: it cannot be read, or with every problem in it, one sentence each.
    """
    return parse(read_text(path), path.name)


def parse(text: str, name: str) -> RigSettings:
    """Check the text of a rig file; see `load`. `name` is the file name used in sentences."""
    return check(RigSettings, text, name, _why_missing)


def fingerprint(text: str) -> str:
    """Give the SHA-256 of a settings text, hexadecimal; it goes into every run header."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _why_missing(path: list[str]) -> str:
    if path[0] in SAFETY_SECTIONS:
        return f"; it is a safety {'section' if len(path) == 1 else 'key'} and has no default"
    return ""
