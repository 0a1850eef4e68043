"""Settings of the page server, one frozen table.

Made by `main` from the command line, read by every other module of this package.
"""

from dataclasses import dataclass
from pathlib import Path

SPARE_THREADS = 8


@dataclass(frozen=True, slots=True)
class BoardSettings:
    """Where the page server finds things and what it allows.

    Attributes:
        data_dir: folder of the records; read only.
        live_path, command_path: the core's two sockets.
        host, port: where the pages are served.
        monitor_width_mm: width of the wall monitor's picture, mm, > 0.
        distance_m: distance the wall is read from, m, > 0.
        touch: whether the wall monitor is a touch screen; only then it carries the stop request.
        read_only: whether every command but the stop request is refused.
        panel_path: socket of the simulated rig's panel, or None where there is none.
        rigs_path: list of all rigs that `scuffwatch uplink --wall FILE` writes, or None where none is shown.
        viewers_cap: live streams served at once, of the rig and of all rigs each; further ones are told so.
        allowed_hosts: names a browser may use for this server, lower case, without port.
    """

    data_dir: Path
    live_path: Path
    command_path: Path
    host: str = "127.0.0.1"
    port: int = 8180
    monitor_width_mm: float = 531.0
    distance_m: float = 5.0
    touch: bool = False
    read_only: bool = False
    panel_path: Path | None = None
    rigs_path: Path | None = None
    viewers_cap: int = 24
    allowed_hosts: frozenset[str] = frozenset({"localhost", "127.0.0.1", "[::1]"})

    @property
    def threads(self) -> int:
        """Give the number of server threads: one for each stream, and spare ones for pages."""
        return self.viewers_cap * (1 if self.rigs_path is None else 2) + SPARE_THREADS
