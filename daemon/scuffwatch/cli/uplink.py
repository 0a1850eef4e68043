"""`scuffwatch uplink`: what the record holds to a time-series store, a broker and people, in a process of its own.

With `--wall FILE` it reads instead: all rigs on the broker as one small file for a wall page. With `--retry-quarantine`
rows that were put aside are queued anew, and it ends. With `--full-rate RUN` every sample of one closed run goes to the
time-series store, and it ends.
"""

import _thread
import argparse
import signal
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scuffwatch.uplink.ledger import Totals
    from scuffwatch.uplink.settings import UplinkSettings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--settings", metavar="FILE", default="uplink.toml", help="settings (default: uplink.toml)")
    parser.add_argument(
        "--live", metavar="SOCKET", help="live socket of the core (default: live.sock in the data folder)"
    )
    parser.add_argument("--wall", metavar="FILE", help="write all rigs on the broker to this file instead")
    parser.add_argument("--full-rate", metavar="RUN", help="send every sample of this closed run instead, and end")
    parser.add_argument("--retry-quarantine", action="store_true", help="queue rows that were put aside anew, and end")


def run(args: argparse.Namespace) -> int:
    """Run the uplink until it is told to stop."""
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.uplink.settings import load

    settings = load(Path(args.settings))
    stop = threading.Event()
    stop_on_signals(stop)
    if args.wall:
        return _wall(settings, Path(args.wall), stop)
    if not args.data:
        raise ConfigError(("No data folder: say --data DIR or set SCUFFWATCH_DATA. Nothing has been started.",))
    data_dir = Path(args.data)
    if not data_dir.is_dir():  # no reason to end: alerts must go out with a dead disk, and the core may start later
        says = f"Data folder {data_dir} is not there. Nothing can be read until a core makes it. Check --data."
        print(says, file=sys.stderr, flush=True)
    if args.retry_quarantine:
        return _retry(data_dir)
    if args.full_rate:
        return _full_rate(settings, data_dir, args.full_rate, stop)
    from scuffwatch.uplink.app import App

    app = App(settings, data_dir, Path(args.live) if args.live else data_dir / "live.sock")
    print(f"Uplink of {settings.uplink.rig}: {_says(settings)}.", file=sys.stderr, flush=True)
    return app.run(stop)


def stop_on_signals(stop: threading.Event) -> None:
    """Let SIGTERM and SIGINT set an event.

    In a thread of its own: a handler that runs while its own thread has the event's lock in hand, or on top of the
    first one's (Ctrl-C reaches the whole group, and the demonstration ends its children as well), would wait for ever.
    """
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: _thread.start_new_thread(stop.set, ()))


def _says(settings: "UplinkSettings") -> str:
    parts = [f"time series to {settings.timeseries.url}"] if settings.timeseries else []
    parts += [f"messages to {settings.mqtt.host}:{settings.mqtt.port}"] if settings.mqtt else []
    parts += [f"alerts by {', '.join(settings.channels)}"] if settings.channels else []
    return "; ".join(parts) or "nothing is configured"


def _wall(settings: "UplinkSettings", path: Path, stop: threading.Event) -> int:
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.store.names import rig_slug
    from scuffwatch.uplink.settings import secret
    from scuffwatch.uplink.wall import Wall

    if settings.mqtt is None:
        raise ConfigError(("--wall needs the section [mqtt]. Nothing has been started.",))
    credentials = secret(settings.mqtt.credentials_file, "[mqtt] credentials_file")
    wall = Wall(settings.mqtt, credentials, f"scuffwatch-{rig_slug(settings.uplink.rig)}-wall", path)
    thread = threading.Thread(target=wall.run, name="wall")
    thread.start()
    while thread.is_alive() and not stop.wait(0.2):
        pass
    wall.stop()
    thread.join()
    return 0 if stop.is_set() else 1


def _full_rate(settings: "UplinkSettings", data_dir: Path, name: str, stop: threading.Event) -> int:
    """Send one run; the exit code is 0 only where all of it is on the store."""
    from scuffwatch.cli.records import show_progress
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.uplink.one_run import send_run

    if settings.timeseries is None:
        raise ConfigError(("--full-rate needs the section [timeseries]. Nothing has been sent.",))
    heard = [""]

    def progress(account: "Totals", says: str) -> None:
        show_progress(account.sent / max(account.produced, 1))
        if says and says != heard[0]:
            print(f"The store: {says}. Trying again.", file=sys.stderr, flush=True)
        heard[0] = says

    done = send_run(settings.timeseries, settings.uplink.rig, data_dir, name, stop, progress)
    show_progress(1.0)
    print(f"Run {name}: {done.produced} samples, {done.sent} sent, {done.queued} queued, {done.quarantined} put aside.")
    return 0 if done.sent == done.produced else 1


def _retry(data_dir: Path) -> int:
    from scuffwatch.uplink.app import FOLDER, boot_id, boot_s
    from scuffwatch.uplink.full_rate import NAME
    from scuffwatch.uplink.ledger import Ledger

    paths = {name: data_dir / FOLDER / f"{name}.sqlite" for name in ("timeseries", NAME)}
    known = {name: path for name, path in paths.items() if path.exists()}
    if not known:
        print(f"No uplink has worked in {data_dir}: there are no rows to queue anew.")
    for name, path in known.items():
        ledger = Ledger(path, boot_id(), boot_s())
        for stream, place, _, reason in ledger.quarantine():
            print(f"{stream} {place}: {reason}")
        print(f"Rows of {name} queued anew: {ledger.release_quarantine()} ({time.strftime('%H:%M:%S')}).")
        ledger.close()
    return 0
