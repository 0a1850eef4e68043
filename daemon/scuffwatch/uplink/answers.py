"""Answers: what a time-series store may say to a batch, as values.

Reads nothing. `post` makes them, `timeseries` decides on them; neither the client library nor a socket is needed here.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Protocol


class Verdict(Enum):
    """What became of a batch."""

    ACCEPTED = "accepted"
    REFUSED = "refused"
    """Some or all of its lines; sent in parts the good ones go in."""
    LATER = "later"


@dataclass(frozen=True, slots=True)
class Answer:
    """What the store said.

    Attributes:
        verdict: see `Verdict`.
        says: one clause; empty where accepted.
        retry_after_s: what it asked for, s; 0 where nothing.
        away: whether no answer came at all, or that of a server in trouble: it may have been restarted.
    """

    verdict: Verdict
    says: str = ""
    retry_after_s: float = 0.0
    away: bool = False


class Post(Protocol):
    """The way to one time-series store."""

    def write(self, lines: list[str]) -> Answer:
        """Send lines and wait for the answer."""

    def started_utc_s(self) -> float | None:
        """Give when the server says it started, s UTC; None where it does not say."""

    def close(self) -> None:
        """Give connections back."""
