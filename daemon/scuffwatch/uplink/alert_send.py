"""Alert send: one message to one channel.

Reads title, body and a picture, gives why it was not accepted, or nothing. Accepted means that the other side has taken
it: the mail server, the web hook, the gateway. What they do with it afterwards is theirs.
"""

from pathlib import Path
from typing import Protocol

from scuffwatch.uplink.alert_text import Text, moment


class Way(Protocol):
    """A way to reach people."""

    def send(self, text: Text, image: bytes, t_wall_utc_s: float) -> str:
        """Send; give an empty string where it was accepted, else why not."""


class LogWay:
    """Appends messages to a file, as they would be mailed; for the demonstration and for a rig without a network."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def send(self, text: Text, image: bytes, t_wall_utc_s: float) -> str:
        """Append; give an empty string where it was written, else why not."""
        entry = f"Date: {moment(t_wall_utc_s)}\nSubject: {text.title}\n\n{text.body}\n\n{'-' * 72}\n"
        try:
            with self._path.open("a", encoding="utf-8") as log:
                log.write(entry)
        except OSError as error:
            return f"{self._path.name} cannot be written: {error.strerror}"
        return ""
