"""Storage: the few things the store asks of a disk, so that tests can put a failing disk in its place.

Reads paths, gives SQLite connections. Production uses `DiskStorage`; the crash bench registers a virtual one.
"""

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

SqlValue = str | int | float | bytes | None


class Rows(Protocol):
    """Result of one statement."""

    def fetchone(self) -> Any:
        """Give the next row, or None."""

    def fetchall(self) -> list[Any]:
        """Give the rows that are left."""

    def __iter__(self) -> Iterator[Any]:
        """Give the rows one by one."""


class Closable(Protocol):
    """What can be given back."""

    def close(self) -> None:
        """Give it back."""


class Connection(Protocol):
    """One connection in autocommit: transactions are opened and closed by statements."""

    def execute(self, sql: str, parameters: Sequence[SqlValue] = ..., /) -> Rows:
        """Run one statement."""

    def executemany(self, sql: str, parameters: Any, /) -> Rows:
        """Run one statement for every row of parameters."""

    def close(self) -> None:
        """Close the connection."""


class Storage(Protocol):
    """What the store needs of a disk.

    Attributes:
        errors: exceptions that mean the disk, not a fault of ours.
    """

    @property
    def errors(self) -> tuple[type[Exception], ...]:
        """Give the exceptions that mean the disk."""

    def connect(self, path: Path) -> Connection:
        """Open or make a database for writing, in autocommit."""

    def exists(self, path: Path) -> bool:
        """Say whether there is such a file."""

    def size_bytes(self, path: Path) -> int:
        """Give the size of a file, 0 where there is none."""

    def names(self, folder: Path) -> list[str]:
        """Give the file names in a folder, sorted."""

    def replace(self, source: Path, target: Path) -> None:
        """Put `source` in the place of `target` in one step, and sync the folder."""

    def remove(self, path: Path) -> None:
        """Remove a file if it is there, and sync the folder."""

    def note(self, path: Path, data: bytes, durable: bool) -> None:
        """Write a small file over in place; sync it where `durable`."""

    def read_note(self, path: Path) -> bytes:
        """Give a small file, or nothing where there is none."""

    def reserve(self, path: Path, size_bytes: int) -> None:
        """Make a file that really occupies this much room."""

    def room_bytes(self, folder: Path) -> tuple[int, int]:
        """Give the room a user without privileges still has, and the size of the disk, bytes."""


class DiskStorage:
    """The real disk through the standard library."""

    errors: tuple[type[Exception], ...] = (sqlite3.Error, OSError)

    def connect(self, path: Path) -> Connection:
        """Open or make a database for writing; waits at most 250 ms for somebody else's lock."""
        return sqlite3.connect(path, timeout=0.25, isolation_level=None)

    def exists(self, path: Path) -> bool:
        """Say whether there is such a file."""
        return path.exists()

    def size_bytes(self, path: Path) -> int:
        """Give the size of a file, 0 where there is none."""
        try:
            return path.stat().st_size
        except FileNotFoundError:
            return 0

    def names(self, folder: Path) -> list[str]:
        """Give the file names in a folder, sorted."""
        return sorted(entry.name for entry in folder.iterdir())

    def replace(self, source: Path, target: Path) -> None:
        """Put `source` in the place of `target` in one step, and sync file and folder."""
        sync(source)
        source.replace(target)
        sync(target.parent)

    def remove(self, path: Path) -> None:
        """Remove a file if it is there, and sync the folder."""
        path.unlink(missing_ok=True)
        sync(path.parent)

    def note(self, path: Path, data: bytes, durable: bool) -> None:
        """Write a small file over in place; sync it where `durable`."""
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT, 0o644)
        try:
            os.pwrite(descriptor, data, 0)
            if durable:
                os.fsync(descriptor)
        finally:
            os.close(descriptor)

    def read_note(self, path: Path) -> bytes:
        """Give a small file, or nothing where there is none."""
        return path.read_bytes() if path.exists() else b""

    def reserve(self, path: Path, size_bytes: int) -> None:
        """Make a file that really occupies this much room."""
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT, 0o644)
        try:
            os.posix_fallocate(descriptor, 0, size_bytes)
        finally:
            os.close(descriptor)

    def room_bytes(self, folder: Path) -> tuple[int, int]:
        """Give the room a user without privileges still has, and the size of the disk, bytes."""
        found = os.statvfs(folder)
        return found.f_bavail * found.f_frsize, found.f_blocks * found.f_frsize


@contextmanager
def transaction(connection: Connection) -> Iterator[None]:
    """Run statements as one. After an error the connection must be closed: what it holds can no longer be relied on."""
    connection.execute("BEGIN IMMEDIATE")
    yield
    connection.execute("COMMIT")


@contextmanager
def closed_on_error(*connections: Closable) -> Iterator[None]:
    """Give connections back where what is done with them first fails."""
    try:
        yield
    except BaseException:
        for connection in connections:
            connection.close()
        raise


def sync(path: Path) -> None:
    """Flush a file or a folder to the medium."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def is_busy(error: BaseException) -> bool:
    """Say whether an error means that somebody else holds the lock, for sqlite3 as for other bindings."""
    text = str(error).lower()
    return "locked" in text or "busy" in text


def is_damaged(error: BaseException) -> bool:
    """Say whether an error means that the file is no sound database."""
    text = str(error).lower()
    return "malformed" in text or "not a database" in text or "corrupt" in text


def cannot_open(error: BaseException) -> bool:
    """Say whether an error means that there are no rights to the file, or that no file stands there."""
    return "unable to open" in str(error).lower()


def is_full(error: BaseException) -> bool:
    """Say whether an error means that the disk is full."""
    text = str(error).lower()
    return "full" in text or "no space" in text
