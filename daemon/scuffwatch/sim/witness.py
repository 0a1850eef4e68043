"""An independent witness of the permit: it times pulse edges itself and models monostable and relay of its own.

Reads datagrams from the simulated rig (pulse or block, sender's time, number), writes one JSON line each time its
contactor closes or opens. Shares no code with the rig's own contactor, and no clock but CLOCK_MONOTONIC.
"""

import argparse
import contextlib
import json
import socket
import struct
import time
from pathlib import Path
from typing import TextIO

MONOSTABLE_NS = 60_000_000
RELAY_NS = 40_000_000
_MESSAGE = struct.Struct("<cqq")


class Witness:
    """Edges in, lines out.

    Args:
        log: takes one JSON line an event.
    """

    def __init__(self, log: TextIO) -> None:
        self._log = log
        self._last_edge_ns = 0
        self._last_block_ns = 0
        self._last_block = -1
        self._closed = False

    def take(self, kind: bytes, received_ns: int, number: int) -> None:
        """Take one message at the time it was received."""
        self.pass_time(received_ns)
        if kind == b"P":
            self._last_edge_ns = received_ns
            if not self._closed:
                self._closed = True
                self._write("close", received_ns + RELAY_NS)
        elif kind == b"B":
            self._last_block_ns, self._last_block = received_ns, number

    def pass_time(self, now_ns: int) -> None:
        """Open the contactor where no edge has come for monostable and relay together."""
        if self._closed and now_ns - self._last_edge_ns >= MONOSTABLE_NS:
            self._closed = False
            self._write("open", self._last_edge_ns + MONOSTABLE_NS + RELAY_NS)

    def _write(self, event: str, t_mono_ns: int) -> None:
        line = {
            "event": event,
            "t_mono_ns": t_mono_ns,
            "last_edge_ns": self._last_edge_ns,
            "last_block_ns": self._last_block_ns,
            "last_block": self._last_block,
        }
        self._log.write(json.dumps(line) + "\n")
        self._log.flush()


def main(arguments: list[str] | None = None) -> int:
    """Listen until the process is ended."""
    parser = argparse.ArgumentParser(prog="python -m scuffwatch.sim.witness", description="Time the permit's pulses.")
    parser.add_argument("--listen", type=Path, required=True, help="datagram socket")
    parser.add_argument("--log", type=Path, required=True, help="file for one JSON line an event")
    given = parser.parse_args(arguments)
    given.listen.unlink(missing_ok=True)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener, given.log.open("a", encoding="ascii") as log:
        listener.bind(str(given.listen))
        listener.settimeout(0.002)
        witness = Witness(log)
        while True:
            with contextlib.suppress(TimeoutError):
                kind, _, number = _MESSAGE.unpack(listener.recv(64))
                witness.take(kind, time.monotonic_ns(), number)
            witness.pass_time(time.monotonic_ns())


if __name__ == "__main__":
    raise SystemExit(main())
