"""The command `scuffboard`: serve the pages until it is told to stop.

Reads the command line, gives a waitress server. Heavy imports wait until the command line has been understood.
"""

import argparse
import os
import signal
import socket
import sys
from collections.abc import Sequence
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from scuffboard.settings import BoardSettings

if TYPE_CHECKING:
    from flask import Flask

SLOW_VIEWER_MS = 10_000
SEND_BUFFER_BYTES = 64 * 1024
EXIT_NO = 1
EXIT_USAGE = 2


def parser() -> argparse.ArgumentParser:
    """Give the command line."""
    p = argparse.ArgumentParser(prog="scuffboard", description="Serve the pages of the rig. Not a safety device.")
    p.add_argument("--data", type=Path, default=os.environ.get("SCUFFWATCH_DATA", "."), help="folder of the records")
    p.add_argument("--live", type=Path, help="the core's live socket (default: live.sock in the data folder)")
    p.add_argument("--command", type=Path, help="the core's command socket (default: command.sock in the data folder)")
    p.add_argument("--host", default="127.0.0.1", help="address to serve on")
    p.add_argument("--port", type=int, default=8180, help="port to serve on; 0 takes a free one")
    p.add_argument("--allow-host", action="append", default=[], metavar="NAME", help="further name of this server")
    p.add_argument("--monitor-width-mm", type=float, default=531.0, help="width of the wall monitor's picture")
    p.add_argument("--distance-m", type=float, default=5.0, help="distance the wall is read from")
    p.add_argument("--touch", action=argparse.BooleanOptionalAction, default=False, help="the wall is a touch screen")
    p.add_argument("--read-only", action="store_true", help="refuse every command but the stop request")
    p.add_argument("--sim-panel", type=Path, metavar="PATH", help="panel socket of the simulated rig")
    p.add_argument("--rigs", type=Path, metavar="FILE", help="list of all rigs, as scuffwatch uplink --wall writes it")
    p.add_argument("--viewers", type=int, default=24, help="live streams served at once")
    return p


def problems_of(arguments: argparse.Namespace) -> list[str]:
    """Give a sentence for each number on the command line that is out of bounds."""
    bounds = (
        ("--port", arguments.port, 0, 65_535, ""),
        ("--monitor-width-mm", arguments.monitor_width_mm, 50, 10_000, " mm"),
        ("--distance-m", arguments.distance_m, 0.1, 100, " m"),
        ("--viewers", arguments.viewers, 1, 1_000, ""),
    )
    return [
        f"{name} {value:g}{unit}: limits {low:g} to {high:g}{unit}. No page is served."
        for name, value, low, high, unit in bounds
        if not low <= value <= high
    ]


def settings_of(arguments: argparse.Namespace) -> BoardSettings:
    """Give the settings of a parsed command line."""
    names = {"localhost", "127.0.0.1", "[::1]", socket.gethostname().lower(), *map(str.lower, arguments.allow_host)}
    if arguments.host not in ("", "0.0.0.0", "::"):
        names.add(f"[{arguments.host}]" if ":" in arguments.host else arguments.host.lower())
    data = Path(arguments.data)
    return BoardSettings(
        data_dir=data,
        live_path=arguments.live or data / "live.sock",
        command_path=arguments.command or data / "command.sock",
        host=arguments.host,
        port=arguments.port,
        monitor_width_mm=arguments.monitor_width_mm,
        distance_m=arguments.distance_m,
        touch=arguments.touch,
        read_only=arguments.read_only,
        panel_path=arguments.sim_panel,
        rigs_path=arguments.rigs,
        viewers_cap=arguments.viewers,
        allowed_hosts=frozenset(names),
    )


def make_server(app: "Flask", settings: BoardSettings) -> Any:
    """Give the server, listening but not yet serving. A viewer that takes nothing for 10 s is dropped by the kernel."""
    from waitress.server import create_server

    server = create_server(
        app,
        host=settings.host,
        port=settings.port,
        threads=settings.threads,
        ident=None,
        outbuf_high_watermark=SEND_BUFFER_BYTES,
        connection_limit=4 * settings.threads,
        channel_timeout=30,
        cleanup_interval=5,
    )
    server.adj.socket_options = [
        (socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),
        (socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, SLOW_VIEWER_MS),
        (socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES),
    ]
    return server


def serve(settings: BoardSettings) -> int:
    """Serve until SIGTERM or SIGINT; the result is the exit code."""
    from scuffboard.app import create_app

    app = create_app(settings)
    hubs = app.extensions["hubs"]
    try:
        server = make_server(app, settings)
    except (OSError, ValueError) as error:  # taken or not allowed; an address that is not of this computer
        for hub in hubs:
            hub.close()
        why = (isinstance(error, OSError) and error.strerror) or str(error)
        do = "Give another --port or --host, or stop what is served there."
        print(f"{settings.host} port {settings.port}: {why}. No page is served. {do}", file=sys.stderr)
        return EXIT_NO

    def stop(signal_number: int, frame: FrameType | None) -> None:
        for hub in hubs:
            hub.end_streams()
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    print(f"scuffboard: pages at http://{settings.host}:{server.effective_port}/", flush=True)
    server.run()
    for hub in hubs:
        hub.close()
    server.close()
    return 0


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command; gives the exit code."""
    arguments = parser().parse_args(argv)
    if problems := problems_of(arguments):
        print(*problems, sep="\n", file=sys.stderr)
        return EXIT_USAGE
    settings = settings_of(arguments)
    if settings.rigs_path is None and not settings.data_dir.is_dir():
        says = f"Data folder {settings.data_dir} is not there. The pages are empty until a core makes it. Check --data."
        print(says, file=sys.stderr, flush=True)
    return serve(settings)


if __name__ == "__main__":
    sys.exit(main())
