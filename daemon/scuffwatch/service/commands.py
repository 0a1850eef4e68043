"""What each command does to the core. None of them can give the permit; three can take it away.

Reads commands with their actor, gives replies. The sentence of a refusal names what to do next.
"""

import math
from collections.abc import Callable

from scuffwatch.control.commands import (
    Acknowledge,
    CloseRun,
    Command,
    Mark,
    Note,
    Observe,
    OpenRun,
    StopRequest,
    Tare,
)
from scuffwatch.control.messages import Reply
from scuffwatch.model.channel import unit_of
from scuffwatch.model.errors import CommandRefused, OperatorError
from scuffwatch.model.event import EventKind, JsonValue
from scuffwatch.model.run import RunHeader, RunKind
from scuffwatch.service import params
from scuffwatch.service.core import Core, Now
from scuffwatch.service.jsons import header_json, result_json
from scuffwatch.service.settings import RigSettings
from scuffwatch.store.items import RunClosed, RunOpened


class Desk:
    """Carries out commands on one core.

    Args:
        core: the core.
        next_run_name: gives the next run name for a wall clock time, s since 1970.
    """

    def __init__(self, core: Core, next_run_name: Callable[[float], str]) -> None:
        self._core = core
        self._next_run_name = next_run_name

    def carry_out(self, command: Command, now: Now) -> tuple[Reply, bytes]:
        """Do one command.

        Args:
            command: any command; `actor` says who.
            now: both host clocks.
        Returns:
            The reply, and bytes for the rig box.
        """
        try:
            match command:
                case StopRequest():
                    return self._stop(command, now)
                case Acknowledge():
                    return self._acknowledge(command, now)
                case OpenRun():
                    return self._open(command, now), b""
                case CloseRun():
                    return self._close(command, now)
                case Mark():
                    return self._mark(command, now), b""
                case Note() | Observe():
                    return self._note(command, now), b""
                case Tare():
                    return self._tare(command, now)
        except OperatorError as error:
            self._core.event(EventKind.COMMAND, error.sentence(), now, actor=command.actor)
            return Reply(False, error.sentence(), {}), b""

    def close_expired(self, now: Now) -> bytes:
        """Close a run that tripped and was not resumed in time."""
        if self._core.runs.resume_left_s(now.t_mono_s) > 0:
            return b""
        return self._close(CloseRun("Not resumed in time.", actor="scuffwatch"), now)[1]

    def _stop(self, command: StopRequest, now: Now) -> tuple[Reply, bytes]:
        core = self._core
        core.event(EventKind.STOP_REQUEST, "Stop requested, by software.", now, actor=command.actor)
        out = core.judge_guard(now, stop_request=command.actor or "somebody")
        return Reply(True, "Stop requested: motor permit withdrawn. Look at the rig.", {}), out

    def _acknowledge(self, command: Acknowledge, now: Now) -> tuple[Reply, bytes]:
        core = self._core
        actor = command.actor or "somebody"
        core.update_alarms(now, acts=(core.alarms.acknowledgement(command.alarm_key, actor),))
        trip = command.alarm_key == "" or core.alarms.is_trip(command.alarm_key)
        out = core.judge_guard(now, acknowledge=actor) if trip else b""
        return Reply(True, "Acknowledged. The latch stays until the reset at the rig.", {}), out

    def _open(self, command: OpenRun, now: Now) -> Reply:
        core = self._core
        fault = core.store_fault()
        if fault:
            raise CommandRefused("Open a run", fault.rstrip("."), "Alarm “Not recorded” says what to do.")
        header = RunHeader(
            name=self._next_run_name(now.t_wall_utc_s),
            kind=command.kind,
            lubricant=command.lubricant,
            treat_rate_percent=command.treat_rate_percent,
            bath_volume_ml=command.bath_volume_ml,
            ring=command.ring,
            pin=command.pin,
            loads_n=command.loads_n,
            dwell_s=command.dwell_s if math.isfinite(command.dwell_s) else core.settings.run.dwell_s,
            simulated=core.settings.rig.simulated,
        )
        core.runs.open(header, now.t_wall_utc_s, core.t_rig_s)
        core.oil_limits = params.oil_limits(core.settings, header.lubricant)
        oil_heat = params.oil_heat(core.oil_limits)
        core.chain.bank.start_run(header.loads_n, header.dwell_s, limits=core.oil_limits, heat=oil_heat)
        records = params.channel_records(core.settings, core.chain.layouts)
        core.sink.offer(RunOpened(header, records, core.settings_toml, core.t_rig_s, now.t_wall_utc_s))
        kind = "Test" if header.kind is RunKind.TEST else "Setup"
        says = f"{kind} run {header.name} open." + _no_record_says(core.settings, header.lubricant)
        data = {**header_json(header), "contactor_closed": core.chain.contactor_closed, **core.from_slice()}
        core.event(EventKind.RUN_OPENED, says, now, actor=command.actor, data=data)
        return Reply(True, says, {"run": header_json(header)})

    def _close(self, command: CloseRun, now: Now) -> tuple[Reply, bytes]:
        core = self._core
        if core.runs.current is None:
            raise CommandRefused("Close the run", "no run is open", "Open one first.")
        result = core.runs.result(core.t_rig_s, core.chain.bank.finish_run(core.t_rig_s))
        name = core.runs.name
        says = f"Run {name} closed: {result.outcome.value}."
        data: dict[str, JsonValue] = {"result": result_json(result), "outcome_says": command.outcome_says}
        core.event(EventKind.RUN_CLOSED, says, now, actor=command.actor, data=data)
        core.sink.offer(RunClosed(result, now.t_wall_utc_s))
        core.runs.forget()
        return Reply(True, says, {"run": name, "result": result_json(result)}), core.judge_guard(now)

    def _mark(self, command: Mark, now: Now) -> Reply:
        self._core.chain.bank.mark()
        self._core.event(EventKind.MARK, "Mark: weight is on.", now, actor=command.actor, data=self._core.from_slice())
        return Reply(True, "Marked.", {})

    def _note(self, command: Note | Observe, now: Now) -> Reply:
        if isinstance(command, Note):
            self._core.event(EventKind.NOTE, command.text, now, actor=command.actor)
            return Reply(True, "Note kept.", {})
        word = command.what.value.replace("_", " ")
        self._core.event(EventKind.OBSERVATION, f"Observed: {word}.", now, actor=command.actor, data={"what": word})
        return Reply(True, f"Observation kept: {word}.", {})

    def _tare(self, command: Tare, now: Now) -> tuple[Reply, bytes]:
        value, out = self._core.tare(command.channel, now, command.actor)
        unit = unit_of(command.channel)
        return Reply(True, f"Zero of {command.channel} set at {value:.3f} {unit}.", {"tare": value}), out


def _no_record_says(settings: RigSettings, lubricant: str) -> str:
    """Say that a rig which keeps lubricants on record knows nothing of this one; else nothing."""
    if not lubricant or not settings.lubricants or params.lubricant_on_record(settings, lubricant):
        return ""
    return f" No smoke or flash point of {lubricant} is on record: the rig's own limits hold alone."
