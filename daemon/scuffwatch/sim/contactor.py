"""What hangs on the rig box's pulse output: monostable, relay, motor contactor, and the starter behind it.

Reads pulse edges and real time, gives whether the motor has its supply. All times real monotonic: they are relays.
"""

MONOSTABLE_S = 0.060
"""Without an edge for this long the monostable lets go of the relay."""
RELAY_S = 0.040
"""Relay and contactor take this long to follow, either way (assumed, to be measured)."""


class Contactor:
    """Monostable and relay.

    What survives a call: the last edge, the coil, the contact, and the fault `welded`.
    """

    def __init__(self) -> None:
        self._last_edge_mono_s = float("-inf")
        self._coil = False
        self._coil_changed_mono_s = float("-inf")
        self._closed = False
        self.welded = False

    @property
    def closed(self) -> bool:
        """Give the main contact, which the auxiliary contact mirrors; a welded one does not open."""
        return self._closed

    def edge(self, now_mono_s: float) -> None:
        """Take one edge."""
        self.pass_time(now_mono_s)
        self._last_edge_mono_s = now_mono_s
        if not self._coil:
            self._coil, self._coil_changed_mono_s = True, now_mono_s

    def pass_time(self, now_mono_s: float) -> None:
        """Let the monostable and the relay follow."""
        if self._coil and now_mono_s - self._last_edge_mono_s >= MONOSTABLE_S:
            self._follow(self._last_edge_mono_s + MONOSTABLE_S)
            self._coil, self._coil_changed_mono_s = False, self._last_edge_mono_s + MONOSTABLE_S
        self._follow(now_mono_s)

    def due_mono_s(self) -> float:
        """Give when it changes by itself next, infinity where it does not."""
        if self._coil != self._closed and not (self.welded and self._closed):
            return self._coil_changed_mono_s + RELAY_S
        return self._last_edge_mono_s + MONOSTABLE_S if self._coil else float("inf")

    def _follow(self, now_mono_s: float) -> None:
        if self._coil != self._closed and now_mono_s - self._coil_changed_mono_s >= RELAY_S:
            self._closed = self._coil or self.welded


class Starter:
    """The motor starter: started by hand, drops out by itself when its supply goes.

    What survives a call: whether it is in, and the fault `restarts` (it holds itself in without supply).
    """

    def __init__(self) -> None:
        self.running = False
        self.restarts = False

    def start(self, supplied: bool) -> bool:
        """Press start and say whether the starter held."""
        self.running = supplied
        return supplied

    def stop(self) -> None:
        """Press stop."""
        self.running = False

    def powered(self, supplied: bool) -> bool:
        """Give whether the motor has its supply."""
        if not supplied and not self.restarts:
            self.running = False
        return self.running and supplied
