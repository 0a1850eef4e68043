"""The open run: opened in one touch, kept through a trip for a while, closed with one outcome.

Reads commands and trips, gives headers and results. The end by plan and the end by the guard are never mixed up.
"""

from dataclasses import dataclass, replace

from scuffwatch.model.errors import CommandRefused
from scuffwatch.model.finding import Finding, FindingKind
from scuffwatch.model.run import Outcome, RunHeader, RunKind, RunResult, StageRecord

OUTCOME_OF = {
    FindingKind.SCUFFING_ONSET: Outcome.SCUFFED,
    FindingKind.FRICTION_LIMIT: Outcome.SCUFFED,
    FindingKind.STALL: Outcome.STALLED,
    FindingKind.JAM: Outcome.JAMMED,
    FindingKind.OVERHEAT: Outcome.OVERHEATED,
    FindingKind.SENSOR_FAULT: Outcome.SENSOR_FAULT,
    FindingKind.SPEED_SENSOR_LOST: Outcome.SENSOR_FAULT,
}
"""Outcome by first-out; every other cause is a stop for another reason, below scuffing."""


@dataclass(frozen=True, slots=True)
class OpenRunState:
    """A run that is open.

    Attributes:
        header: what is known of it.
        opened_utc_s, opened_t_rig_s: label and node time of its opening.
        first_out: cause of the trip it waits to be resumed from, or None.
        tripped_mono_s: when that trip came, host monotonic clock, s.
        permitted_once: whether the motor has been permitted in it.
        interrupted: whether it was resumed after a trip.
        stage, stage_t_start_s: the stage at that trip and its start in node time, s; the weights come off afterwards.
    """

    header: RunHeader
    opened_utc_s: float
    opened_t_rig_s: float
    first_out: Finding | None = None
    tripped_mono_s: float = float("nan")
    permitted_once: bool = False
    interrupted: bool = False
    stage: int = 0
    stage_t_start_s: float = float("nan")


class RunKeeper:
    """Holds at most one open run.

    Args:
        resume_within_s: how long a tripped run waits to be resumed, s of host time.
    """

    def __init__(self, resume_within_s: float) -> None:
        self._resume_within_s = resume_within_s
        self.current: OpenRunState | None = None

    @property
    def name(self) -> str:
        """Give the name of the open run, or an empty string."""
        return self.current.header.name if self.current else ""

    def open(self, header: RunHeader, t_wall_utc_s: float, t_rig_s: float) -> None:
        """Open a run.

        Raises:
            CommandRefused: one is open already.
        """
        if self.current is not None:
            raise CommandRefused("Open a run", f"run {self.name} is open", "Close it first.")
        self.current = OpenRunState(header, t_wall_utc_s, t_rig_s)

    def permitted(self) -> None:
        """Note that the motor is permitted; after a trip the run is then *interrupted*."""
        run = self._must()
        self.current = replace(
            run,
            permitted_once=True,
            interrupted=run.interrupted or run.first_out is not None,
            first_out=None,
            tripped_mono_s=float("nan"),
        )

    def tripped(
        self, first_out: Finding, t_mono_s: float, stage: int = 0, stage_t_start_s: float = float("nan")
    ) -> None:
        """Note a trip and the stage it came in; only the first since the motor was last permitted counts."""
        if self.current is not None and self.current.permitted_once and self.current.first_out is None:
            self.current = replace(
                self.current,
                first_out=first_out,
                tripped_mono_s=t_mono_s,
                stage=stage,
                stage_t_start_s=stage_t_start_s,
            )

    def resume_left_s(self, t_mono_s: float) -> float:
        """Give how long the run may still be resumed, s; infinite where it has not tripped."""
        if self.current is None or self.current.first_out is None:
            return float("inf")
        return max(0.0, self._resume_within_s - (t_mono_s - self.current.tripped_mono_s))

    def result(self, t_rig_s: float, stages: tuple[StageRecord, ...]) -> RunResult:
        """Say how the open run ends if it ends now.

        Raises:
            CommandRefused: none is open.
        """
        run = self._must()
        says = run.first_out.says if run.first_out else ""
        return RunResult(_outcome(run, stages), says, t_rig_s, stages, run.interrupted)

    def forget(self) -> None:
        """Let go of the run that has been closed."""
        self.current = None

    def _must(self) -> OpenRunState:
        if self.current is None:
            raise CommandRefused("Close the run", "no run is open", "Open one first.")
        return self.current


def _outcome(run: OpenRunState, stages: tuple[StageRecord, ...]) -> Outcome:
    if run.first_out is not None:
        return OUTCOME_OF.get(run.first_out.kind, Outcome.STOPPED)
    planned = len(run.header.loads_n)
    reached = len(stages) >= planned > 0 and all(stage.held for stage in stages[:planned])
    return Outcome.HELD if reached and run.header.kind is RunKind.TEST else Outcome.STOPPED
