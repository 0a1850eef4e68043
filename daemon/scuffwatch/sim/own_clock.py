"""Own clock of the simulated rig box: real time, or real time less the pauses of its process.

Reads a monotonic clock, gives seconds. A rig box of hardware shares its processor with nobody; the simulated one is a
process that a busy computer may leave standing. For a demonstration such a pause can be excused: time stands still in
it, as it would for the hardware. Measurements of the lease never excuse it.
"""

import time
from collections.abc import Callable

TURN_S = 0.03
"""A turn of the loop that takes longer was interrupted: it waits 5 ms at most and works a few."""


class OwnClock:
    """Time of the simulated rig box.

    Args:
        excuse_pauses: whether time in which the process did not run is left out.
        mono: the clock of the computer, s.

    Attributes:
        excused_s: what has been left out, s.

    What survives a call: when the last turn began, and what has been left out.
    """

    def __init__(self, excuse_pauses: bool, mono: Callable[[], float] = time.monotonic) -> None:
        self._excuse, self._mono = excuse_pauses, mono
        self._turn_mono_s = mono()
        self.excused_s = 0.0

    def begin_turn(self) -> None:
        """Take that a turn of the loop begins; what the last one took too long is a pause."""
        now_mono_s = self._mono()
        if self._excuse:
            self.excused_s += max(0.0, now_mono_s - self._turn_mono_s - TURN_S)
        self._turn_mono_s = now_mono_s

    def now_mono_s(self) -> float:
        """Give the time, s; during a turn that has lasted too long it stands still."""
        now_mono_s = self._mono()
        if self._excuse:
            now_mono_s = min(now_mono_s, self._turn_mono_s + TURN_S)
        return now_mono_s - self.excused_s
