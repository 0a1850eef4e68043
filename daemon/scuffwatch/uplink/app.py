"""App: the uplink as a process: which parts are configured, each in its thread, and the status every second.

The libraries of a part are imported when it is configured: an uplink that only mails stays small.

Reads settings and a data folder, runs until told to stop. Touches no device, writes nothing but `uplink/` in the data
folder, and never opens `command.sock`.
"""

import contextlib
import fcntl
import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from scuffwatch.model.errors import CommandRefused, ConfigError
from scuffwatch.store.reader import Archive
from scuffwatch.uplink import status
from scuffwatch.uplink.alert_book import AlertBook
from scuffwatch.uplink.alert_send import LogWay, Way
from scuffwatch.uplink.alerts import AlertDesk, Courier
from scuffwatch.uplink.ledger import Ledger
from scuffwatch.uplink.metrics import MetricsServer
from scuffwatch.uplink.pictures import Pictures
from scuffwatch.uplink.settings import Channel, TimeSeries, UplinkSettings, secret
from scuffwatch.uplink.threads import Threads

if TYPE_CHECKING:
    from scuffwatch.uplink.full_rate import FullRate
    from scuffwatch.uplink.mqtt import Publisher
    from scuffwatch.uplink.post import InfluxPost
    from scuffwatch.uplink.timeseries import Sender

FOLDER = "uplink"
STATUS_EVERY_S = 1.0
CLOSE_S = 20.0
FAULT_PAUSE_S = 1.0


def boot_id() -> str:
    """Give the identity of the kernel's boot; empty where the kernel gives none."""
    path = Path("/proc/sys/kernel/random/boot_id")
    return path.read_text().strip() if path.exists() else ""


def boot_s() -> float:
    """Give the clock that counts from the kernel's boot, s."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def way_of(name: str, channel: Channel, settings: UplinkSettings, data_dir: Path) -> Way:
    """Give the way an alert channel is set to.

    Raises:
        ConfigError: its file cannot be read, or others may read it.
    """
    if channel.log_file:
        return LogWay(data_dir / channel.log_file)
    from scuffwatch.uplink.apprise_way import AppriseWay

    return AppriseWay(secret(channel.url_file, f"[channels.{name}] url_file"), settings.alerts.timeout_s)


class App:
    """One uplink.

    Args:
        settings: all of them.
        data_dir: the data folder of the core.
        live_path: of `live.sock`.
    Raises:
        ConfigError: a secret cannot be read, or others may read it; every problem at once.
        CommandRefused: another uplink works for this folder.
    """

    def __init__(self, settings: UplinkSettings, data_dir: Path, live_path: Path) -> None:
        self._settings, self._data_dir = settings, data_dir
        self._folder = data_dir / FOLDER
        self._ways, self._token, self._credentials = self._secrets()
        self._held = hold(self._folder)
        self._archive = Archive(data_dir)
        self._started_utc_s = time.time()
        self._threads = Threads()
        self._pictures = Pictures(live_path)
        self._book = AlertBook(self._folder / "alerts.sqlite")
        self._ledgers: list[Ledger] = []
        self._sender: tuple[Sender, Ledger] | None = None
        self._full_rate: tuple[FullRate, Ledger] | None = None
        self._publisher: tuple[Publisher, Ledger] | None = None
        self._couriers: list[Courier] = []
        self.metrics_port = 0

    def _secrets(self) -> tuple[dict[str, Way], str, str]:
        problems: list[str] = []
        ways: dict[str, Way] = {}
        token = credentials = ""
        for name, channel in self._settings.channels.items():
            with _collected(problems):
                ways[name] = way_of(name, channel, self._settings, self._data_dir)
        with _collected(problems):
            token = (
                secret(self._settings.timeseries.token_file, "[timeseries] token_file")
                if self._settings.timeseries
                else ""
            )
        with _collected(problems):
            credentials = (
                secret(self._settings.mqtt.credentials_file, "[mqtt] credentials_file") if self._settings.mqtt else ""
            )
        if problems:
            raise ConfigError(tuple(problems))
        return ways, token, credentials

    def run(self, stop: threading.Event) -> int:
        """Run until told to stop; the result is the exit code."""
        self._pictures.start()
        self._start_alerts()
        if self._settings.timeseries is not None:
            self._start_timeseries(self._settings.timeseries)
        if self._settings.mqtt is not None:
            self._start_mqtt()
        if self._settings.uplink.metrics_port:
            server = MetricsServer(self._settings.uplink.metrics_port, lambda: status.openmetrics(self.status()))
            self.metrics_port = server.port
            self._threads.start("metrics", server.run, server.stop)
        while True:
            with contextlib.suppress(OSError):  # a dead disk: the picture and the metrics go on
                status.write(self.status(), self._folder)
            if stop.wait(STATUS_EVERY_S):
                break
        return self._close()

    def _close(self) -> int:
        ended = self._threads.close(CLOSE_S)
        self._pictures.close()
        for ledger in self._ledgers:
            ledger.close()
        self._book.close()
        with contextlib.suppress(OSError):
            (self._folder / status.STATUS_FILE).unlink(missing_ok=True)
        if self._held >= 0:
            os.close(self._held)
        return 0 if ended else 1

    def status(self) -> status.Status:
        """Give how the uplink stands now."""
        faults = dict(self._threads.faults)
        if self._book.problem:
            faults["alert book"] = self._book.problem
        return status.Status(
            rig=self._settings.uplink.rig,
            t_wall_utc_s=time.time(),
            t_boot_s=boot_s(),
            started_utc_s=self._started_utc_s,
            core_age_s=self._pictures.seen().age_s,
            timeseries=None if self._sender is None else (self._sender[0].state, self._sender[1].totals()),
            mqtt=None if self._publisher is None else (self._publisher[0].state, self._publisher[1].totals()),
            channels=tuple(courier.state() for courier in self._couriers),
            faults=faults,
            full_rate=None if self._full_rate is None else (self._full_rate[0].state, self._full_rate[1].totals()),
            unavailable_runs=() if self._full_rate is None else self._full_rate[0].unavailable,
        )

    # -- parts

    def _start_alerts(self) -> None:
        settings, rig = self._settings, self._settings.uplink.rig
        desk = AlertDesk(rig, settings.alerts, settings.channels, self._pictures, self._archive, self._book, boot_id())
        self._couriers = [Courier(name, way, self._book, settings.alerts) for name, way in self._ways.items()]
        self._threads.start("alerts", desk.run, desk.stop)
        for courier in self._couriers:
            self._threads.start(f"alert channel {courier.name}", courier.run, courier.stop)

    def _start_timeseries(self, given: TimeSeries) -> None:
        from scuffwatch.uplink.post import InfluxPost
        from scuffwatch.uplink.tail import Tail
        from scuffwatch.uplink.timeseries import Sender, SendRules

        ledger = self._ledger("timeseries")
        uplink = self._settings.uplink
        tail = Tail(self._archive, uplink.rig, uplink.rate_hz, ledger.stamps, uplink.idle)
        post = InfluxPost(given.url, given.org, given.bucket, self._token, given.timeout_s, given.ca_file)
        rules = SendRules(batch_rows=given.batch_rows, rewind_s=given.rewind_s)
        sender = Sender(tail, ledger, post, rules)
        self._sender = sender, ledger
        self._send_in_turns("time series", sender.turn, post)
        if given.full_rate_max_rows_per_s:
            self._start_full_rate(given, lambda: sender.idle)

    def _start_full_rate(self, given: TimeSeries, gap: Callable[[], bool]) -> None:
        from scuffwatch.uplink import full_rate
        from scuffwatch.uplink.closed_runs import ClosedRuns
        from scuffwatch.uplink.post import InfluxPost

        ledger, rate = self._ledger(full_rate.NAME), given.full_rate_max_rows_per_s
        runs = ClosedRuns(self._archive, self._settings.uplink.rig, time.time)
        post = InfluxPost(given.url, given.org, given.bucket, self._token, given.timeout_s, given.ca_file, "ns")
        rules = full_rate.rules(given.batch_rows, rate, given.rewind_s)
        upload = full_rate.FullRate(runs, ledger, post, rules, rate, gap)
        self._full_rate = upload, ledger
        self._send_in_turns("full rate", upload.turn, post)

    def _send_in_turns(self, name: str, turn: Callable[[], float], post: "InfluxPost") -> None:
        halt = threading.Event()

        def work() -> None:
            while not halt.is_set():
                halt.wait(turn())
            post.close()

        self._threads.start(name, work, halt.set)

    def _start_mqtt(self) -> None:
        from scuffwatch.uplink.mqtt import Publisher

        assert self._settings.mqtt is not None
        ledger, rig = self._ledger("mqtt"), self._settings.uplink.rig
        publisher = Publisher(self._settings.mqtt, self._credentials, rig, self._archive, ledger, self._pictures)
        self._publisher = publisher, ledger
        self._threads.start("mqtt", publisher.run, publisher.stop)

    def _ledger(self, name: str) -> Ledger:
        """Give a destination's ledger; where the disk does not take it, one in memory, and all is sent anew."""
        try:
            ledger = Ledger(self._folder / f"{name}.sqlite", boot_id(), boot_s())
        except (sqlite3.Error, OSError) as error:
            self._threads.faults[f"{name} ledger"] = f"kept in memory: {error}"
            ledger = Ledger(Path(":memory:"), boot_id(), boot_s())
        self._ledgers.append(ledger)
        return ledger


@contextlib.contextmanager
def _collected(problems: list[str]) -> Iterator[None]:
    try:
        yield
    except ConfigError as error:
        problems.extend(error.problems)


def hold(folder: Path) -> int:
    """Hold the folder, so that no second uplink sends the same; -1 where the disk does not even take a lock."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(folder / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError:
        return -1
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        do = "Stop it first, or name another data folder with --data."
        raise CommandRefused("Uplink", f"another uplink works for {folder.parent}", do) from None
    return descriptor


def prove_channels(settings: UplinkSettings, data_dir: Path, told: Callable[[str, str], None]) -> bool:
    """Send a test message on every alert channel and enter what became of it; give whether all accepted it.

    Args:
        settings: all of them.
        data_dir: the data folder; the result goes into its alert book.
        told: called with each channel and why it did not accept, or an empty string.
    Raises:
        ConfigError: a secret cannot be read, or others may read it; every problem at once, before anything is sent.
    """
    from scuffwatch.uplink.alert_text import trial

    problems: list[str] = []
    ways: dict[str, Way] = {}
    for name, channel in settings.channels.items():
        with _collected(problems):
            ways[name] = way_of(name, channel, settings, data_dir)
    if problems:
        raise ConfigError(tuple(problems))
    book = AlertBook(data_dir / FOLDER / "alerts.sqlite", timeout_s=5.0)
    all_well = True
    try:
        for name, way in ways.items():
            why_not = way.send(trial(settings.uplink.rig, name), b"", time.time())
            book.prove(name, time.time(), why_not)
            told(name, why_not)
            all_well = all_well and not why_not
    finally:
        book.close()
    return all_well
