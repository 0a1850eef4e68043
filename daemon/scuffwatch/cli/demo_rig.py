"""The rig file of the demonstration, made from what the simulated rig really is.

Reads the simulated rig's channels and plan, gives settings values. Everything in it is invented: a small workshop that
rebuilds hydraulic pumps and screens biodegradable oils.
"""

from collections.abc import Iterable
from typing import Any

from scuffwatch.sim.channels import SCALES
from scuffwatch.sim.scenario import DEMO_DWELL_S, PIN_LIMIT_DEGC

LUBRICANT = "HEES-46, batch 12 (invented)"
TREAT_RATE_PERCENT = 4.0
BATH_VOLUME_ML = 15.0
READBACK_S = 0.2
RING = "R-07, track 2, dressed 3 times"
PIN = "P-113, face A"
HEADING = """Rig file of the demonstration. Everything here is invented: a small workshop that rebuilds hydraulic pumps
screens biodegradable oils on a simulated pin-on-ring rig. Change it for your own rig: every key says what it is.
The sections [limits] and [guard] are safety keys: none of them has a default."""

_AXES: dict[str, tuple[float, float, int, float, float]] = {
    # axis low, axis high, decimals, oldest value s, identical counts s
    "normal_load_n": (0.0, 1000.0, 0, 0.1, 0.0),
    "friction_force_n": (0.0, 300.0, 1, 0.1, 2.0),
    "motor_current_a": (0.0, 6.0, 2, 0.1, 2.0),
    "sound_level_db": (40.0, 100.0, 1, 0.2, 5.0),
    "ring_speed_rpm": (0.0, 800.0, 0, 0.1, 0.0),
    "pin_temperature_degc": (0.0, 160.0, 1, 0.5, 0.0),
    "bath_temperature_degc": (0.0, 160.0, 1, 0.5, 0.0),
}
_DEGRADE = {"sound_level_db", "bath_temperature_degc"}


def rig_values(port: str, identity: str, channels: Iterable[str] | None = None) -> dict[str, Any]:
    """Give the settings of the demonstration rig as TOML values.

    Args:
        port: where the simulated rig box is.
        identity: the name it gives.
        channels: those the rig box has; by default all of the demonstration.
    """
    return {
        "rig": {"name": "rig 2", "ring_diameter_mm": 35.0, "ring_speed_rpm": 600.0, "simulated": True},
        "link": {"port": port, "baud_hz": 230400, "identity": identity},
        "motor": {"no_load_current_a": 0.75},
        "limits": {
            "friction_force_max_n": 250.0,
            "friction_coefficient_max": 0.25,
            "friction_coefficient_warn": 0.16,
            "motor_current_max_a": 5.0,
            "pin_temperature_max_degc": PIN_LIMIT_DEGC,
            "pin_temperature_warn_degc": 105.0,
            "bath_temperature_max_degc": 140.0,
            "load_min_n": 20.0,
            "on_delay_s": 0.04,
        },
        "guard": {
            "lease_ms": 140,
            "max_silence_s": 0.25,
            "at_rest_s": 2.0,
            "reset_min_s": 0.2,
            "reset_max_s": 3.0,
            "readback_s": READBACK_S,
            "unexpected_start_s": 1.0,
            "extraction_required": True,
            "bath_required": True,
        },
        "run": {"resume_within_s": 600.0, "dwell_s": DEMO_DWELL_S},
        "channels": {name: _channel(name) for name in channels or _AXES},
        "lubricants": {"HEES-46": {"flash_point_degc": 232.0, "smoke_point_degc": 165.0}},
    }


def _channel(name: str) -> dict[str, Any]:
    scale = SCALES[name]
    low, high, decimals, max_age_s, stuck_after_s = _AXES[name]
    return {
        "coefficients": [scale.offset, scale.per_count],
        "range": [scale.low, scale.high],
        "max_age_s": max_age_s,
        "stuck_after_s": stuck_after_s,
        "on_loss": "degrade" if name in _DEGRADE else "trip",
        "axis": [low, high],
        "decimals": decimals,
        "calibration_id": "invented, 2026-11-02",
    }
