"""A fifth simulated world of pin-on-ring rigs, sealed: for reporting only; see README.md beside this file.

The values and the files are those of the second world, so that a campaign reads all worlds alike.
"""

from world_b.files import rig_toml, write_csv
from world_b.values import (
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

from .simulate import generate, simulate

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
