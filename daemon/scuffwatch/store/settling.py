"""Settling: leaves one file without a log, and makes sure that none comes back.

Reads an open file of ours and closes it. A rollback journal or log whose removal never reached the medium would, after
a power cut, be taken for the file's own and written over whatever stands there by then.
"""

from pathlib import Path
from typing import Protocol

from scuffwatch.store.storage import Storage, is_busy


class Settling(Protocol):
    """A file that can be left as one file without a log."""

    def settle(self) -> None:
        """Fold the log in."""

    def close(self) -> None:
        """Close the connection."""


def settle_and_close(storage: Storage, path: Path, file: Settling) -> bool:
    """Settle a file and close it.

    Returns:
        Whether it stands alone now; False where somebody reads it at this moment, so that it keeps its log.
    Raises:
        What the storage raises.
    """
    try:
        file.settle()
    except storage.errors as error:
        if not is_busy(error):
            raise
        return False
    finally:
        file.close()
    storage.remove(path.with_name(path.name + "-journal"))
    return not storage.exists(path.with_name(path.name + "-wal"))
