"""Apprise way: one message to mail, chat, phone or a web hook. The only file that knows the notification library.

Reads title, body and a picture, gives why it was not accepted, or nothing.
"""

import tempfile
from pathlib import Path
from urllib.parse import urlsplit

import apprise

from scuffwatch.model.errors import ConfigError
from scuffwatch.uplink.alert_text import Text


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
