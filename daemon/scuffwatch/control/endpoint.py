"""The control thread: two Unix sockets, one selector, nothing that the core's loop ever waits for.

Reads snapshots and answers from the loop, commands from senders; gives snapshots to readers, tickets to the loop. The
loop publishes by `SnapshotSource.publish`, polls `Inbox.take()` once a slice and answers by `Ticket.answer`.
"""

import logging
import selectors
import threading
import time
from dataclasses import replace
from pathlib import Path

from scuffwatch.control.command_desk import CommandDesk
from scuffwatch.control.counters import Counters, EndpointLimits
from scuffwatch.control.inbox import Inbox, Offer, Peer, Ticket
from scuffwatch.control.live_desk import LiveDesk, SnapshotSource
from scuffwatch.control.sockets import SocketRefused, claim
from scuffwatch.control.waker import Waker

__all__ = [
    "Endpoint", "EndpointLimits", "Counters", "SnapshotSource", "Inbox", "Ticket", "Offer", "Peer", "SocketRefused",
]  # fmt: skip

_log = logging.getLogger(__name__)


class Endpoint:
    """Serves both sockets in a thread of its own, from `start` to `stop`.

    Args:
        live_path, command_path: socket files; their folder exists and is short enough for a socket address.
        snapshots: the loop publishes here.
        inbox: the loop takes commands from here.
        live_mode, command_mode: of the files.
        command_group: of the command socket, by name; empty leaves it as it falls.
        limits: see `EndpointLimits`.

    `failed` is empty until the thread has ended by an error; then it holds the sentence that says so. The guard needs
    neither socket and goes on.
    """

    def __init__(
        self,
        live_path: Path,
        command_path: Path,
        snapshots: SnapshotSource,
        inbox: Inbox,
        *,
        live_mode: int = 0o660,
        command_mode: int = 0o660,
        command_group: str = "",
        limits: EndpointLimits | None = None,
    ) -> None:
        self.failed = ""
        self._live_path, self._command_path = Path(live_path), Path(command_path)
        self._live_mode, self._command_mode = live_mode, command_mode
        self._command_group = command_group
        self._snapshots, self._inbox = snapshots, inbox
        self._limits = limits or EndpointLimits()
        self._counters = Counters()
        self._stopping = False
        self._t_sweep_s = 0.0
        self._thread: threading.Thread | None = None

    @property
    def counters(self) -> Counters:
        """Give a copy of what has been counted since the start."""
        return replace(self._counters)

    def start(self) -> None:
        """Claim both socket files and begin to serve.

        Raises:
            SocketRefused: another core answers on one of them, or the system does not allow it. Nothing is left open.
        """
        live = claim(self._live_path, self._live_mode)
        try:
            command = claim(self._command_path, self._command_mode, self._command_group)
        except SocketRefused:
            live.release()
            raise
        self._waker = Waker()
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._waker.fd, selectors.EVENT_READ, lambda mask: self._waker.clear())
        self._live = LiveDesk(self._selector, live, self._snapshots, self._limits, self._counters)
        self._command = CommandDesk(self._selector, command, self._inbox, self._waker, self._limits, self._counters)
        self._stopping = False
        self._thread = threading.Thread(target=self._main, name="control", daemon=True)
        self._thread.start()

    def stop(self, deadline_s: float = 2.0) -> None:
        """Stop serving, remove both socket files. Call from the loop's thread or after it has ended.

        Args:
            deadline_s: how long to wait for the thread, s. A thread that is not done by then is named in `failed`.
        """
        if self._thread is None:
            return
        self._stopping = True
        self._waker.wake()
        self._thread.join(deadline_s)
        if self._thread.is_alive():
            self.failed = f"The control thread did not stop within {deadline_s:g} s."
            return
        self._thread = None
        self._selector.close()
        self._waker.close()

    def _main(self) -> None:
        try:
            while not self._stopping:
                self._turn()
        except Exception as error:  # noqa: BLE001 - main loop of a thread: it must end where it is seen
            _log.exception("control thread ended")
            self.failed = (
                f"The control thread ended by an error of ours ({type(error).__name__}: {error}). Pages show no live "
                "values and no command arrives; the guard goes on. Restart the core when the run is over."
            )
        finally:
            try:
                self._command.close()
            finally:
                self._live.close()

    def _turn(self) -> None:
        now_s = time.monotonic()
        t_next_s = min(self._live.t_next_s, self._command.t_next_s, self._t_sweep_s)
        for key, mask in self._selector.select(max(0.0, t_next_s - now_s)):
            key.data(mask)
        now_s = time.monotonic()
        self._command.turn(now_s)
        self._live.turn(now_s)
        if now_s >= self._t_sweep_s:
            self._t_sweep_s = now_s + self._limits.allowance_s
            self._command.sweep(now_s)
            self._live.sweep(now_s)
