"""The last minute before a trip, kept in memory: inputs, decisions and the loop's own timing.

Reads what the loop sees, gives a `TripCapture` at a trip. The recorder adds the samples.
"""

from collections import deque

from scuffwatch.guard.states import LeaseAction
from scuffwatch.model.block import Slice
from scuffwatch.model.finding import Finding
from scuffwatch.store.items import DecisionSeen, StatusSeen, TripCapture
from scuffwatch.wire.protocol import Status

KEPT_S = 60.0


class TripMemory:
    """Bounded rings over the last `KEPT_S` of node time."""

    def __init__(self) -> None:
        self._statuses: deque[StatusSeen] = deque(maxlen=int(KEPT_S * 60))
        self._decisions: deque[DecisionSeen] = deque(maxlen=int(KEPT_S * 100))
        self._lateness_ms: deque[float] = deque(maxlen=int(KEPT_S * 100))

    def saw_status(self, t_mono_s: float, t_rig_s: float, status: Status) -> None:
        """Keep a status frame."""
        self._statuses.append(StatusSeen(t_mono_s, t_rig_s, status))

    def decided(self, piece: Slice, t_mono_s: float, lease: LeaseAction, unmet: tuple[str, ...]) -> None:
        """Keep a decision; one equal to the last is left out."""
        last = self._decisions[-1] if self._decisions else None
        if last is None or last.lease != lease.value or last.unmet != unmet:
            self._decisions.append(DecisionSeen(piece.index, piece.t_rig_s, t_mono_s, str(lease.value), unmet))

    def late(self, lateness_ms: float) -> None:
        """Keep how late the loop was for one slice, ms."""
        self._lateness_ms.append(lateness_ms)

    def lateness_ms(self) -> tuple[float, ...]:
        """Give the kept lateness of the loop, ms, oldest first."""
        return tuple(self._lateness_ms)

    def capture(
        self,
        first_out: Finding,
        followers: tuple[Finding, ...],
        piece: Slice | None,
        t_mono_s: float,
        t_wall_utc_s: float,
        settings_toml: str,
    ) -> TripCapture:
        """Give what the loop knew at a trip."""
        since_s = first_out.t_rig_s - KEPT_S
        return TripCapture(
            first_out=first_out,
            followers=followers,
            epoch=piece.epoch if piece else 0,
            slice_index=piece.index if piece else -1,
            frame_sequence=piece.frame_sequence if piece else -1,
            t_rig_s=first_out.t_rig_s,
            t_mono_s=t_mono_s,
            t_wall_utc_s=t_wall_utc_s,
            statuses=tuple(seen for seen in self._statuses if not seen.t_rig_s < since_s),
            decisions=tuple(seen for seen in self._decisions if not seen.t_rig_s < since_s),
            lateness_ms=tuple(self._lateness_ms),
            settings_toml=settings_toml,
        )
