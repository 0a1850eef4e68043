"""The core as a process: opens the port, runs the loop, ends with the permit withdrawn.

Reads the rig file and the data folder; gives an exit code. Four threads and no more: this loop, the recorder's writer,
the control sockets and a look at the uplink's status. The loop reads, decides and writes; it takes no lock and waits
for nobody.
"""

import contextlib
import gc
import os
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from scuffwatch.control.commands import CloseRun
from scuffwatch.control.endpoint import Endpoint
from scuffwatch.control.inbox import Inbox
from scuffwatch.control.live_desk import SnapshotSource
from scuffwatch.model.errors import OperatorError, RigNotConnected
from scuffwatch.model.event import EventKind
from scuffwatch.model.settings_file import read_text
from scuffwatch.rig.port import PortClosed, SerialPort
from scuffwatch.service import settings as settings_file
from scuffwatch.service import snapshot
from scuffwatch.service.commands import Desk
from scuffwatch.service.core import Core, Now
from scuffwatch.service.uplink_watch import UplinkWatch
from scuffwatch.service.watchdog import Watchdog
from scuffwatch.store.recorder import Recorder, boot_id
from scuffwatch.store.storage import Storage

READ_TIMEOUT_S = 0.02
SNAPSHOT_EVERY_S = 0.1
REOPEN_EVERY_S = 0.5
CLOSE_DEADLINE_S = 10.0
PRIORITY = -10
SWITCH_S = 0.0005
"""Longest time the writer's Python keeps the interpreter from the loop; Python's own 5 ms are as long as a decision."""
STARTED_SAYS = "started tripped, permit off; how it stands now is on the pages"
"""Stands in the service manager's status for as long as the core runs, so it must stay true."""
EXIT_CLEAN = 0
EXIT_FAULT = 70


@dataclass(frozen=True, slots=True)
class Paths:
    """Where the core finds and keeps things.

    Attributes:
        rig_file: settings.
        data: data folder; the sockets live in it.
        command_group: who may use the command socket, by name; empty for the group of the core.
    """

    rig_file: Path
    data: Path
    command_group: str = ""

    @property
    def live(self) -> Path:
        """Give the socket that shows the live state."""
        return self.data / "live.sock"

    @property
    def command(self) -> Path:
        """Give the socket that takes commands."""
        return self.data / "command.sock"


class App:
    """One core process.

    Args:
        paths: rig file and data folder.
        say: prints one line for the service log.
        storage: the disk under the record; the real one by default.
    Raises:
        ConfigError: the rig file is refused.
        OperatorError: the data folder is held by another core, or cannot be written.
    """

    def __init__(self, paths: Paths, say: Callable[[str], None], storage: Storage | None = None) -> None:
        text = read_text(paths.rig_file)
        self._settings = settings_file.parse(text, paths.rig_file.name)
        self._say = say
        paths.data.mkdir(parents=True, exist_ok=True)
        self.recorder = Recorder(paths.data, storage=storage)
        self.core = Core(self._settings, text, self.recorder, boot_id())
        self.desk = Desk(self.core, self._next_run_name)
        self._snapshots = SnapshotSource()
        self._inbox = Inbox()
        self._endpoint = Endpoint(
            paths.live, paths.command, self._snapshots, self._inbox, command_group=paths.command_group
        )
        self._uplink = UplinkWatch(paths.data)
        self._watchdog = Watchdog(os.environ.get("NOTIFY_SOCKET", ""))
        self._port: SerialPort | None = None
        self._next_open_mono_s = 0.0
        self._next_snapshot_mono_s = 0.0
        self._complained = ""
        self._stopping = False

    def run(self) -> int:
        """Run until told to stop; the result is the exit code."""
        found = self.recorder.start()
        try:
            self._endpoint.start()
        except OperatorError:
            self.recorder.close(CLOSE_DEADLINE_S)
            raise
        self.core.store_fault = self._store_fault
        self.core.store_warning = lambda: self.recorder.status.warning
        self.core.alerts_silent = lambda: self._uplink.says
        self._uplink.start()
        now = read_clocks()
        self.core.started_utc_s = now.t_wall_utc_s
        self.core.event(EventKind.CORE_STARTED, "Core started; motor permit off, latched.", now)
        for says in found:
            self._say(says)
        self._watchdog.ready(STARTED_SAYS)
        code = EXIT_CLEAN
        try:
            while not self._stopping:
                self.turn()
        except Exception as error:  # noqa: BLE001 - the loop's own fault: withdraw first, then say so and end
            self._send(self.core.internal_fault(f"{type(error).__name__}: {error}", read_clocks()))
            self._say(f"Internal fault: {type(error).__name__}: {error}. Motor permit withdrawn; the core ends.")
            code = EXIT_FAULT
        self._end(code)
        return code

    def stop(self, _signal: int = 0, _frame: FrameType | None = None) -> None:
        """End the loop after this turn."""
        self._stopping = True

    def turn(self) -> None:
        """Do one turn of the loop: at most `READ_TIMEOUT_S` of waiting, then everything that is due."""
        data = self._read_port()
        now = read_clocks()
        self._send(self.core.on_bytes(data, now))
        self._take_commands(now)
        self._send(self.desk.close_expired(now))
        self._watchdog.alive(now.t_mono_s)
        if now.t_mono_s >= self._next_snapshot_mono_s:
            self._next_snapshot_mono_s = now.t_mono_s + SNAPSHOT_EVERY_S
            self._snapshots.publish(snapshot.build(self.core, self.recorder.status, now))
        self.core.memory.late((time.monotonic() - now.t_mono_s) * 1000)

    def _read_port(self) -> bytes:
        if self._port is None:
            self._open_port()
        if self._port is None:
            time.sleep(READ_TIMEOUT_S)
            return b""
        try:
            return self._port.read(READ_TIMEOUT_S)
        except PortClosed as error:
            self._lose_port(str(error))
            return b""

    def _open_port(self) -> None:
        now = read_clocks()
        if now.t_mono_s < self._next_open_mono_s:
            return
        self._next_open_mono_s = now.t_mono_s + REOPEN_EVERY_S
        try:
            self._port = SerialPort(self._settings.link.port, self._settings.link.baud_hz)
        except RigNotConnected as error:
            if error.why != self._complained:
                self._complained = error.why
                self._say(error.sentence())
                self.core.event(EventKind.LINK, error.sentence(), now)
            return
        self._complained = ""
        self.core.on_port_opened(self._settings.link.port, now)

    def _lose_port(self, why: str) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None
        self.core.on_port_closed(why, read_clocks())

    def _send(self, data: bytes) -> None:
        if not data or self._port is None:
            return
        try:
            self._port.write(data)
        except PortClosed as error:
            self._lose_port(str(error))

    def _take_commands(self, now: Now) -> None:
        ticket = self._inbox.take()
        if ticket is None:
            return
        reply, out = self.desk.carry_out(ticket.command, now)
        self._send(out)
        ticket.answer(reply)

    def _next_run_name(self, t_wall_utc_s: float) -> str:
        day = time.strftime("%Y-%m-%d", time.localtime(t_wall_utc_s))
        return self.recorder.next_run_name(day, self._settings.rig.name)

    def _store_fault(self) -> str:
        status = self.recorder.status
        if status.last_error:
            return f"The record cannot be written: {status.last_error}"
        return self._endpoint.failed

    def _end(self, code: int) -> None:
        now = read_clocks()
        self._send(self.core.withdraw_now(now))
        self._watchdog.stopping()
        if self.core.runs.current is not None:  # a run that is left open reads as ended by power loss
            self.desk.carry_out(CloseRun("The core was stopped.", actor="scuffwatch"), now)
        self.core.event(EventKind.CORE_STOPPED, f"Core ends with code {code}; motor permit withdrawn.", now)
        self._endpoint.stop()
        self._uplink.stop()
        self.recorder.close(CLOSE_DEADLINE_S)
        if self._port is not None:
            self._port.close()
        self._watchdog.close()


def go_first() -> None:
    """Ask the system to run this process before pages and reports; without the right to it, go on as before."""
    with contextlib.suppress(PermissionError):
        os.nice(PRIORITY)


def read_clocks() -> Now:
    """Read both host clocks; the only place in the service that does."""
    return Now(time.monotonic(), time.time())


def serve(paths: Paths, say: Callable[[str], None], storage: Storage | None = None) -> int:
    """Run a core in this process until SIGTERM or SIGINT; see `App`."""
    app = App(paths, say, storage)
    go_first()
    sys.setswitchinterval(SWITCH_S)
    gc.freeze()
    signal.signal(signal.SIGTERM, app.stop)
    signal.signal(signal.SIGINT, app.stop)
    return app.run()
