"""A disk in memory that can be cut off, fail, fill up or turn read-only, below SQLite, through apsw's virtual files.

What is written and not synced survives a cut sector by sector, by chance; so does every change of a folder that was not
synced. A sync that fails is never made up for: what it should have kept stays visible and is lost at the next cut.
"""

import itertools
import random
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import apsw

from scuffwatch.store.storage import Connection, closed_on_error

SECTOR_BYTES = 512
_serial = itertools.count()


class ModelFile:
    """One file: what a reader sees, what is on the medium, and what lies between."""

    def __init__(self) -> None:
        self.seen = bytearray()
        self.kept = bytearray()
        self.pending: list[tuple[int, bytes | None]] = []

    def write(self, offset: int, data: bytes) -> None:
        self.pending.append((offset, data))
        _put(self.seen, offset, data)

    def truncate(self, size: int) -> None:
        self.pending.append((size, None))
        _cut(self.seen, size)

    def sync(self) -> None:
        for offset, data in self.pending:
            _apply(self.kept, offset, data)
        self.pending.clear()

    def after_cut(self, chance: random.Random) -> bytes:
        """Give what is on the medium when the power goes: a random part of what was not synced."""
        found = bytearray(self.kept)
        for offset, data in self.pending:
            if data is None:
                if chance.random() < 0.5:
                    _cut(found, offset)
                continue
            end = offset + len(data)
            for start in range(offset - offset % SECTOR_BYTES, end, SECTOR_BYTES):
                if chance.random() < 0.5:
                    first, last = max(start, offset), min(start + SECTOR_BYTES, end)
                    _put(found, first, data[first - offset : last - offset])
        return bytes(found)


def _put(target: bytearray, offset: int, data: bytes) -> None:
    if len(target) < offset:
        target.extend(bytes(offset - len(target)))
    target[offset : offset + len(data)] = data


def _cut(target: bytearray, size: int) -> None:
    if len(target) > size:
        del target[size:]
    else:
        target.extend(bytes(size - len(target)))


def _apply(target: bytearray, offset: int, data: bytes | None) -> None:
    if data is None:
        _cut(target, offset)
    else:
        _put(target, offset, data)


class ModelDisk:
    """All files, and the fault that is due.

    Attributes:
        operations: writes, syncs, truncations and changes of folders so far.
        fault: asked before each with its number and kind; what it gives is raised.
        capacity_bytes: size of the disk.
        dead: the power is off; nothing works any more.
    """

    def __init__(self) -> None:
        self.files: dict[str, ModelFile] = {}
        self.kept_names: dict[str, ModelFile] = {}
        self.folder_changes: list[tuple[str, ModelFile | None]] = []
        self.operations = 0
        self.kinds: list[str] = []
        self.fault: Callable[[int, str], Exception | None] = lambda number, kind: None
        self.capacity_bytes = 1 << 40
        self.dead = False

    def step(self, kind: str, file: ModelFile | None = None) -> None:
        """Count an operation, and fail where the fault says so."""
        if self.dead:
            raise apsw.IOError("the power is off")
        error = self.fault(self.operations, kind)
        self.operations += 1
        self.kinds.append(kind)
        if error is not None:
            if kind == "sync" and file is not None:
                file.pending.clear()  # visible, and never on the medium
            raise error

    def used_bytes(self) -> int:
        return sum(len(file.seen) for file in self.files.values())

    def make(self, name: str) -> ModelFile:
        if name not in self.files:
            self.step("create")
            self.files[name] = ModelFile()
            self.folder_changes.append((name, self.files[name]))
        return self.files[name]

    def write(self, file: ModelFile, offset: int, data: bytes) -> None:
        self.step("write")
        more = max(0, offset + len(data) - len(file.seen))
        if more and self.used_bytes() + more > self.capacity_bytes:
            raise apsw.FullError("database or disk is full")
        file.write(offset, data)

    def truncate(self, file: ModelFile, size: int) -> None:
        self.step("truncate")
        file.truncate(size)

    def sync(self, file: ModelFile) -> None:
        self.step("sync", file)
        file.sync()
        names = {name for name, made in self.folder_changes if made is file}
        for name in names:  # a synced file is in its folder, whatever had that name before
            self.kept_names[name] = file
        last = {name: place for place, (name, made) in enumerate(self.folder_changes) if made is file}
        self.folder_changes = [
            change for place, change in enumerate(self.folder_changes) if place > last.get(change[0], -1)
        ]

    def delete(self, name: str) -> None:
        if name in self.files:
            self.step("delete")
            del self.files[name]
            self.folder_changes.append((name, None))

    def sync_folder(self) -> None:
        self.step("sync folder")
        for name, file in self.folder_changes:
            _name(self.kept_names, name, file)
        self.folder_changes.clear()

    def replace(self, source: str, target: str) -> None:
        self.step("replace")
        file = self.files.pop(source)
        self.files[target] = file
        self.folder_changes += [(target, file), (source, None)]

    def after_cut(self, chance: random.Random) -> dict[str, bytes]:
        """Give the files that are there when the power comes back."""
        names = dict(self.kept_names)
        for name, file in self.folder_changes:
            if chance.random() < 0.5:
                _name(names, name, file)
        return {name: file.after_cut(chance) for name, file in names.items()}


def _name(names: dict[str, ModelFile], name: str, file: ModelFile | None) -> None:
    if file is None:
        names.pop(name, None)
    else:
        names[name] = file


class _Handle:
    """One open file as apsw wants it. Locks are granted: there is one connection a file."""

    def __init__(self, disk: ModelDisk, file: ModelFile, name: str, delete_on_close: bool) -> None:
        self._disk, self._file, self._name, self._delete = disk, file, name, delete_on_close

    def excepthook(self, *_: Any) -> None:
        """What is raised here reaches SQLite as a result code, which is the point of it."""

    def xRead(self, amount: int, offset: int) -> bytes:
        return bytes(self._file.seen[offset : offset + amount])

    def xWrite(self, data: Any, offset: int) -> None:
        self._disk.write(self._file, offset, bytes(data))

    def xTruncate(self, size: int) -> None:
        self._disk.truncate(self._file, size)

    def xSync(self, flags: int) -> None:
        self._disk.sync(self._file)

    def xFileSize(self) -> int:
        return len(self._file.seen)

    def xLock(self, level: int) -> None: ...

    def xUnlock(self, level: int) -> None: ...

    def xCheckReservedLock(self) -> bool:
        return False

    def xClose(self) -> None:
        if self._delete:
            self._disk.files.pop(self._name, None)

    def xFileControl(self, operation: int, pointer: int) -> bool:
        return False

    def xSectorSize(self) -> int:
        return 4096

    def xDeviceCharacteristics(self) -> int:
        return int(apsw.SQLITE_IOCAP_POWERSAFE_OVERWRITE)


class _ModelVfs(apsw.VFS):
    """The disk as a virtual file system."""

    def __init__(self, name: str, disk: ModelDisk) -> None:
        super().__init__(name, "")
        self._disk = disk

    def excepthook(self, *_: Any) -> None:
        """What is raised here reaches SQLite as a result code, which is the point of it."""

    def xOpen(self, name: Any, flags: list[int]) -> Any:
        path = f"temporary-{next(_serial)}" if name is None else str(name if isinstance(name, str) else name.filename())
        if path not in self._disk.files and not flags[0] & apsw.SQLITE_OPEN_CREATE:
            raise apsw.CantOpenError(path)
        flags[1] = flags[0]
        file = self._disk.make(path)
        return _Handle(self._disk, file, path, bool(flags[0] & apsw.SQLITE_OPEN_DELETEONCLOSE))

    def xDelete(self, name: str, sync_folder: bool) -> None:
        if name not in self._disk.files:
            raise apsw.IOError(name)
        self._disk.delete(name)
        if sync_folder:
            self._disk.sync_folder()

    def xAccess(self, name: str, flags: int) -> bool:
        return name in self._disk.files

    def xFullPathname(self, name: str) -> str:
        return name


class _Weaker:
    """A connection that syncs less than it was told to: the negative control."""

    def __init__(self, connection: Any, synchronous: str) -> None:
        self._connection, self._synchronous = connection, synchronous

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> Any:
        return self._connection.execute(self._weakened(sql), parameters)

    def _weakened(self, sql: str) -> str:
        if self._synchronous == "FULL":
            return sql
        return re.sub("synchronous=(FULL|EXTRA)", f"synchronous={self._synchronous}", sql)

    def executemany(self, sql: str, parameters: Any, /) -> Any:
        return self._connection.executemany(sql, parameters)

    def close(self) -> None:
        self._connection.close()


class ModelStorage:
    """`Storage` on a model disk."""

    errors: tuple[type[Exception], ...] = (apsw.Error, OSError)

    def __init__(self, disk: ModelDisk, synchronous: str = "FULL") -> None:
        self.disk, self._synchronous = disk, synchronous
        self._vfs_name = f"model{next(_serial)}"
        self._vfs = _ModelVfs(self._vfs_name, disk)

    def unregister(self) -> None:
        """Take the virtual file system out of SQLite again."""
        self._vfs.unregister()

    def connect(self, path: Path) -> Connection:
        connection = apsw.Connection(str(path), vfs=self._vfs_name)
        # apsw offers files of one's own without shared memory; held exclusively SQLite keeps the log's index by itself.
        with closed_on_error(connection):
            connection.execute("PRAGMA locking_mode=EXCLUSIVE").fetchall()
        return _Weaker(connection, self._synchronous)

    def exists(self, path: Path) -> bool:
        return str(path) in self.disk.files

    def size_bytes(self, path: Path) -> int:
        file = self.disk.files.get(str(path))
        return 0 if file is None else len(file.seen)

    def names(self, folder: Path) -> list[str]:
        return sorted(Path(name).name for name in self.disk.files if Path(name).parent == folder)

    def replace(self, source: Path, target: Path) -> None:
        self.disk.sync(self.disk.files[str(source)])
        self.disk.replace(str(source), str(target))
        self.disk.sync_folder()

    def remove(self, path: Path) -> None:
        self.disk.delete(str(path))
        self.disk.sync_folder()

    def note(self, path: Path, data: bytes, durable: bool) -> None:
        file = self.disk.make(str(path))
        self.disk.write(file, 0, data)
        if durable:
            self.disk.sync(file)

    def read_note(self, path: Path) -> bytes:
        file = self.disk.files.get(str(path))
        return b"" if file is None else bytes(file.seen)

    def reserve(self, path: Path, size_bytes: int) -> None:
        self.disk.write(self.disk.make(str(path)), 0, bytes(size_bytes))

    def room_bytes(self, folder: Path) -> tuple[int, int]:
        return max(0, self.disk.capacity_bytes - self.disk.used_bytes()), self.disk.capacity_bytes


def disk_of(files: dict[str, bytes]) -> ModelDisk:
    """Give a disk that holds these files, all of them on the medium."""
    disk = ModelDisk()
    for name, data in files.items():
        file = ModelFile()
        file.seen, file.kept = bytearray(data), bytearray(data)
        disk.files[name] = disk.kept_names[name] = file
    return disk


def pour_out(files: dict[str, bytes], folder: Path, model_folder: Path) -> None:
    """Write the files of a model disk into a real folder."""
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        if not name.startswith("temporary-"):
            (folder / Path(name).relative_to(model_folder)).write_bytes(data)
