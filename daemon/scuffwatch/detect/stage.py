"""Stages: which load the contact is under, since when, and what was measured meanwhile.

Reads slices and the mark button, gives STAGE notices and `StageRecord`s.
"""

import math
from dataclasses import dataclass, field, replace

from scuffwatch.detect.load_steps import Back, Left, LoadSteps, Settled, StepParams
from scuffwatch.detect.stage_sums import StageSums
from scuffwatch.detect.words import quantity
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import NORMAL_LOAD
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.model.run import StageRecord

_DWELL_SLACK_S = 1.0
_DWELL_SLACK_SHARE = 0.05
"""A dwell counts as completed this little before its end, the smaller of the two: hands are no stopwatch."""


@dataclass(frozen=True, slots=True)
class StageParams:
    """How stages are told apart.

    Attributes:
        load_min_n: below this load the contact is unloaded and there is no stage.
        step: what a load step is.
        placing_s: a further step so soon after a stage began belongs to the same placing: weights that come in pieces,
            or are set down twice, make one stage.
    """

    load_min_n: float = 5.0
    step: StepParams = field(default_factory=StepParams)
    placing_s: float = 5.0

    @classmethod
    def of(cls, load_min_n: float) -> "StageParams":
        """Give the parameters of a rig that is unloaded below a load, N: for light loads steps are small as well."""
        step = StepParams()
        return cls(load_min_n, replace(step, least_n=min(step.least_n, load_min_n)))


@dataclass(frozen=True, slots=True)
class StageNow:
    """The stage that lasts.

    Attributes:
        number: from 1; 0 where there is none.
        t_start_s: node time, s; NaN where there is none.
    """

    number: int
    t_start_s: float

    def elapsed_s(self, t_rig_s: float) -> float:
        """Give how long the stage has lasted at a time, s; NaN where there is none."""
        return t_rig_s - self.t_start_s


NO_STAGE = StageNow(0, math.nan)


class StageTracker:
    """Tell the stages of one run.

    With a load signal a stage begins when the load has left its level, stayed away for 2 s and settled for 1 s at
    another one; it then counts from when the load left. What was measured in between goes to the stage it turns out to
    belong to. Where the load signal is not fitted or BAD, `mark` begins a stage; where it is good, a mark changes
    nothing. A stage whose ring has not turned yet begins when it does; one whose ring has stopped ends where it did,
    once it is known that it does not go on. A stage is held when the ring has turned in it for the dwell; without a
    dwell, when another stage followed.

    Args:
        params: see `StageParams`.
        loads_n: load of each stage of the plan, N; may be empty. Only named beside what is measured.
        dwell_s: planned dwell, s; NaN where there is none.

    What survives a call: the open stage with its sums, the sums of a change in progress, the closed records.

    Attributes:
        closed: records of the stages that have ended, in order.
    """

    def __init__(self, params: StageParams, loads_n: tuple[float, ...] = (), dwell_s: float = math.nan) -> None:
        self._params = params
        self._loads_n = loads_n
        self._dwell_s = dwell_s
        self._steps = LoadSteps(params.step)
        self._number = 0
        self._open_since_s: float | None = None
        self._turned_s = -math.inf
        self._sums = StageSums()
        self._tick: list[tuple[Slice, bool]] = []
        self._tick_turned = False
        self._changing: StageSums | None = None
        self._marked = False
        self.closed: list[StageRecord] = []

    @property
    def current(self) -> StageNow:
        """Give the stage that lasts, or `NO_STAGE`."""
        return NO_STAGE if self._open_since_s is None else StageNow(self._number, self._open_since_s)

    def mark(self) -> None:
        """Take the word of the mark button: weight is on. It counts with the next slice."""
        self._marked = True

    def update(self, s: Slice, turning: bool | None = None) -> tuple[Finding, ...]:
        """Take the next slice.

        Args:
            s: slice, with `friction_coefficient` where it can be derived.
            turning: whether the ring turns; None, unknown, counts as turning.
        Returns:
            A notice where a stage has begun.
        """
        self._add(s, turning is not False)
        happened = self._steps.update(s)
        if self._steps.tick_over:
            self._end_tick(left=isinstance(happened, Left))
        if happened is not None:
            return self._load_did(happened, s)
        if self._marked:
            self._marked = False
            if not self._steps.load_is_good:
                self._end_tick(left=False)
                return self._begin(s.t_rig_s, StageSums(), math.nan, s.t_rig_s)
        return ()

    def finish(self, t_rig_s: float) -> tuple[StageRecord, ...]:
        """End the run's last stage and give all records, in order.

        Where the load has left its level and nothing has settled yet, the stage ended then: the weights are coming off.
        """
        self._end_tick(left=False)
        left_t_rig_s = self._steps.left_t_rig_s
        self._changing = None
        self._close(t_rig_s if left_t_rig_s is None else left_t_rig_s, followed=False)
        return tuple(self.closed)

    def _add(self, s: Slice, turning: bool) -> None:
        self._tick.append((s, turning))
        if turning:
            self._turned_s = s.t_rig_s
            self._tick_turned = True
        elif self._open_since_s is not None and self._sums.turning_s == 0.0 and not self._tick_turned:
            self._open_since_s = s.t_rig_s

    def _end_tick(self, *, left: bool) -> None:
        """Give the last 0.1 s to the change it belongs to, or to the stage; a tick in which the load left is change."""
        if left:
            self._changing = StageSums()
        (self._sums if self._changing is None else self._changing).add_tick(self._tick, begins=left)
        self._tick.clear()
        self._tick_turned = False

    def _load_did(self, happened: Left | Back | Settled, s: Slice) -> tuple[Finding, ...]:
        if isinstance(happened, Left):
            return ()
        if isinstance(happened, Back):
            self._take_back()
            return ()
        sums = self._changing or StageSums()
        self._changing = None
        since_s = happened.since_t_rig_s
        if happened.level_n < self._params.load_min_n:
            self._close(since_s, followed=True)
            return ()
        if self._open_since_s is not None and since_s - self._open_since_s < self._params.placing_s:
            self._sums.absorb(sums)
            return ()
        return self._begin(since_s, sums, happened.level_n, s.t_rig_s)

    def _take_back(self) -> None:
        if self._changing is not None:
            self._sums.absorb(self._changing)
            self._changing = None

    def _begin(self, since_s: float, sums: StageSums, level_n: float, t_rig_s: float) -> tuple[Finding, ...]:
        self._close(since_s, followed=True)
        self._number += 1
        self._sums, self._open_since_s = sums, since_s
        if sums.turning_s == 0.0:
            self._open_since_s = t_rig_s
        planned_n = self._loads_n[self._number - 1] if self._number <= len(self._loads_n) else math.nan
        return (_notice(self._number, level_n, planned_n, t_rig_s),)

    def _close(self, t_end_s: float, *, followed: bool) -> None:
        if self._open_since_s is None:
            return
        sums = self._sums
        record = StageRecord(
            number=self._number,
            t_start_s=self._open_since_s,
            t_end_s=max(min(t_end_s, self._turned_s), self._open_since_s),
            normal_load_n=sums.load_n.value,
            friction_coefficient=sums.friction.value,
            friction_coefficient_end=sums.friction_end.value,
            pin_temperature_degc=sums.pin_degc,
            bath_temperature_degc=sums.bath_degc,
            sound_level_db=sums.sound_level_db,
            held=self._held(sums.turning_s, followed),
        )
        self.closed.append(record)
        self._open_since_s = None
        self._sums = StageSums()

    def _held(self, turning_s: float, followed: bool) -> bool:
        if math.isnan(self._dwell_s):
            return followed
        return turning_s >= self._dwell_s - min(_DWELL_SLACK_S, _DWELL_SLACK_SHARE * self._dwell_s)


def _notice(number: int, level_n: float, planned_n: float, t_rig_s: float) -> Finding:
    if math.isnan(level_n):
        return Finding(FindingKind.STAGE, Level.NOTICE, t_rig_s, (), (), f"Stage {number}: weight is on, by the mark.")
    planned = "" if math.isnan(planned_n) else f", planned {quantity(NORMAL_LOAD, planned_n)}"
    says = f"Stage {number}: normal load {quantity(NORMAL_LOAD, level_n)}{planned}."
    evidence = (Evidence(NORMAL_LOAD, level_n, planned_n, "N"),)
    return Finding(FindingKind.STAGE, Level.NOTICE, t_rig_s, (NORMAL_LOAD,), evidence, says)
