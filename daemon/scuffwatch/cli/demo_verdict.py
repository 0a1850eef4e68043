"""Whether a demonstration ended as it must: what the record says against what was true.

Reads values only. Every clause gives a sentence with both numbers.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from scuffwatch.model.run import Outcome, StageRecord
from scuffwatch.sim.scenario import SCENARIOS, Truth

JAM_LIMIT_S = 0.150
OVERHEAT_LIMIT_S = 5.0
"""The thermocouple lags the pin, so its limit is passed later than the pin's own."""
OVERHEAT_AHEAD_S = 20.0
"""The forecast takes the permit away before the limit, but only where it is nearer than this: `trip_horizon_s` of
`detect/heat.py`."""
OPEN_LIMIT_MS = 250.0
LAPSED = "lease has lapsed"
TOO_BUSY = (
    "The permit lapsed, as it must where the core is late: this computer was too busy to play the scenario so fast. "
    "Run it again, or slower: --speed 2."
)


@dataclass(frozen=True, slots=True)
class Seen:
    """What the record and the rig box say.

    Attributes:
        outcome: of the run.
        first_out_kind, first_out_says: first cause of the trip, empty where there was none.
        trip_t_s: sample time of the first cause, s since the motor's start; NaN for none.
        permit_off_t_s: when the rig box dropped the permit, s since the motor's start in rig time; NaN for never.
        stages: as stored.
        contactor_open_after_block_ms: real time from the last data block to the contactor opening, or None.
    """

    outcome: Outcome
    first_out_kind: str
    first_out_says: str
    trip_t_s: float
    permit_off_t_s: float
    stages: tuple[StageRecord, ...]
    contactor_open_after_block_ms: float | None


def verdict(seen: Seen, truth: Truth) -> tuple[bool, tuple[str, ...]]:
    """Say whether it ended as it must, and why.

    Args:
        seen: from the record.
        truth: from the twin.
    Returns:
        The verdict and one sentence a clause; a clause that failed begins with `WRONG`.
    """
    clauses = tuple(_clauses(seen, truth))
    well = all(good for good, _ in clauses)
    because = tuple(says if good else f"WRONG: {says}" for good, says in clauses)
    return well, because if well or LAPSED not in seen.first_out_says else (*because, TOO_BUSY)


def _clauses(seen: Seen, truth: Truth) -> Iterator[tuple[bool, str]]:
    scenario = SCENARIOS[truth.scenario]
    expected = scenario.expected
    yield seen.outcome is expected, f"Outcome {seen.outcome.value}, expected {expected.value}."
    if expected is Outcome.HELD:
        held = sum(stage.held for stage in seen.stages)
        yield held == len(scenario.loads_n), f"{held} of {len(scenario.loads_n)} stages held."
        yield math.isnan(seen.trip_t_s), "No trip." if math.isnan(seen.trip_t_s) else f"Trip at {seen.trip_t_s:.2f} s."
    elif expected is Outcome.SCUFFED:
        yield from _before_stall(seen, truth)
    elif expected is Outcome.JAMMED:
        after_s = seen.trip_t_s - _known(truth.stall_t_s)
        when = f"{1000 * abs(after_s):.0f} ms {'before' if after_s < 0 else 'after'}"
        yield after_s <= JAM_LIMIT_S, f"Trip {when} the first stalled sample, limit 150 ms after."
    elif expected is Outcome.OVERHEATED:
        after_s = seen.trip_t_s - _known(truth.overheat_t_s)
        when = f"{abs(after_s):.2f} s {'before' if after_s < 0 else 'after'}"
        in_time = -OVERHEAT_AHEAD_S <= after_s <= OVERHEAT_LIMIT_S
        limits = f"{OVERHEAT_AHEAD_S:.0f} s before to {OVERHEAT_LIMIT_S:.0f} s after"
        yield in_time, f"Trip {when} the pin's limit, limit {limits}."
    elif truth.cable_t_s is not None:
        yield seen.first_out_kind == "link_lost", f"First-out {seen.first_out_kind}, expected link_lost."
        yield from _opened(seen)
    elif expected is Outcome.POWER_LOSS:
        yield from _opened(seen)


def _before_stall(seen: Seen, truth: Truth) -> Iterator[tuple[bool, str]]:
    stall_s = _known(truth.stall_t_s)
    says = f"Permit gone {stall_s - seen.permit_off_t_s:.2f} s before the stall that the twin had at {stall_s:.2f} s"
    onset = f", {seen.permit_off_t_s - _known(truth.onset_t_s):+.2f} s from the onset."
    yield seen.permit_off_t_s < stall_s, says + onset


def _opened(seen: Seen) -> Iterator[tuple[bool, str]]:
    after_ms = seen.contactor_open_after_block_ms
    if after_ms is None:
        yield False, "The contactor has not opened."
    else:
        yield after_ms <= OPEN_LIMIT_MS, f"Contactor open {after_ms:.0f} ms after the last data block, limit 250 ms."


def _known(t_s: float | None) -> float:
    return math.nan if t_s is None else t_s
