"""Lock: one core a data folder, and a way to see from outside whether it is there.

Reads the file `lock` in the data folder. An open-file-description lock ends with the process, however it ends.
"""

import fcntl
import os
import struct
from pathlib import Path

from scuffwatch.model.errors import CommandRefused

LOCK_FILE = "lock"
_FLOCK = struct.Struct("hhqqi4x")  # struct flock of Linux on 64 bits: type, whence, start, length, pid


class FolderLock:
    """The writer's hold on a data folder."""

    def __init__(self, data_dir: Path) -> None:
        self._path = data_dir / LOCK_FILE
        self._descriptor = -1

    def take(self) -> None:
        """Take the folder.

        Raises:
            CommandRefused: another core writes there.
        """
        descriptor = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.fcntl(descriptor, fcntl.F_OFD_SETLK, _FLOCK.pack(fcntl.F_WRLCK, os.SEEK_SET, 0, 0, 0))
        except (BlockingIOError, PermissionError) as error:
            os.close(descriptor)
            raise CommandRefused(
                "Recording",
                f"another core already writes to {self._path.parent}",
                "Stop it first, or give this one another folder with --data.",
            ) from error
        self._descriptor = descriptor

    def release(self) -> None:
        """Give the folder back."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1


def is_held(data_dir: Path) -> bool:
    """Say whether a core writes to this folder now; needs read permission only and disturbs nobody."""
    try:
        descriptor = os.open(data_dir / LOCK_FILE, os.O_RDONLY | os.O_CLOEXEC)
    except FileNotFoundError:
        return False
    try:
        asked = _FLOCK.pack(fcntl.F_WRLCK, os.SEEK_SET, 0, 0, 0)
        answer = fcntl.fcntl(descriptor, fcntl.F_OFD_GETLK, asked)
    finally:
        os.close(descriptor)
    return bool(_FLOCK.unpack(answer)[0] != fcntl.F_UNLCK)
