"""One scenario from the motor's start to its end, out of the stored record, compared with the truth.

Reads the live picture while the run goes on and the record afterwards; gives a result that says whether it ended as it
must. The truth comes from a twin of the simulated rig that ignores the permit; nothing in the core knows it.
"""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from scuffwatch.cli.demo_session import Session
from scuffwatch.cli.demo_verdict import Seen, verdict
from scuffwatch.cli.processes import Children
from scuffwatch.model.errors import InternalError
from scuffwatch.model.run import Outcome
from scuffwatch.service.jsons import number, stage_json
from scuffwatch.sim.scenario import SCENARIOS, Truth
from scuffwatch.sim.twin import run as run_twin
from scuffwatch.store.reader import Archive, RunReader

SLACK_RIG_S = 60.0
"""Longer than the twin by this and the demonstration gives up."""
KILL_AFTER_RIG_S = 90.0
"""When the host dies in the scenario in which it does."""


class Progress(Protocol):
    """Where the progress line goes."""

    def say(self, line: str) -> None:
        """Show a line."""

    def done(self) -> None:
        """End the line."""


@dataclass(frozen=True, slots=True)
class Result:
    """What the record says, beside what was true.

    Attributes:
        seen: what the record and the rig box say.
        truth: what the twin did.
        as_expected: whether the scenario ended as it must.
        because: the sentences that led to that verdict.
        speed_reached: times real time, measured over the whole run.
        record: run name, channels, samples and gaps out of the record.
    """

    seen: Seen
    truth: Truth
    as_expected: bool
    because: tuple[str, ...]
    speed_reached: float
    record: dict[str, Any]

    def as_json(self) -> dict[str, Any]:
        """Give the result as JSON values."""
        seen = self.seen
        return {
            "scenario": self.truth.scenario,
            "seed": self.truth.seed,
            "simulated": True,
            "outcome": seen.outcome.value,
            "first_out": {"kind": seen.first_out_kind, "says": seen.first_out_says},
            "trip_t_s": number(seen.trip_t_s, 3),
            "permit_off_t_s": number(seen.permit_off_t_s, 3),
            "truth": {
                name: getattr(self.truth, name)
                for name in ("onset_t_s", "severe_t_s", "jam_t_s", "stall_t_s", "overheat_t_s", "cable_t_s")
            },
            "stages": [stage_json(stage) for stage in seen.stages],
            "record": self.record,
            "speed_reached": round(self.speed_reached, 1),
            "as_expected": self.as_expected,
            "because": list(self.because),
        }

    def as_text(self) -> str:
        """Give the result as a person reads it."""
        seen = self.seen
        lines = [
            f"Scenario {self.truth.scenario}, seed {self.truth.seed} (simulated, invented data), "
            f"{self.speed_reached:.1f} times real time",
            f"Outcome: {seen.outcome.value}",
        ]
        if seen.first_out_says:
            lines.append(f"First-out: {seen.first_out_says}")
        lines.append("stage   load N   friction   at end   pin °C   sound dB   held")
        for stage in seen.stages:
            lines.append(
                f"{stage.number:5d} {stage.normal_load_n:8.0f} {stage.friction_coefficient:10.3f} "
                f"{stage.friction_coefficient_end:8.3f} {stage.pin_temperature_degc:8.1f} "
                f"{stage.sound_level_db:10.1f}   {'yes' if stage.held else 'no'}"
            )
        lines += self.because
        record = self.record
        lines.append(
            f"Record: run {record['run']}, {record['samples']} samples, {record['gap_samples']} in marked gaps"
        )
        lines.append("As it must be." if self.as_expected else "NOT as it must be.")
        return "\n".join(lines)


def run(folder: Path, scenario: str, seed: int, speed: float, progress: Progress) -> Result:
    """Play one scenario to its end.

    Args:
        folder: empty folder for everything.
        scenario, seed, speed: what is played and how fast.
        progress: told how far it is.
    Raises:
        InternalError: a process ended, or nothing came to its end in time.
    """
    truth = run_twin(SCENARIOS[scenario], seed)
    with Children(folder) as children:
        session = Session(folder, children, scenario, seed, speed)
        progress.say("starting the simulated rig and the core")
        session.start_rig()
        session.start_core()
        name = session.open_test_run()
        session.permit_and_start()
        begun_mono_s, begun_rig_s = time.monotonic(), session.panel.status()["t_rig_s"]
        if SCENARIOS[scenario].expected is Outcome.POWER_LOSS:
            _kill_host(session, children, progress)
        else:
            _to_the_end(session, truth, progress)
        status = session.panel.status()
        speed_reached = (status["t_rig_s"] - begun_rig_s) / (time.monotonic() - begun_mono_s)
        if SCENARIOS[scenario].expected is Outcome.POWER_LOSS:
            session.start_core()
        else:
            session.close_run()
    progress.done()
    with Archive(folder).open_run(name) as reader:
        seen = _seen(reader, status)
        record = _record(name, reader)
    good, because = verdict(seen, truth)
    return Result(seen, truth, good, because, speed_reached, record)


def _to_the_end(session: Session, truth: Truth, progress: Progress) -> None:
    known = (truth.stall_t_s, truth.jam_t_s, truth.overheat_t_s, truth.cable_t_s, truth.end_t_s)
    last_s = max((t_s for t_s in known if t_s is not None), default=0.0) + SLACK_RIG_S
    session.wait("the end of the scenario", _ended(session, progress), last_s / session.speed * 3 + 20.0)


def _ended(session: Session, progress: Progress) -> Callable[[], bool]:
    def look() -> bool:
        picture = session.snapshot()
        status = session.panel.status()
        stage = picture["run"]["stage"] if picture["run"] else 0
        progress.say(f"stage {stage}, {status['since_start_s'] or 0.0:.0f} s, {picture['permit']['state']}")
        tripped = picture["permit"]["state"] == "tripped"
        return bool((tripped and not status["contactor_closed"]) or status["finished"])

    return look


def _kill_host(session: Session, children: Children, progress: Progress) -> None:
    session.wait(
        "a while of running",
        lambda: (session.panel.status()["since_start_s"] or 0.0) > KILL_AFTER_RIG_S,
        KILL_AFTER_RIG_S / session.speed * 3 + 20.0,
    )
    progress.say("killing the core")
    children.kill("core")
    session.wait("the contactor to open", lambda: not session.panel.status()["contactor_closed"])
    session.forget_core()


def _seen(reader: RunReader, status: dict[str, Any]) -> Seen:
    result = reader.result
    if result is None:
        raise InternalError("the record has no outcome although the run was closed")
    started_s = status["started_t_s"]
    trips = reader.trips()
    first_out = trips[0].first_out if trips else None
    return Seen(
        outcome=result.outcome,
        first_out_kind=first_out.kind.value if first_out else "",
        first_out_says=result.first_out,
        trip_t_s=first_out.t_rig_s - started_s if first_out else math.nan,
        permit_off_t_s=_since(status["permit_off_t_s"], started_s),
        stages=reader.stages(),
        contactor_open_after_block_ms=status["contactor_open_after_block_ms"],
    )


def _since(t_s: float | None, started_s: float) -> float:
    return math.nan if t_s is None else t_s - started_s


def _record(name: str, reader: RunReader) -> dict[str, Any]:
    ledger = reader.ledger()
    return {
        "run": name,
        "channels": [channel.name for channel in reader.channels],
        "samples": sum(row.stored for row in ledger),
        "gap_samples": sum(row.marked for row in ledger),
        "gaps": len(reader.gaps()),
        "balanced": all(row.balances for row in ledger),
    }
