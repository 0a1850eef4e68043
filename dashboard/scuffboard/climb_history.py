"""What the climb draws: the open run so far, stage by stage, and the last minute of every channel.

Reads snapshots, gives one JSON value for a page that has just been opened. Bounded: a stage that grows too long is
thinned by merging neighbours, keeping the lowest and the highest value of each.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

FIRST_STEP_S = 0.5
ROWS_NOW = 160
ROWS_PAST = 60
STEP_OF_PACE_S = 0.15
"""A simulated rig faster than real time gives its pictures further apart: its bins are wider by as much, or every
picture would stand between two gaps."""
PACE_SHARE = 0.2
PACE_OVER_S = (0.05, 2.0)
"""Real time between two pictures from which the pace is taken."""
RECENT_STEP_S = 0.5
RECENT_ROWS = 120

Json = dict[str, Any]
Values = dict[str, float]


@dataclass(slots=True)
class Row:
    """One bin of one stage: its start and the lowest and highest value of each channel in it."""

    elapsed_s: float
    low: Values
    high: Values

    def widen(self, low: Values, high: Values) -> None:
        """Take further values into the bin."""
        for name, value in low.items():
            self.low[name] = min(value, self.low.get(name, value))
        for name, value in high.items():
            self.high[name] = max(value, self.high.get(name, value))


@dataclass(slots=True)
class StageTrack:
    """Rows of one stage, in order of time, at most `ROWS_NOW`."""

    step_s: float = FIRST_STEP_S
    rows: list[Row] = field(default_factory=list)

    def add(self, elapsed_s: float, low: Values, high: Values) -> None:
        """Add what was seen `elapsed_s` into the stage; earlier than the last bin goes into the last bin."""
        start_s = elapsed_s - elapsed_s % self.step_s
        if self.rows and start_s <= self.rows[-1].elapsed_s:
            self.rows[-1].widen(low, high)
            return
        self.rows.append(Row(start_s, dict(low), dict(high)))
        if len(self.rows) > ROWS_NOW:
            self.thin(ROWS_NOW)

    def thin(self, rows_at_most: int) -> None:
        """Double the step until at most `rows_at_most` rows remain."""
        while len(self.rows) > rows_at_most:
            self.step_s *= 2.0
            merged: list[Row] = []
            for row in self.rows:
                start_s = row.elapsed_s - row.elapsed_s % self.step_s
                if merged and start_s <= merged[-1].elapsed_s:
                    merged[-1].widen(row.low, row.high)
                else:
                    merged.append(Row(start_s, row.low, row.high))
            self.rows = merged


class ClimbHistory:
    """Keeps the open run's climb and the last minute, from snapshots. State survives until the next run opens."""

    def __init__(self) -> None:
        self.run = ""
        self.stage = 0
        self.stages: dict[int, StageTrack] = {}
        self.first_step_s = FIRST_STEP_S
        self._pace = 1.0
        self._seen: tuple[float, float] | None = None
        self._recent: deque[tuple[float, Values]] = deque(maxlen=RECENT_ROWS)

    def open(self, run: str, rows: Sequence[tuple[int, float, Values, Values]] = ()) -> None:
        """Begin the climb of another run, with the rows `(stage, elapsed_s, low, high)` that the record has of it."""
        self.run, self.stages, self.stage = run, {}, 0
        for stage, elapsed_s, low, high in rows:
            track = self.stages.setdefault(stage, StageTrack(step_s=_seed_step_s(stage, rows)))
            track.rows.append(Row(elapsed_s, low, high))
            self.stage = stage

    def accept(self, snapshot: Json) -> None:
        """Take one snapshot. A tripped rig adds nothing to the climb: it ended where the trip was."""
        values = good_values(snapshot)
        t_rig_s = float(snapshot.get("t_rig_s") or 0.0)
        self._follow_pace(t_rig_s, float(snapshot.get("t_wall_utc_s") or 0.0), bool(snapshot.get("simulated")))
        if not self._recent or abs(t_rig_s - self._recent[-1][0]) >= RECENT_STEP_S:
            self._recent.append((t_rig_s, values))
        run = snapshot.get("run")
        if run and run["name"] != self.run:
            self.open(run["name"])
        if run and (snapshot.get("permit") or {}).get("state") != "tripped":
            self._grow(run, values)

    def _follow_pace(self, t_rig_s: float, t_wall_utc_s: float, simulated: bool) -> None:
        seen, self._seen = self._seen, (t_rig_s, t_wall_utc_s)
        if seen is None or not simulated:
            return
        real_s = t_wall_utc_s - seen[1]
        if PACE_OVER_S[0] <= real_s <= PACE_OVER_S[1]:
            self._pace += PACE_SHARE * ((t_rig_s - seen[0]) / real_s - self._pace)
            self.first_step_s = max(FIRST_STEP_S, STEP_OF_PACE_S * self._pace)

    def _grow(self, run: Json, values: Values) -> None:
        stage = int(run.get("stage") or 0)
        if stage != self.stage and self.stage in self.stages:
            self.stages[self.stage].thin(ROWS_PAST)
        self.stage = stage
        track = self.stages.setdefault(stage, StageTrack(self.first_step_s))
        track.add(float(run.get("stage_elapsed_s") or 0.0), values, values)

    def as_json(self) -> Json:
        """Give the climb: for each stage its step and rows `[elapsed_s, {low}, {high}]`, and the last minute."""
        return {
            "run": self.run,
            "first_step_s": self.first_step_s,
            "stages": {
                str(number): {
                    "step_s": track.step_s,
                    "rows": [[row.elapsed_s, _rounded(row.low), _rounded(row.high)] for row in track.rows],
                }
                for number, track in sorted(self.stages.items())
            },
            "recent": [[t_rig_s, _rounded(values)] for t_rig_s, values in self._recent],
        }


def good_values(snapshot: Json) -> Values:
    """Give the value of every channel that has one and is not BAD."""
    return {
        name: float(channel["value"])
        for name, channel in (snapshot.get("channels") or {}).items()
        if channel.get("value") is not None and channel.get("quality") != "bad"
    }


def _seed_step_s(stage: int, rows: Sequence[tuple[int, float, Values, Values]]) -> float:
    """Give the step of a stage read from the record: the usual distance of its rows, so that a hole stays a hole."""
    times_s = [elapsed_s for number, elapsed_s, _, _ in rows if number == stage]
    distances_s = sorted(after - before for before, after in pairwise(times_s))
    return max(FIRST_STEP_S, distances_s[len(distances_s) // 2]) if distances_s else FIRST_STEP_S


def _rounded(values: Values) -> Values:
    return {name: round(value, 4) for name, value in values.items()}
