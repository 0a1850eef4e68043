"""The two sockets of the core, as this package uses them.

Gives a source of snapshots for the hub and a sender of commands for the routes. The only place that knows the client.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from scuffwatch.control.client import Command, LiveClient, Reply, send

Json = dict[str, Any]
Source = Callable[[float], tuple[Json, float] | None]
Send = Callable[[Command, str], Reply]
COMMAND_TIMEOUT_S = 3.0


def live_source(path: Path) -> Source:
    """Give `source(timeout_s)` over the core's live socket: the next snapshot and when it was made, or None."""
    return LiveClient(path).latest


def command_sender(path: Path) -> Send:
    """Give `send(command, actor)` over the core's command socket; raises CoreNotReached where there is no reply."""
    return lambda command, actor: send(path, command, actor, COMMAND_TIMEOUT_S)
