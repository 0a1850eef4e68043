"""Alerts: from what the rig shows to people who have been reached.

Reads pictures and the archive, enters messages into the book, and sends what is due, each channel in a thread of its
own: one that hangs keeps no other waiting. Works with a dead disk: the picture is enough.
"""

import math
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.model.event import EventKind
from scuffwatch.model.run import Outcome
from scuffwatch.store.reader import Archive, RunSummary
from scuffwatch.uplink import alert_text, plot
from scuffwatch.uplink.alert_book import AlertBook
from scuffwatch.uplink.alert_rules import TRIP, WARNING, Cause, causes_of, due_utc_s, known_as
from scuffwatch.uplink.alert_send import Way
from scuffwatch.uplink.backoff import Backoff
from scuffwatch.uplink.pictures import Picture, Pictures
from scuffwatch.uplink.settings import Alerts, Channel

POLL_S = 0.1
COMMIT_WAIT_S = 1.5
"""A trip is told as not recorded when it is not committed after this."""
SETTLE_S = 3.0
"""A warning waits this long, in case it is the beginning of a trip: then it is told in the trip's message."""
ABSENT_S = 60.0
RECENT_S = 7 * 86_400.0
TEMPERATURES = "_temperature_degc"
FIRST_PAUSE_S, LONGEST_PAUSE_S = 1.0, 60.0
PLOTTED = ("friction_coefficient", "motor_current_a")


class AlertDesk:
    """Decides what is told; `run` and `stop` as a thread. What survives: the book."""

    def __init__(
        self,
        rig: str,
        settings: Alerts,
        channels: Mapping[str, Channel],
        pictures: Pictures,
        archive: Archive,
        book: AlertBook,
        boot_id: str,
    ) -> None:
        self._rig, self._settings, self._channels = rig, settings, channels
        self._pictures, self._archive, self._book, self._boot_id = pictures, archive, book, boot_id
        self._stop = threading.Event()
        self._first_seen_s: dict[str, float] = {}
        self._core_checked: float | None = None

    def stop(self) -> None:
        """End the thread."""
        self._stop.set()

    def run(self) -> None:
        """Look and decide until told to stop."""
        while not self._stop.wait(POLL_S):
            self.turn()

    def turn(self) -> None:
        """Look once."""
        seen = self._pictures.seen()
        if seen.picture is None:
            if seen.age_s > ABSENT_S:
                self._absent(seen.age_s)
            return
        if seen.age_s > self._settings.core_silent_s:
            self._silent(seen.picture, seen.age_s)
            return
        if seen.age_s < 2.0:
            self._speaking(seen.picture)

    def _speaking(self, picture: Picture) -> None:
        if self._core_checked != picture["core_started_utc_s"]:
            self._core_checked = picture["core_started_utc_s"]
            self._after_power_cut(picture)
        open_alerts = self._book.open_alerts()
        standing = {known_as(cause.id, open_alerts): cause for cause in causes_of(picture)}
        now_s, now_utc_s = time.monotonic(), time.time()
        for known in open_alerts:
            cause = standing.get(known)
            if cause is None:
                self._book.answer(known, now_utc_s, ended=True)
            elif cause.acknowledged and not self._book.acknowledged(known):
                self._book.answer(known, now_utc_s, ended=False)
        self._first_seen_s = {key: s for key, s in self._first_seen_s.items() if key in standing}
        for alert, cause in standing.items():
            # Whoever acknowledged before the uplink saw it knows already.
            first_s = math.inf if cause.acknowledged else now_s
            waited_s = now_s - self._first_seen_s.setdefault(alert, first_s)
            if self._ripe(cause, picture, waited_s) and not self._book.knows(alert):
                text = alert_text.of_cause(cause, picture, _recorded(cause, picture))
                self._enter(alert, cause.priority, text, self._image(picture))

    def _ripe(self, cause: Cause, picture: Picture, waited_s: float) -> bool:
        """Say whether a cause is told now: a trip once it is recorded, or known not to be."""
        if not math.isfinite(waited_s):
            return False
        if cause.priority == TRIP:
            return _recorded(cause, picture) or bool(picture["store"]["error"]) or waited_s >= COMMIT_WAIT_S
        return waited_s >= SETTLE_S

    def _enter(self, alert: str, priority: str, text: alert_text.Text, image: bytes = b"") -> None:
        now_utc_s = time.time()
        due = []
        for name, channel in self._channels.items():
            for turn in range(channel.repeats + 1):
                due_s = due_utc_s(channel, self._settings, priority, now_utc_s, turn)
                if due_s is not None:
                    due.append((name, turn, due_s))
        self._book.add(alert, priority, text, image, now_utc_s, due)

    def _image(self, picture: Picture) -> bytes:
        for name in PLOTTED:
            channel = picture["channels"].get(name)
            if channel is not None and channel["low"] < channel["high"]:
                return plot.png(self._pictures.trace(name), channel["low"], channel["high"], channel["trip"])
        return b""

    # -- absence

    def _silent(self, picture: Picture, silence_s: float) -> None:
        alert = f"silent/{picture['core_started_utc_s']}/{picture['seq']}"
        if self._book.knows(alert) or self._stopped_by_order(picture["core_started_utc_s"]):
            return
        at_work = picture["permit"]["state"] == "permitted" or picture["run"] is not None
        text = alert_text.core_silent(self._rig, silence_s, picture)
        self._enter(alert, TRIP if at_work else WARNING, text, self._image(picture))

    def _absent(self, absence_s: float) -> None:
        alert = f"absent/{self._boot_id}"
        if not self._book.knows(alert) and not self._stopped_by_order(math.inf):
            self._enter(alert, WARNING, alert_text.core_absent(self._rig, absence_s))

    def _stopped_by_order(self, started_utc_s: float) -> bool:
        """Say whether the last thing on record is that the core was stopped, or there is no record at all."""
        try:
            last = self._archive.latest_events(1)
        except RecordUnreadable:
            return False
        if not last:
            return not math.isfinite(started_utc_s)
        return last[0].kind is EventKind.CORE_STOPPED

    # -- after a power cut

    def _after_power_cut(self, picture: Picture) -> None:
        try:
            newest = next(iter(self._archive.runs()), None)
            if newest is None or newest.live or newest.outcome is not Outcome.POWER_LOSS:
                return
            alert = f"power/{newest.name}"
            if self._book.knows(alert) or time.time() - newest.t_start_utc_s > RECENT_S:
                return
            cut = self._power_cut(newest, picture)
        except RecordUnreadable:
            return
        self._enter(alert, WARNING, alert_text.after_power_cut(self._rig, cut, self._settings.hot_degc))

    def _power_cut(self, run: RunSummary, picture: Picture) -> alert_text.PowerCut:
        with self._archive.open_run(run.name) as reader:
            end_s = reader.last_t_rig_s()
            names = [channel.name for channel in reader.channels if channel.name.endswith(TEMPERATURES)]
            last = {name: _last(reader.samples(name, end_s - 10.0, np.inf)[1]) for name in names}
            boots = {triple.boot_id for triple in reader.clock()}
            ended_utc_s = reader.t_open_utc_s + end_s - reader.t_open_rig_s
        shown = {name: picture["channels"].get(name, {}).get("value") for name in names}
        now = {name: math.nan if value is None else float(value) for name, value in shown.items()}
        return alert_text.PowerCut(run.name, ended_utc_s, bool(boots) and self._boot_id not in boots, last, now)


def _recorded(cause: Cause, picture: Picture) -> bool:
    return bool(picture["permit"]["recorded"]) if cause.priority == TRIP else not picture["store"]["error"]


def _last(values: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> float:
    return float(values[-1]) if len(values) else math.nan


@dataclass(frozen=True, slots=True)
class ChannelState:
    """How one channel stands.

    Attributes:
        name: of the channel.
        failing: whether its last try failed.
        says: why; empty where it works.
        proved_utc_s: when something was last accepted, s UTC; 0 never.
        waiting: messages that are due.
        overdue: whether it has not been proved for longer than the settings allow.
    """

    name: str
    failing: bool
    says: str
    proved_utc_s: float
    waiting: int
    overdue: bool


class Courier:
    """Sends what is due on one channel; `run` and `stop` as a thread."""

    def __init__(self, name: str, way: Way, book: AlertBook, settings: Alerts) -> None:
        self.name = name
        self._way, self._book, self._settings = way, book, settings
        self._backoff = Backoff(FIRST_PAUSE_S, LONGEST_PAUSE_S)
        self._not_before_s = 0.0
        self._stop = threading.Event()

    def stop(self) -> None:
        """End the thread after the message under way."""
        self._stop.set()

    def run(self) -> None:
        """Send until told to stop."""
        while not self._stop.wait(POLL_S):
            self.turn()

    def turn(self) -> None:
        """Send one message if one is due."""
        if time.monotonic() < self._not_before_s:
            return
        due = self._book.due(self.name, time.time())
        if due is None:
            return
        again = f" (message {due.turn + 1})" if due.turn else ""
        text = alert_text.Text(due.text.title + again, due.text.body)
        why_not = self._way.send(text, due.image, due.t_utc_s)
        self._book.tried(due, time.time(), why_not)
        if why_not:
            self._not_before_s = time.monotonic() + self._backoff.next_s()
        else:
            self._backoff.worked()

    def state(self) -> ChannelState:
        """Give how the channel stands."""
        proof, now_utc_s = self._book.proof(self.name), time.time()
        overdue = now_utc_s - proof.t_utc_s > self._settings.test_every_days * 86_400.0
        failing = proof.failing_since_utc_s is not None
        waiting = self._book.waiting(self.name, now_utc_s)
        return ChannelState(self.name, failing, proof.says, proof.t_utc_s, waiting, overdue)


def silent(states: list[ChannelState]) -> str:
    """Give why nobody away from the rig can be reached; empty where somebody can, or where no channel is set."""
    if not states or not all(state.failing or state.overdue for state in states):
        return ""
    whys = [f"{s.name}: {s.says or 'not proved, run scuffwatch alert --test'}" for s in states]
    return f"No alert channel is known to work. {'; '.join(whys)}."
