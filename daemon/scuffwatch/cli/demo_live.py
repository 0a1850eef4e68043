"""The demonstration to look at: simulated rig, core and pages until Ctrl-C.

Reads the live picture, shows one line on the terminal; the operator's acts are `demo_operator`'s.
"""

import signal
import socket
import time
from pathlib import Path
from types import FrameType
from typing import Any

from scuffwatch.cli.demo_operator import Operator
from scuffwatch.cli.demo_session import Session
from scuffwatch.cli.processes import Children
from scuffwatch.model.errors import ConfigError, ScuffwatchError
from scuffwatch.uplink.app import prove_channels
from scuffwatch.uplink.settings import load

PORT = 8180
PORTS_TRIED = 20
PAGES_WITHIN_S = 30.0
HOST = "127.0.0.1"
LINE_EVERY_S = 0.5
MAIL_LOG = "mail.log"
RIG = "rig 2"


class Stopped(Exception):
    """Ctrl-C, or the service manager, ends the demonstration."""


def run(folder: Path, scenario: str, seed: int, speed: float, port: int | None = None) -> int:
    """Show the demonstration until it is stopped; the result is the exit code.

    Raises:
        ConfigError: the port is taken.
        InternalError: a process has ended, or this computer is too busy to begin.
    """
    signal.signal(signal.SIGTERM, _stop)
    port = free_port(port)
    with Children(folder) as children:
        session = Session(folder, children, scenario, seed, speed)
        try:
            _start(session, children, folder, port)
            _follow(session, Operator(session))
        except (Stopped, KeyboardInterrupt):
            print("\nStopping: the permit is withdrawn, the record is closed.", flush=True)
        except ScuffwatchError:
            print(flush=True)  # what is said next must not stand behind the line of the rig
            raise
    return 0


def free_port(asked: int | None) -> int:
    """Give the port asked for, or the first free one from 8180 on: several demonstrations can stand side by side.

    Raises:
        ConfigError: the port asked for is taken, or all of them are.
    """
    ports = range(PORT, PORT + PORTS_TRIED) if asked is None else (asked,)
    for port in ports:
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return port
    taken = f"port {asked}" if asked is not None else f"ports {PORT} to {PORT + PORTS_TRIED - 1}"
    raise ConfigError(
        (f"{taken} of this computer: taken or not allowed. Nothing has been started. Give another, --port N.",)
    )


def _start(session: Session, children: Children, folder: Path, port: int) -> None:
    print("Starting the simulated rig, the core and the pages …", flush=True)
    session.start_rig()
    session.start_core()
    words = ["--data", str(folder), "--live", str(folder / "live.sock"), "--command", str(folder / "command.sock")]
    words += ["--host", HOST, "--port", str(port), "--sim-panel", str(folder / "panel.sock")]
    children.start("pages", "scuffboard.main", *words)
    log = folder / "pages.log"
    session.wait("the pages", lambda: "pages at" in log.read_text(errors="replace"), PAGES_WITHIN_S)
    address = f"http://{HOST}:{port}"
    print(f"Wall screen:     {address}/wall")
    print(f"Bench:           {address}/bench")
    print(f"Simulated rig:   {address}/rig   (pull the cable, open the guard, press reset, choose what happens)")
    print(f"Mail log:        {folder / MAIL_LOG}   (what would be mailed to whoever is on call)")
    print("Ctrl-C stops everything.", flush=True)
    uplink = _proved_uplink_file(folder)
    children.start("uplink", "scuffwatch.cli.main", "uplink", "--data", str(folder), "--settings", str(uplink))


def _proved_uplink_file(folder: Path) -> Path:
    """Write the settings of an uplink that mails into a file, with a test mail as after any installation."""
    path = folder / "uplink.toml"
    path.write_text(
        f'[uplink]\nrig = "{RIG}"\nmetrics_port = 0\n[channels.mail]\nlog_file = "{MAIL_LOG}"\nrepeat_s = 60\n',
        encoding="utf-8",
    )
    prove_channels(load(path), folder, lambda _name, _why_not: None)
    return path


def _follow(session: Session, operator: Operator) -> None:
    done = operator.begin()
    while True:
        if done:
            print(f"\r\033[K{done}", flush=True)
        session.check()
        picture = session.snapshot(timeout_s=30.0)
        print(f"\r\033[K{_line(picture)}", end="", flush=True)
        done = operator.turn(picture)
        time.sleep(LINE_EVERY_S)


def _line(picture: dict[str, Any]) -> str:
    run, permit = picture["run"], picture["permit"]
    friction = picture["channels"].get("friction_coefficient", {}).get("value")
    pin = picture["channels"].get("pin_temperature_degc", {}).get("value")
    stage = f"stage {run['stage']}" if run else "no run"
    values = f"friction {friction:.3f}" if friction is not None else "friction – –"
    heat = f"pin {pin:.1f} °C" if pin is not None else "pin – –"
    first_out = permit["first_out"]["says"] if permit["state"] == "tripped" and permit["first_out"] else ""
    return f"{permit['state'].upper():9}  {stage}  {values}  {heat}  {first_out}"


def _stop(_signal: int, _frame: FrameType | None) -> None:
    raise Stopped
