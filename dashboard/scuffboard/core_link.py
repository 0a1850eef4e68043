"""The two sockets of the core, as this package uses them.

Names what a source of snapshots and a sender of commands are, and gives the sender.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from scuffwatch.control.client import Command, Reply, send

Json = dict[str, Any]
Source = Callable[[float], tuple[Json, float] | None]
Send = Callable[[Command, str], Reply]
COMMAND_TIMEOUT_S = 3.0


def command_sender(path: Path) -> Send:
    """Give `send(command, actor)` over the core's command socket; raises CoreNotReached where there is no reply."""
    return lambda command, actor: send(path, command, actor, COMMAND_TIMEOUT_S)
