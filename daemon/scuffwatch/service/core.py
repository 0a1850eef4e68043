"""The core: every step of the chain, every command and every silence, turned into permit, events and record.

Reads bytes, commands and the two host clocks as arguments; gives bytes for the rig box and items for the record. It
never waits and never reads a clock itself, so the tests drive it as the loop does.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from scuffwatch.detect.limits import LimitParams
from scuffwatch.guard.alarm_book import AlarmAct
from scuffwatch.guard.states import initial, step
from scuffwatch.guard.values import Decision, GuardEvent, GuardEventKind, GuardInput, LeaseAction, PermitState
from scuffwatch.model.block import Block, Slice
from scuffwatch.model.channel import unit_of
from scuffwatch.model.event import ClockTriple, Event, EventKind, JsonValue
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.model.run import StageRecord
from scuffwatch.rig.permit import PermitLine
from scuffwatch.service import causes, params, tare
from scuffwatch.service.alarm_desk import AlarmDesk, transition_says
from scuffwatch.service.chain import Chain, Greeted, Judged, Received, Reported, Step
from scuffwatch.service.evidence_course import EvidenceCourse
from scuffwatch.service.inputs import InputWatch, Noticed
from scuffwatch.service.jsons import finding_json
from scuffwatch.service.labels import WallClockWatch, WallLabels
from scuffwatch.service.link import Link
from scuffwatch.service.memory import TripMemory
from scuffwatch.service.runs import RunKeeper
from scuffwatch.service.settings import RigSettings
from scuffwatch.store.items import ChannelsKnown, Item, QualityChanged, StageClosed
from scuffwatch.wire.protocol import Annunciator, Hello, Inputs, NodeCause, NodePermit, Status, encode

ALARMS_EVERY_S = 0.1
CLOCK_TRIPLE_EVERY_S = 60.0

EVENT_OF = {
    GuardEventKind.TRIPPED: EventKind.TRIPPED,
    GuardEventKind.FOLLOWED: EventKind.TRIPPED,
    GuardEventKind.FIRST_OUT_CORRECTED: EventKind.TRIPPED,
    GuardEventKind.FAILED_TO_OPEN: EventKind.TRIPPED,
    GuardEventKind.ACKNOWLEDGED: EventKind.ACKNOWLEDGED,
    GuardEventKind.RESET_REFUSED: EventKind.RESET_REFUSED,
    GuardEventKind.PERMITTED: EventKind.PERMITTED,
    GuardEventKind.OPENED: EventKind.INTERLOCK,
}


@dataclass(frozen=True, slots=True)
class Now:
    """Both host clocks, read by the loop.

    Attributes:
        t_mono_s: for freshness and lease only.
        t_wall_utc_s: for labels only.
    """

    t_mono_s: float
    t_wall_utc_s: float


class Sink(Protocol):
    """Where the record goes: takes everything, never blocks, never raises."""

    def offer(self, item: Item) -> None:
        """Take one item."""


class Core:
    """One rig's core, without its port and its clocks.

    Args:
        settings: of the rig.
        settings_toml: their text, for every record.
        sink: the recorder.
        boot_id: of the host's kernel, for the clock triples.

    What survives a call: everything; a core lives as long as its process.
    """

    def __init__(self, settings: RigSettings, settings_toml: str, sink: Sink, boot_id: str = "") -> None:
        self.settings = settings
        self.settings_toml = settings_toml
        self.sink = sink
        self.chain = Chain(params.chain_rules(settings))
        self.link = Link(settings.link.identity, tuple(settings.channels), settings.guard.max_silence_s)
        self.permit = PermitLine(settings.guard.lease_ms)
        self.guard = initial(params.guard_settings(settings))
        self.decision = Decision(LeaseAction.WITHDRAW)
        self.runs = RunKeeper(settings.run.resume_within_s)
        self.alarms = AlarmDesk()
        self.memory = TripMemory()
        self.course = EvidenceCourse()
        self.inputs = InputWatch(causes.interlocks(settings.guard.extraction_required, settings.guard.bath_required))
        self.oil_limits: tuple[LimitParams, ...] = ()
        self.last_slice: Slice | None = None
        self.store_fault: Callable[[], str] = lambda: ""
        self.store_warning: Callable[[], str] = lambda: ""
        self.alerts_silent: Callable[[], str] = lambda: ""
        self.t_rig_s = float("nan")
        self.event_sequence = 0
        self.slices = 0
        self._boot_id = boot_id
        self._epoch = 0
        self._good = False
        self._triple_mono_s = float("-inf")
        self._wall_clock = WallClockWatch()
        self._silence: Finding | None = None
        self._alarms_mono_s = float("-inf")
        self._snapshots = 0
        self._qualities: dict[str, object] = {}
        self.permit_event_sequence = 0
        self._labels = WallLabels()
        self.started_utc_s = 0.0
        self._shown: Annunciator | None = None

    # --- what the loop calls ------------------------------------------------------------------------------

    def on_bytes(self, data: bytes, now: Now) -> bytes:
        """Take what the port gave and say what must be sent at once.

        Args:
            data: any bytes; empty for silence.
            now: both host clocks.
        """
        out = bytearray()
        for made in self.chain.feed(data):
            out += self._take(made, now)
        if self.link.went_silent(now.t_mono_s):
            silence_s = self.link.age_s(now.t_mono_s)
            lost = causes.link_lost(silence_s, self.link.max_silence_s, self.t_rig_s)
            out += self._lose_link(lost, now)
        self._watch_clocks(now)
        if now.t_mono_s - self._alarms_mono_s >= ALARMS_EVERY_S:
            self.update_alarms(now)
            out += self._annunciate(now)
        out += self.link.requests(now.t_mono_s)
        return bytes(out)

    def on_port_closed(self, why: str, now: Now) -> None:
        """Take that the device has gone."""
        self.chain.forget_partial()
        if self.link.closed():
            self.event(EventKind.LINK, f"Port closed: {why}.", now)
            self._lose_link(causes.port_gone("its port has closed", self.t_rig_s), now)

    def on_port_opened(self, path: str, now: Now) -> None:
        """Take that the device is there."""
        self.chain.forget_partial()
        self.event(EventKind.LINK, f"Port {path} opened.", now)

    def internal_fault(self, what: str, now: Now) -> bytes:
        """Withdraw the permit because of a fault of our own."""
        return self.judge_guard(now, new_trips=(causes.internal_fault(what, self.t_rig_s),))

    def withdraw_now(self, now: Now) -> bytes:
        """Give the words that withdraw the permit whatever the state: the core ends."""
        return self.permit.last_word(self._block_sequence(None))

    def tare(self, channel: str, now: Now, actor: str) -> tuple[float, bytes]:
        """Take the present value of a channel as its zero, until the core ends.

        Returns:
            The new tare in the channel's unit, and bytes for the rig box (its own limits follow the tare).
        Raises:
            CommandRefused: not tripped and at rest, no good value, or further from zero than a stated share of span.
        """
        value = tare.checked_value(self, channel)
        before = self.settings.channels[channel]
        changed = before.model_copy(update={"tare": before.tare + value})
        self.settings = self.settings.model_copy(update={"channels": {**self.settings.channels, channel: changed}})
        self.chain.change_rules(params.chain_rules(self.settings))
        self.link.entries = params.count_limits(self.settings, self.chain.layouts)
        records = params.channel_records(self.settings, self.chain.layouts)
        self.sink.offer(ChannelsKnown(records, self.t_rig_s, now.t_wall_utc_s))
        says = f"Zero of {channel} moved by {value:.4g} {unit_of(channel)}."
        data: dict[str, JsonValue] = {"channel": channel, "tare": changed.tare, **self.from_slice()}
        self.event(EventKind.TARE, says, now, actor=actor, data=data)
        return changed.tare, self.link.requests(now.t_mono_s)

    def next_snapshot(self) -> int:
        """Give the number of the next snapshot."""
        self._snapshots += 1
        return self._snapshots

    def loop_figures(self) -> dict[str, JsonValue]:
        """Give how late the loop has been over the last minute."""
        late_ms = sorted(self.memory.lateness_ms())
        p999_ms = late_ms[min(len(late_ms) - 1, int(0.999 * len(late_ms)))] if late_ms else None
        return {"late_ms_p999": p999_ms if p999_ms is None else round(p999_ms, 3), "slices": self.slices}

    def label_utc_s(self, t_rig_s: float) -> float:
        """Give the wall clock label of a node time; NaN where none is known. A label only."""
        return self._labels.label_utc_s(t_rig_s)

    def shown_channels(self) -> tuple[str, ...]:
        """Give the channels of the live picture: those of the rig box and those derived."""
        derived = tuple(self.last_slice.channels) if self.last_slice else ()
        return tuple(dict.fromkeys((*self.settings.channels, *derived)))

    # --- steps of the chain -------------------------------------------------------------------------------

    def _take(self, made: Step, now: Now) -> bytes:
        if isinstance(made, Judged):
            return self._judged(made, now)
        if isinstance(made, Received):
            if not isinstance(made.item, Block) or made.item.layout.group == 0:
                self._heard(made.item, now)
            self.sink.offer(made.item)
            return b""
        if isinstance(made, Reported):
            return self._reported(made.status, made.time.t_rig_s, now)
        return self._greeted(made, now)

    def _heard(self, item: object, now: Now) -> None:
        if isinstance(item, Block) and self.link.heard(now.t_mono_s):
            self._silence = None
            self.event(EventKind.LINK, "Rig box connected.", now)

    def _greeted(self, made: Greeted, now: Now) -> bytes:
        hello = made.hello
        self.t_rig_s = made.time.t_rig_s
        first = self.link.hello is None or self.link.hello.start_number != hello.start_number
        self.link.greet(hello, self.t_rig_s)
        if not first:
            return b""
        self.inputs.restarted()
        cause = hello.reset_cause.name.replace("_", " ").lower()
        says = f"Rig box {hello.identity}, firmware {hello.firmware}, start {hello.start_number} ({cause})."
        self.event(EventKind.NODE_STARTED, says, now, data={"identity": hello.identity, "firmware": hello.firmware})
        if self.link.fault is not None:
            return self.judge_guard(now, new_trips=(self.link.fault,))
        self.link.entries = params.count_limits(self.settings, hello.groups)
        self.sink.offer(
            ChannelsKnown(params.channel_records(self.settings, hello.groups), self.t_rig_s, now.t_wall_utc_s)
        )
        return self._node_restarted(hello, made.time.restarted, now)

    def _node_restarted(self, hello: Hello, restarted: bool, now: Now) -> bytes:
        self._clock_triple(now)
        if not restarted:
            return b""
        cause = hello.reset_cause.name.replace("_", " ").lower()
        return self.judge_guard(now, new_trips=(causes.node_restarted(self.t_rig_s, cause),))

    def _reported(self, status: Status, t_rig_s: float, now: Now) -> bytes:
        self.t_rig_s = t_rig_s
        before = self.link.status
        self.link.status = status
        self.permit.continue_from(status.lease_counter)
        self.memory.saw_status(now.t_mono_s, t_rig_s, status)
        for noticed in self.inputs.see(before, status, t_rig_s):
            self._noticed(noticed, now)
        permitted = self.guard.permit is PermitState.PERMITTED
        return self.judge_guard(now, new_trips=self.inputs.opened(before, status) if permitted else ())

    def _judged(self, made: Judged, now: Now) -> bytes:
        piece, result = made.slice, made.result
        self.slices += 1
        self.t_rig_s = piece.t_rig_s
        self._labels.follow(piece.t_rig_s, now.t_wall_utc_s)
        self.last_slice = piece
        if piece.epoch != self._epoch:
            self._epoch = piece.epoch
            self._clock_triple(now)
        self.course.follow(piece, self.chain.bank)
        for finding in result.new:
            self._found(finding, now)
        self._watch_quality(piece)
        self._good = result.trip_channels_good
        trips = tuple(finding for finding in result.new if finding.level is Level.TRIP)
        out = self.judge_guard(now, new_trips=trips, fresh=self._good and not trips, piece=piece)
        for stage in self.chain.bank.take_closed_stages():
            self._stage_closed(stage)
        return out

    # --- guard --------------------------------------------------------------------------------------------

    def judge_guard(
        self,
        now: Now,
        *,
        new_trips: tuple[Finding, ...] = (),
        fresh: bool = False,
        piece: Slice | None = None,
        acknowledge: str = "",
        stop_request: str = "",
    ) -> bytes:
        """Let the guard decide on what is known now, and give the permit's words for the wire."""
        before = self.guard
        ok, says = self._prestart()
        status = self.link.status if self.link.up else None
        given = GuardInput(
            t_rig_s=self.t_rig_s,
            new_trips=new_trips,
            standing=self.standing_trips(),
            ring_turning=self.chain.bank.ring_turning if self.link.up else None,
            reset_pressed=None if status is None else bool(status.inputs & Inputs.RESET_PRESSED),
            link_up=self.link.up,
            acknowledge=acknowledge,
            prestart_ok=ok,
            prestart_says=says,
            run_open=self.runs.current is not None,
            fresh=fresh,
            node_permit=None if status is None else status.permit,
            contactor_closed=None if status is None else bool(status.inputs & Inputs.CONTACTOR_CLOSED),
            stop_request=stop_request,
            node_cause=NodeCause.NONE if status is None else status.cause,
        )
        self.guard, decision = step(self.guard, given)
        self.decision = decision
        out = self._word_permit(decision.lease, piece, now)  # safe state first, explanation second
        for happened in decision.happened:
            self._guard_event(happened, now)
        permitted = before.permit is PermitState.TRIPPED and self.guard.permit is PermitState.PERMITTED
        if decision.causes or decision.happened:
            self.update_alarms(now, decision.causes, reset=permitted)
        if before.permit is PermitState.PERMITTED and self.guard.permit is PermitState.TRIPPED:
            self._tripped(piece or self.last_slice, now)
        if permitted:
            self.chain.bank.reset()
            self.runs.permitted()
        if piece is not None:
            unmet = tuple(need.key for need in decision.needs if not need.met)
            self.memory.decided(piece, now.t_mono_s, decision.lease, unmet)
        return out

    def update_alarms(
        self,
        now: Now,
        new: tuple[Finding, ...] = (),
        *,
        acts: tuple[AlarmAct, ...] = (),
        reset: bool = False,
    ) -> None:
        """Let the alarms follow what is known now, and record every transition."""
        standing = (*self.standing_trips(), *(f for f in self.chain.bank.standing if f.level is Level.WARN))
        tripped = self.guard.permit is PermitState.TRIPPED
        outcome = self.alarms.update(
            now.t_mono_s,
            self.t_rig_s,
            standing,
            new,
            acts=acts,
            reset=reset,
            first_out=self.guard.first_out if tripped else None,
            record_fault=self.store_fault() or self.store_warning(),
            alerts_silent=self.alerts_silent(),
            suppress=frozenset({"interlock"}) if self._between_runs() else frozenset(),
        )
        if outcome.transitions:
            self._labels.keep(self.t_rig_s, now.t_wall_utc_s)
        for made in outcome.transitions:
            self.event(
                EventKind.ALARM,
                transition_says(made),
                now,
                actor=made.actor,
                data={"key": made.key, "before": made.before.value, "after": made.after.value},
            )
        self._alarms_mono_s = now.t_mono_s

    def _between_runs(self) -> bool:
        """Say whether an open guard is somebody at work at a stopped rig rather than a cause."""
        causes_kept = (self.guard.first_out, *self.guard.followers)
        tripped = self.guard.permit is PermitState.TRIPPED
        return tripped and not any(cause.kind is FindingKind.INTERLOCK for cause in causes_kept)

    def standing_trips(self) -> tuple[Finding, ...]:
        """Give every trip condition that is true now; each of them keeps the latch."""
        found = [finding for finding in self.chain.bank.standing if finding.level is Level.TRIP]
        found += self.inputs.open_locks
        if self.link.fault is not None:
            found.append(self.link.fault)
        if self._silence is not None:
            found.append(self._silence)
        if self.guard.failed_to_open is not None:
            found.append(self.guard.failed_to_open)
        return tuple(found)

    def _word_permit(self, lease: LeaseAction, piece: Slice | None, now: Now) -> bytes:
        status = self.link.status
        latched = status is None or status.permit is NodePermit.LATCHED
        return self.permit.word(lease, self._block_sequence(piece), now.t_mono_s, latched=latched)

    def _block_sequence(self, piece: Slice | None) -> int:
        decided_on = piece or self.last_slice
        return decided_on.frame_sequence if decided_on else 0

    def _prestart(self) -> tuple[bool, str]:
        if not self.link.up:
            return False, "Rig box is not connected."
        if not self.link.limits_confirmed:
            return False, "Rig box has not confirmed its limits."
        if not self._good:
            return False, "A channel that must be good is not."
        fault = self.store_fault()
        return (False, fault) if fault else (True, "")

    def _tripped(self, piece: Slice | None, now: Now) -> None:
        first_out = self.guard.first_out
        stage = self.chain.bank.stage
        self.runs.tripped(first_out, now.t_mono_s, stage.number, stage.t_start_s)
        self.sink.offer(
            self.memory.capture(
                first_out, self.guard.followers, piece, now.t_mono_s, now.t_wall_utc_s, self.settings_toml
            )
        )

    def _lose_link(self, finding: Finding, now: Now) -> bytes:
        self._silence = finding
        self._found(finding, now)
        return self.judge_guard(now, new_trips=(finding,))

    # --- events and record --------------------------------------------------------------------------------

    def event(
        self, kind: EventKind, says: str, now: Now, *, actor: str = "", data: dict[str, JsonValue] | None = None
    ) -> Event:
        """Number, stamp and record one event."""
        self.event_sequence += 1
        made = Event(
            self.event_sequence,
            kind,
            self.t_rig_s,
            now.t_mono_s,
            now.t_wall_utc_s,
            self.runs.name,
            actor,
            says,
            data or {},
        )
        self.sink.offer(made)
        return made

    def _found(self, finding: Finding, now: Now) -> None:
        self._labels.keep(finding.t_rig_s, now.t_wall_utc_s)
        kind = EventKind.STAGE if finding.kind is FindingKind.STAGE else EventKind.FINDING
        self.event(kind, finding.says, now, data=finding_json(finding) | self.course.told_with(finding))

    def _guard_event(self, happened: GuardEvent, now: Now) -> None:
        data: dict[str, JsonValue] = {"guard": happened.kind.value, **self.from_slice()}
        if happened.finding is not None:
            self._labels.keep(happened.finding.t_rig_s, now.t_wall_utc_s)
            data["finding"] = finding_json(happened.finding)
        made = self.event(EVENT_OF[happened.kind], happened.says, now, actor=happened.actor, data=data)
        self._labels.keep(self.guard.since_t_rig_s, now.t_wall_utc_s)
        if happened.kind in (GuardEventKind.TRIPPED, GuardEventKind.PERMITTED):
            self.permit_event_sequence = made.sequence

    def _stage_closed(self, stage: StageRecord) -> None:
        if self.runs.current is not None:
            self.sink.offer(StageClosed(stage))

    def _noticed(self, noticed: Noticed, now: Now) -> None:
        if noticed.kind is EventKind.MARK:
            self.chain.bank.mark()
        data = dict(noticed.data)
        if noticed.placed:
            data.update(self.from_slice())
        self.event(noticed.kind, noticed.says, now, actor=noticed.actor, data=data)

    def from_slice(self) -> dict[str, JsonValue]:
        """Give the place among the slices from which on something counts for the detectors; replay asks for it."""
        return {"after_slice_t_rig_s": self.last_slice.t_rig_s if self.last_slice else None}

    def _watch_quality(self, piece: Slice) -> None:
        for name, channel in piece.channels.items():
            key = (channel.quality, channel.reason)
            if self._qualities.get(name) != key:
                self._qualities[name] = key
                self.sink.offer(QualityChanged(name, piece.t_rig_s, channel.quality, channel.reason))

    def _watch_clocks(self, now: Now) -> None:
        jump_s = self._wall_clock.step_s(now.t_mono_s, now.t_wall_utc_s)
        if jump_s:
            self.event(EventKind.CLOCK_STEP, f"Wall clock stepped by {jump_s:+.1f} s.", now, data={"step_s": jump_s})
            self._clock_triple(now)
        if now.t_mono_s - self._triple_mono_s >= CLOCK_TRIPLE_EVERY_S:
            self._clock_triple(now)

    def _clock_triple(self, now: Now) -> None:
        self._triple_mono_s = now.t_mono_s
        self.sink.offer(ClockTriple(self._epoch, self.t_rig_s, now.t_mono_s, now.t_wall_utc_s, self._boot_id))

    def _annunciate(self, now: Now) -> bytes:
        wanted = self.alarms.annunciator(now.t_mono_s)
        if wanted == self._shown or not self.link.up:
            return b""
        self._shown = wanted
        return encode(wanted)
