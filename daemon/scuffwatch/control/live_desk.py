"""Readers of snapshots: every one gets the newest, none is waited for.

Reads the snapshot source, writes to connected readers. Driven by `endpoint` in the control thread.
"""

import selectors
import socket
import time

from scuffwatch.control.connections import LiveReader
from scuffwatch.control.counters import Counters, EndpointLimits
from scuffwatch.control.door import Door, turn_away
from scuffwatch.control.snapshot import SNAPSHOT_MAX_BYTES
from scuffwatch.control.sockets import Claim

POLL_S = 0.05
"""How often a newer snapshot is looked for while anybody reads; also the shortest time between two."""


class SnapshotSource:
    """Hands the newest snapshot from the loop to the control thread by plain assignment: no lock, no wait."""

    __slots__ = ("latest",)

    def __init__(self) -> None:
        self.latest = b""

    def publish(self, line: bytes) -> None:
        """Replace the snapshot.

        Args:
            line: one JSON object, immutable; `snapshot.encode` makes it.
        """
        self.latest = line


class LiveDesk:
    """Serves `live.sock`.

    Args:
        selector: of the control thread.
        claim: listening socket and its file.
        source: where snapshots come from.
        limits: see `EndpointLimits`.
        counters: counted into.
    """

    def __init__(
        self,
        selector: selectors.BaseSelector,
        claim: Claim,
        source: SnapshotSource,
        limits: EndpointLimits,
        counters: Counters,
    ) -> None:
        self._selector, self._source, self._limits, self._counters = selector, source, limits, counters
        self._readers: set[LiveReader] = set()
        self._pushed = b""
        self._t_poll_s = 0.0
        self._door = Door(selector, claim, self._greet)

    @property
    def t_next_s(self) -> float:
        """Give when this desk must be called again, host monotonic clock, s; infinite where nobody reads."""
        return self._t_poll_s if self._readers else float("inf")

    def turn(self, now_s: float) -> None:
        """Push the newest snapshot where there is a newer one."""
        if not self._readers or now_s < self._t_poll_s:
            return
        self._t_poll_s = now_s + POLL_S
        line = self._source.latest
        if line is self._pushed:
            return
        self._pushed = line
        if len(line) > SNAPSHOT_MAX_BYTES:
            self._counters.snapshots_too_long += 1
            return
        framed = line.rstrip(b"\n").replace(b"\n", b" ") + b"\n"
        for reader in tuple(self._readers):
            self._counters.snapshots_dropped += reader.offer(framed)
            self._flush(reader, now_s)

    def sweep(self, now_s: float) -> None:
        """Let go of readers that have taken nothing for long, and let new ones in."""
        for reader in tuple(self._readers):
            if reader.behind and now_s - reader.t_progress_s > self._limits.hung_s:
                self._counters.readers_hung += 1
                self._drop(reader)
        self._door.refill()

    def close(self) -> None:
        """Close everything."""
        for reader in tuple(self._readers):
            self._drop(reader)
        self._door.close()

    def _greet(self, connection: socket.socket) -> None:
        """Take a reader in. It gets the next snapshot, not the last: the last may be as old as a frozen loop."""
        if len(self._readers) >= self._limits.clients:
            self._counters.clients_refused += 1
            turn_away(connection, f"{len(self._readers)} readers of live values, limit {self._limits.clients}.")
            return
        if not self._readers:
            self._pushed = self._source.latest
        reader = LiveReader(connection, time.monotonic())
        self._selector.register(connection, selectors.EVENT_READ, lambda mask: self._ready(reader, mask))
        self._readers.add(reader)
        self._counters.readers = len(self._readers)

    def _ready(self, reader: LiveReader, mask: int) -> None:
        if reader not in self._readers:
            return
        if mask & selectors.EVENT_READ and not self._still_there(reader):
            self._drop(reader)
        elif mask & selectors.EVENT_WRITE:
            self._flush(reader, time.monotonic())

    def _still_there(self, reader: LiveReader) -> bool:
        """Give False for a reader that has gone, or that talks: nothing is ever to be said on this socket."""
        try:
            reader.connection.recv(1)
        except BlockingIOError:
            return True
        except OSError:
            return False
        return False

    def _flush(self, reader: LiveReader, now_s: float) -> None:
        try:
            self._counters.snapshots_sent += reader.flush(now_s)
        except OSError:
            self._drop(reader)
            return
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if reader.behind else 0)
        self._selector.modify(reader.connection, wanted, self._selector.get_key(reader.connection).data)

    def _drop(self, reader: LiveReader) -> None:
        self._readers.discard(reader)
        self._selector.unregister(reader.connection)
        reader.connection.close()
        self._counters.readers = len(self._readers)
