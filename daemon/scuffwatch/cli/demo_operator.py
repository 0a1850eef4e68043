"""The demonstration's operator: begins each scenario, closes what is over, and begins again what a pause has ended.

Reads the live picture and the simulated rig's own state, does what hands would do, says what it did.
"""

import time
from typing import Any

from scuffwatch.cli.demo_session import Session
from scuffwatch.sim.scenario import SCENARIOS

REST_S = 8.0
"""How long a finished run stands on the screens before it is closed."""
BEGIN_AGAIN_MOST = 5
_PAUSED = frozenset({"link_lost", "rig_box"})
"""First-outs that a computer which leaves a process standing brings about."""


class Operator:
    """Does at the simulated rig what the technician would.

    Args:
        session: processes and handles.

    What survives a call: the scenario under way, since when it is over, and how often it was begun again.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._playing: tuple[str, int] = ("", 0)
        self._over_mono_s: float | None = None
        self._again = 0

    def begin(self) -> str:
        """Open a run for the scenario that is loaded, get the permit and start the motor; the sentence says which."""
        session = self._session
        status = session.panel.status()
        self._playing = (str(status["scenario"]), int(status["seed"]))
        self._over_mono_s, self._again = None, 0
        session.scenario = SCENARIOS[self._playing[0]]
        if session.snapshot()["run"] is not None:
            session.close_run()
        name = session.open_test_run()
        session.permit_and_start()
        return f"Run {name}: scenario {self._playing[0].replace('_', ' ')}, seed {self._playing[1]}."

    def turn(self, picture: dict[str, Any]) -> str:
        """Do what is due; give what was done in a sentence, or nothing.

        Args:
            picture: the live picture.
        """
        status = self._session.panel.status()
        if (status["scenario"], status["seed"]) != self._playing:
            return self.begin()
        if _ended_by_a_pause(picture, status) and self._again < BEGIN_AGAIN_MOST and not status["ring_speed_rpm"]:
            self._again += 1
            self._session.permit_and_start()
            return "This computer left a process standing, so the permit went, as it must. Reset, and started again."
        if status["finished"] and picture["run"] is not None:
            return self._rest()
        return ""

    def _rest(self) -> str:
        now_mono_s = time.monotonic()
        if self._over_mono_s is None:
            self._over_mono_s = now_mono_s
        if now_mono_s - self._over_mono_s < REST_S:
            return ""
        self._session.close_run()
        return "Closed by plan. Choose the next scenario on the page of the simulated rig."


def _ended_by_a_pause(picture: dict[str, Any], status: dict[str, Any]) -> bool:
    """Say whether the permit went though nobody and nothing at the rig asked for it."""
    permit = picture["permit"]
    if permit["state"] != "tripped" or picture["run"] is None or permit["first_out"] is None:
        return False
    hands = status["cable_plugged"] and status["guard_closed"] and status["emergency_stop_closed"]
    asked_for = status["scenario"] in ("cable", "dead-host")
    return bool(hands and not asked_for and picture["link"]["up"] and permit["first_out"]["kind"] in _PAUSED)
