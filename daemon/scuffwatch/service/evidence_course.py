"""The course of the evidence: how near each kind came to its limit over the last minute, kept for the next finding.

Reads the bank twice a second of node time, gives what goes into the event of a finding. Of a fixed size, and nothing
decides on it: replay makes the same findings without.
"""

import math
from collections import deque

from scuffwatch.detect.bank import Bank
from scuffwatch.model.block import Slice
from scuffwatch.model.event import JsonValue
from scuffwatch.model.finding import Finding, FindingKind

EVERY_S = 0.5
SAMPLES = 120
PERCENT_MOST = 999
"""With at most seven names and three digits a value, an event grows by less than 4 KB."""
TOLD_WITH = frozenset({FindingKind.SCUFFING_ONSET, FindingKind.STICK_SLIP})

Row = dict[str, int]


class EvidenceCourse:
    """Keep the last minute of `Bank.nearness`.

    What survives a call: at most `SAMPLES` rows, the time of the newest, the epoch they belong to.

    Attributes:
        due_s: node time from which the next row is taken, s.
    """

    def __init__(self) -> None:
        self._rows: deque[Row] = deque(maxlen=SAMPLES)
        self._epoch: int | None = None
        self._last_s = math.nan
        self.due_s = -math.inf

    def follow(self, piece: Slice, bank: Bank) -> None:
        """Take a row where one is due; what was missed in a hole is kept as rows without values."""
        if piece.epoch != self._epoch:
            self._epoch = piece.epoch
            self._rows.clear()
            self.due_s = piece.t_rig_s
        if piece.t_rig_s < self.due_s:
            return
        missed = math.floor((piece.t_rig_s - self.due_s) / EVERY_S) if self._rows else 0
        self._rows.extend({} for _ in range(min(missed, SAMPLES)))
        self._rows.append({near.name: _percent(near.share) for near in bank.nearness if near.share == near.share})
        self._last_s = self.due_s + missed * EVERY_S
        self.due_s = self._last_s + EVERY_S

    def told_with(self, finding: Finding) -> dict[str, JsonValue]:
        """Give what the event of a finding carries besides the finding: the course, where it is one of scuffing.

        Returns:
            Nothing, or `course`: `every_s` between values, `t_end_rig_s` of the last, and `share_percent`, one list a
            kind: 0 as usual, 100 at the limit, null where it was not known.
        """
        names = dict.fromkeys(name for row in self._rows for name in row)
        if finding.kind not in TOLD_WITH or not names:
            return {}
        shares: dict[str, JsonValue] = {name: [row.get(name) for row in self._rows] for name in names}
        return {"course": {"every_s": EVERY_S, "t_end_rig_s": round(self._last_s, 3), "share_percent": shares}}


def _percent(share: float) -> int:
    return PERCENT_MOST if share >= 0.01 * PERCENT_MOST else round(100.0 * share)
