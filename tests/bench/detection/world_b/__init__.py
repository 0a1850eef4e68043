"""A second simulated world of pin-on-ring rigs, for scoring; see README.md beside this file."""

from .files import rig_toml, write_csv
from .simulate import generate, simulate
from .values import (
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Inside,
    Kind,
    Klass,
    Nuisance,
    Precursor,
    Recording,
    RigFacts,
    Tachometer,
    Truth,
)

__all__ = [
    "TRIP_WORTHY",
    "ChannelSet",
    "DriveKind",
    "Fault",
    "Inside",
    "Kind",
    "Klass",
    "Nuisance",
    "Precursor",
    "Recording",
    "RigFacts",
    "Tachometer",
    "Truth",
    "generate",
    "rig_toml",
    "simulate",
    "write_csv",
]
