"""Chain: each event carries a hash over itself and its predecessor's hash, so that no row can be changed unseen.

Reads event rows, gives hashes. A reader can follow it with hashlib alone: SHA-256 over the previous hash and the JSON
array of the columns number to core_sequence, in table order, with no spaces.
"""

import hashlib
import json
from collections.abc import Iterable, Sequence

from scuffwatch.store.storage import SqlValue

START = bytes(32)
"""Stands for the hash before the first event."""


def link(before: bytes, row: Sequence[SqlValue]) -> bytes:
    """Give the hash of one event row (columns of table `events` without the hash) behind hash `before`."""
    text = json.dumps(list(row), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(before + text.encode()).digest()


def broken_at(rows: Iterable[Sequence[SqlValue]], before: bytes = START) -> int | None:
    """Give the number of the first event whose hash does not follow from its predecessor, or None.

    Args:
        rows: rows of table `events` with the hash last, in order of number.
        before: hash in front of the first row.
    """
    for row in rows:
        if link(before, row[:-1]) != row[-1]:
            return int(str(row[0]))
        before = bytes(row[-1]) if isinstance(row[-1], bytes) else START
    return None
