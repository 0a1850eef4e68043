"""Full rate: the samples of closed runs to the time-series store, in the gaps the live rows leave.

Reads closed runs, gives them to a sender of its own with a ledger of its own. It has its own thread and connection, so
no live row ever waits for a request of it. It begins a batch only while the live sender has nothing to send, new or
left behind, and not before the time the batch before it is worth at the set rate: in any T seconds at most
`max_rows_per_s` x T rows and one batch, which is at most 1,000 rows or one second's. Only what has to be sent once more
in halves, because the store refused a part of it, comes on top.
"""

from collections.abc import Callable

from scuffwatch.uplink.answers import Post
from scuffwatch.uplink.closed_runs import ClosedRuns
from scuffwatch.uplink.ledger import Ledger
from scuffwatch.uplink.samples import NS_IN_A_MS
from scuffwatch.uplink.timeseries import Clocks, Sender, SendRules, SendState

NAME = "timeseries_full_rate"
"""Of the ledger's file and of the destination in status and metrics."""
BATCH_MAX_ROWS = 1_000
LOOK_S = 0.1
"""How often is looked whether the live rows leave a gap, s."""


def rules(batch_rows: int, max_rows_per_s: int, rewind_s: float) -> SendRules:
    """Give how the rows of closed runs are sent; a slow rate makes small batches, so that one goes every second."""
    rows = min(batch_rows, BATCH_MAX_ROWS, max_rows_per_s)
    return SendRules(
        batch_rows=rows, rewind_s=rewind_s, discover_s=10.0, poll_s=1.0, stamps_in_a_ms=NS_IN_A_MS, bulk=True
    )


class FullRate:
    """The full-rate upload of one data folder to one store; `turn` in one thread.

    Args:
        runs: the closed runs.
        ledger: of this upload alone.
        post: with stamps in ns.
        sending: see `rules`.
        max_rows_per_s: most rows a second.
        gap: says whether the live rows leave a gap now; called from this thread.
        clocks: the two clocks.
    """

    def __init__(
        self,
        runs: ClosedRuns,
        ledger: Ledger,
        post: Post,
        sending: SendRules,
        max_rows_per_s: int,
        gap: Callable[[], bool],
        clocks: Clocks | None = None,
    ) -> None:
        self._runs, self._gap, self._clocks = runs, gap, clocks or Clocks()
        self._sender = Sender(runs, ledger, post, sending, self._clocks)
        self._between_s = sending.batch_rows / max_rows_per_s
        self._not_before_s = 0.0

    @property
    def state(self) -> SendState:
        """Give how sending stands."""
        return self._sender.state

    @property
    def unavailable(self) -> tuple[str, ...]:
        """Give one sentence for each closed run that cannot be opened."""
        return self._runs.unavailable

    def turn(self) -> float:
        """Do one turn; the result is the pause before the next, s."""
        now_s = self._clocks.boot_s()
        if now_s < self._not_before_s:
            return min(LOOK_S, self._not_before_s - now_s)
        if not self._gap():
            self._sender.count()
            return LOOK_S
        self._not_before_s = now_s + self._between_s
        pause_s = self._sender.turn()
        return max(pause_s, self._not_before_s - self._clocks.boot_s(), 0.0)
