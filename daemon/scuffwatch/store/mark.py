"""Mark: how far the journal had come, kept in a second place, so that a journal put back from a copy is seen.

Reads and gives one line of text: number of the last event, its hash, CRC-32. It is written after every commit and
synced once a minute, so it may lag behind the journal but never runs ahead of it.
"""

import zlib
from dataclasses import dataclass
from pathlib import Path

from scuffwatch.store.storage import Storage

MARK_FILE = "journal.mark"


@dataclass(frozen=True, slots=True)
class Mark:
    """Number and hash of the last event committed when it was written."""

    number: int
    hash: bytes


def write(storage: Storage, data_dir: Path, mark: Mark, durable: bool) -> None:
    """Write the mark over the last one; always the same length."""
    body = f"{mark.number:020d} {mark.hash.hex()}"
    storage.note(data_dir / MARK_FILE, f"{body} {zlib.crc32(body.encode()):08x}\n".encode(), durable)


def read(storage: Storage, data_dir: Path) -> Mark | None:
    """Give the mark, or None where there is none or it was cut off half-way."""
    text = storage.read_note(data_dir / MARK_FILE).decode("ascii", "replace")
    parts = text.split()
    if len(parts) != 3 or f"{zlib.crc32(f'{parts[0]} {parts[1]}'.encode()):08x}" != parts[2]:
        return None
    return Mark(int(parts[0]), bytes.fromhex(parts[1]))
