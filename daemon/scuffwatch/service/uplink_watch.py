"""Is the uplink alive, and does it reach anybody? Looked at from the core, so that its silence is an alarm at the rig.

Reads `uplink/status.json` in the data folder every few seconds, in a thread of its own, since a disk may hang; gives
one sentence while nobody away from the rig would be called. The loop reads a string and waits for nothing.
"""

import json
import threading
import time
from collections.abc import Callable
from pathlib import Path

LOOK_EVERY_S = 3.0
OLD_S = 10.0
"""The uplink writes its status every second; one older than this is that of a dead uplink."""
LOOK_LATE_S = 15.0
"""A look that has not come back for so long hangs, or its thread has died: then nothing is known."""


def since_boot_s() -> float:
    """Give the clock that counts from the kernel's boot and goes on in sleep, s."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def judge(text: str, now_boot_s: float) -> str:
    """Say why nobody away from the rig would be called; empty where somebody would, or no alerts are set up.

    Args:
        text: of the status file.
        now_boot_s: `since_boot_s` now.
    """
    try:
        status = json.loads(text)
        age_s = now_boot_s - float(status["t_boot_s"])
        alerts = status["alerts"]
        silent = (str(alerts["says"]) or "No alert channel is known to work.") if alerts["silent"] else ""
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError):  # what any bytes can do to the two readers
        return "The uplink's status cannot be read, so alerts may not go out. Restart the uplink."
    if not -OLD_S <= age_s <= OLD_S:
        since = f"for {age_s:.0f} s, limit {OLD_S:.0f} s" if age_s > 0.0 else "since this computer started"
        return f"The uplink has said nothing {since}: no alert goes out. Start it again or stop it by order."
    return silent


class UplinkWatch:
    """Look at the uplink's status again and again.

    Args:
        data: data folder.
        clock: gives the time since boot, s.

    What survives a call: what the last look said, and when it came back.
    """

    def __init__(self, data: Path, clock: Callable[[], float] = since_boot_s) -> None:
        self._file = data / "uplink" / "status.json"
        self._clock = clock
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="uplink-watch", daemon=True)
        self._last = ("", clock())

    @property
    def says(self) -> str:
        """Give why nobody away from the rig would be called; empty otherwise."""
        says, looked_boot_s = self._last
        late_s = self._clock() - looked_boot_s
        if late_s <= LOOK_LATE_S:
            return says
        return (
            f"The uplink's status has not been read for {late_s:.0f} s, limit {LOOK_LATE_S:.0f} s: "
            "alerts may not go out. Look at the disk, then restart the core."
        )

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """End; a look that hangs on a dead disk is left behind."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join(timeout=1.0)

    def look(self) -> None:
        """Look once. Without a file no uplink is meant to run: it is removed when the uplink is stopped by order."""
        says = self._read()
        self._last = (says, self._clock())

    def _read(self) -> str:
        try:
            text = self._file.read_text(encoding="utf-8")
        except FileNotFoundError:
            return ""
        except (OSError, UnicodeDecodeError) as error:
            return f"The uplink's status cannot be read, so alerts may not go out: {error}."
        return judge(text, self._clock())

    def _run(self) -> None:
        while not self._ended.is_set():
            self.look()
            self._ended.wait(LOOK_EVERY_S)
