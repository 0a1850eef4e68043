"""Reader: what pages, uplink, command line and tests read records with.

Reads a data folder, gives the archive and single runs. Gathers the names of the reading side in one place.
"""

from scuffwatch.store.archive import AlarmRecord, Archive, RunSummary
from scuffwatch.store.envelope import Envelope
from scuffwatch.store.idle_reader import IdleSecond, idle_seconds
from scuffwatch.store.ledger import Account
from scuffwatch.store.pieces import Piece
from scuffwatch.store.run_reader import RunReader
from scuffwatch.store.trip_record import TripRecord
from scuffwatch.store.verify import Verified, verify_run

__all__ = [
    "Account",
    "AlarmRecord",
    "Archive",
    "Envelope",
    "IdleSecond",
    "Piece",
    "RunReader",
    "RunSummary",
    "TripRecord",
    "Verified",
    "idle_seconds",
    "verify_run",
]
