"""Has a record verified, one at a time.

Reads a run through the store's own check, gives the words of the page. A verification reads every byte: it is asked
for, never done unasked.
"""

import threading
from collections.abc import Callable
from typing import Any

from scuffboard import run_words as words
from scuffwatch.store.reader import Verified

Json = dict[str, Any]
Verify = Callable[[str], Verified]


class Verifier:
    """Runs one verification at a time.

    Args:
        verify: checks the run of a name; raises RecordUnreadable where it cannot be opened.
    """

    def __init__(self, verify: Verify) -> None:
        self._verify = verify
        self._busy = threading.Lock()

    def check(self, name: str) -> Json:
        """Give whether it was checked, whether it is whole, and the sentences about it."""
        if not self._busy.acquire(blocking=False):
            return {"checked": False, "says": "Not verified: another record is being verified. Try again in a while."}
        try:
            return view(self._verify(name))
        finally:
            self._busy.release()


def view(found: Verified) -> Json:
    """Give the result in words."""
    many = len(found.findings)
    whole = "Whole: the record is as it was written."
    broken = f"NOT whole: {many} {'thing is' if many == 1 else 'things are'} not as they must be."
    return {
        "checked": True,
        "sound": found.sound,
        "says": whole if found.sound else broken,
        "findings": list(found.findings[:20]),
        "counted": f"Read: {words.grouped(found.chunks)} chunks with {words.grouped(found.samples)} samples of their "
        f"channels, {words.grouped(found.events)} events.",
    }
