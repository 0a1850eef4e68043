"""Alert send: one message to one channel. The only file that knows the notification library.

Reads title, body and a picture, gives why it was not accepted, or nothing. Accepted means that the other side has taken
it: the mail server, the web hook, the gateway. What they do with it afterwards is theirs.
"""

import tempfile
from pathlib import Path
from typing import Protocol
from urllib.parse import urlsplit

import apprise

from scuffwatch.model.errors import ConfigError
from scuffwatch.uplink.alert_text import Text, moment


class Way(Protocol):
    """A way to reach people."""

    def send(self, text: Text, image: bytes, t_wall_utc_s: float) -> str:
        """Send; give an empty string where it was accepted, else why not."""


class AppriseWay:
    """Sends by an apprise address: mail, chat, phone gateways, web hooks.

    Args:
        url: the address; it holds secrets and never goes into a message of ours.
        timeout_s: longest wait to connect and to read, s.
    Raises:
        ConfigError: apprise does not know the address. Asking it here also loads all that the first message needs.
    """

    def __init__(self, url: str, timeout_s: float) -> None:
        joint = "&" if urlsplit(url).query else "?"
        bounded = f"{url}{joint}cto={timeout_s:g}&rto={timeout_s:g}"
        way = apprise.Apprise.instantiate(bounded, suppress_exceptions=True)
        if way is None:
            kind = url.partition(":")[0]
            raise ConfigError((f"an alert address that begins with {kind}: is none that apprise knows.",))
        self._way = way

    def send(self, text: Text, image: bytes, t_wall_utc_s: float) -> str:
        """Send; give an empty string where it was accepted, else why not."""
        with (
            apprise.LogCapture(  # type: ignore[no-untyped-call]
                level=apprise.logging.WARNING
            ) as said,
            tempfile.TemporaryDirectory() as folder,
        ):
            attached = None
            if image:
                path = Path(folder) / "last-two-minutes.png"
                path.write_bytes(image)
                attached = apprise.AppriseAttachment(str(path))
            # The plug-in itself, in this thread: the library's pool has a bound that hanging channels would use up.
            accepted = self._way.notify(body=text.body, title=text.title, body_format="text", attach=attached)
            why = " ".join(said.getvalue().split())[-200:]
        return "" if accepted else why or "it was not accepted"


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
