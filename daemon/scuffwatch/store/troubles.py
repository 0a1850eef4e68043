"""Troubles with the disk: which part of the record failed, what it said, and when it may be tried again.

Reads failures and the monotonic clock as arguments, gives whether to try. Each part waits by itself, twice as long
after each failure up to a limit; a disk that is only busy is asked again soon.
"""


class Troubles:
    """Keep the failures of the parts of a record.

    Args:
        parts: their names.
        retry_s, retry_max_s: wait after the first failure, and the longest, s.

    What survives a call: what is wrong with each part, and until when it rests.
    """

    def __init__(self, parts: tuple[str, ...], retry_s: float, retry_max_s: float) -> None:
        self._retry_s, self._retry_max_s = retry_s, retry_max_s
        self._due_mono_s = dict.fromkeys(parts, 0.0)
        self._pause_s = dict.fromkeys(parts, retry_s)
        self._problems: dict[str, str] = {}

    @property
    def says(self) -> tuple[str, ...]:
        """Give what is wrong now, one sentence a part."""
        return tuple(self._problems.values())

    def stands(self, part: str) -> bool:
        """Say whether a part has failed and not worked since."""
        return part in self._problems

    def may_try(self, part: str, t_mono_s: float) -> bool:
        """Say whether a part need not rest any longer."""
        return t_mono_s >= self._due_mono_s[part]

    def failed(self, part: str, error: Exception, t_mono_s: float, *, busy: bool) -> bool:
        """Take a failure; give whether it is the first one since the part worked.

        Args:
            part: which.
            error: as the disk raised it.
            t_mono_s: now, s.
            busy: whether somebody else only holds the file for a moment.
        """
        first = part not in self._problems
        self._problems[part] = f"Recording failed ({part}): {error}."
        self._due_mono_s[part] = t_mono_s + (self._retry_s if busy else self._pause_s[part])
        self._pause_s[part] = min(2 * self._pause_s[part], self._retry_max_s)
        return first

    def over(self, part: str) -> bool:
        """Take that a part has worked; give whether it had failed before."""
        if self._problems.pop(part, None) is None:
            return False
        self._pause_s[part] = self._retry_s
        return True
