"""Scores one verdict on one recording (DETECTION, benchmark protocol 1 to 5, 7).

Reads truth and verdict, gives one row of plain values.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import MOTOR_CURRENT, RING_SPEED, Kind, Klass, Recording, Truth

from scuffwatch.model.finding import FindingKind, Level

from .variants import MECHANICAL
from .verdict import Heard, Verdict

ON_TIME_S = 10.0
AHEAD_S = 10.0
_TOLERANCE_S = 0.02
"""A slice carries the stamp of its first row; an event lies between two rows."""
_LONGEST_STEP_S = 60.0
_MEAN_S = 0.3
"""Of a current, so that a small one does not start with its noise."""
_FAULTS = (FindingKind.SENSOR_FAULT, FindingKind.SPEED_SENSOR_LOST)

CAUGHT, EARLY, LATE, MISSED = "caught", "early", "late", "missed"
FALSE, QUIET, FAULT_STOP, SUPPLY_STOP = "false", "quiet", "stopped for a fault", "stopped without supply"
WRONG = (EARLY, LATE, MISSED, FALSE)


@dataclass(frozen=True, slots=True)
class Row:
    """One recording, one detector; NaN and None where a thing does not apply.

    Attributes:
        status: one of the words above.
        seen: whether a mechanical channel shows the event (a limited temperature for an overheat).
        blind_said: whether the detector says it is blind to such an event here.
        hours: watched before the event, or until the trip or the end.
        trip_s, kind, says: the first trip.
        after_earliest_s, after_onset_s, after_stall_s: of the trip; the latter from the first stalled row.
        before_severe: tripped, not early, before the force had tripled; where it did triple.
        warned_ahead: a warning or a rightful trip ten seconds or more before the onset; long precursors only.
        false_warns, sensor_warns: before the event; the latter name a sensor that had no lasting fault.
        fault_named_s: after the fault began; NaN if it never was.
        by_failed: a trip before anything had happened, by the channel whose sensor had failed.
        misnamed: faults named on a sound channel after it began.
        supply_named: that the supply is gone, and not something else.
        starts: of the motor while watched; for starts and stops only.
    """

    world: str
    detector: str
    klass: str
    seed: int
    channel_set: str
    drive: str
    status: str
    seen: bool
    blind_said: bool
    hours: float
    trip_s: float = math.nan
    kind: str = ""
    says: str = ""
    after_earliest_s: float = math.nan
    after_onset_s: float = math.nan
    after_stall_s: float = math.nan
    before_severe: bool | None = None
    warned_ahead: bool | None = None
    false_warns: int = 0
    sensor_warns: int = 0
    fault: str = ""
    fault_named_s: float = math.nan
    by_failed: bool = False
    misnamed: int = 0
    supply_named: bool | None = None
    starts: int = 0


def score(world: str, detector: str, klass: Klass, seed: int, recording: Recording, verdict: Verdict) -> Row:
    """Give the row of a verdict."""
    truth, trip = recording.truth, verdict.trip
    status, until_s = status_of(klass, truth, trip), truth.earliest_legitimate_trip_s
    end_s = min(x for x in (until_s, math.inf if trip is None else trip.t_s, float(recording.time_s[-1])) if x == x)
    trip_s = math.nan if trip is None else trip.t_s
    stalled = recording.time_s[recording.time_s >= truth.stall_s]
    seen = _seen(klass, recording)
    rightful = status in (CAUGHT, LATE)
    warns = [heard for heard in verdict.heard if heard.level is Level.WARN]
    named_s = _fault_named_s(truth, verdict)
    return Row(
        world=world,
        detector=detector,
        klass=klass.value,
        seed=seed,
        channel_set=recording.rig.channel_set.value,
        drive=recording.rig.drive.value,
        status=status,
        seen=seen,
        blind_said=_blind_said(klass, verdict),
        hours=watched_h(recording, end_s),
        trip_s=trip_s,
        kind="" if trip is None else trip.kind.value,
        says="" if trip is None else trip.says,
        after_earliest_s=trip_s - truth.earliest_legitimate_trip_s,
        after_onset_s=trip_s - truth.onset_s,
        after_stall_s=trip_s - float(stalled[0]) if len(stalled) else math.nan,
        before_severe=None
        if math.isnan(truth.severe_s)
        else rightful and trip_s <= min(truth.severe_s, truth.onset_s + ON_TIME_S),
        warned_ahead=_warned_ahead(truth, verdict) if klass is Klass.SCUFFING_LONG else None,
        false_warns=sum(_is_false(heard, klass, truth, end_s) for heard in warns if heard.kind not in _FAULTS),
        sensor_warns=sum(
            heard.t_s < end_s and not heard.t_s >= truth.fault_s for heard in warns if heard.kind in _FAULTS
        ),
        fault="" if truth.fault is None else truth.fault.value,
        fault_named_s=named_s,
        by_failed=trip is not None and status in (FALSE, EARLY) and _is_failed(truth, trip),
        misnamed=sum(
            heard.kind in _FAULTS and heard.t_s >= truth.fault_s and truth.fault_channel not in heard.channels
            for heard in verdict.heard
        ),
        supply_named=_supply_named(truth, verdict) if klass is Klass.SUPPLY_LOST and status is not FALSE else None,
        starts=starts_in(recording, end_s) if klass is Klass.STARTS_AND_STOPS else 0,
    )


def status_of(klass: Klass, truth: Truth, trip: Heard | None) -> str:
    """Give what a trip, or none, was worth."""
    if trip is None:
        return MISSED if truth.trip_worthy else QUIET
    if trip.t_s >= truth.supply_lost_s - _TOLERANCE_S:
        return SUPPLY_STOP
    for_fault = trip.kind in _FAULTS and trip.t_s >= truth.fault_s - _TOLERANCE_S
    if not truth.trip_worthy:
        return FAULT_STOP if for_fault else FALSE
    if trip.t_s < truth.earliest_legitimate_trip_s - _TOLERANCE_S:
        return FAULT_STOP if for_fault else EARLY
    return CAUGHT if trip.t_s <= deadline_s(klass, truth) + _TOLERANCE_S else LATE


def deadline_s(klass: Klass, truth: Truth) -> float:
    """Give the last moment at which a trip is in time, s."""
    if klass is Klass.JAM:
        return truth.jam_s + ON_TIME_S
    if klass is Klass.OVERHEAT:
        return truth.overheat_s + ON_TIME_S
    return truth.onset_s + ON_TIME_S if math.isnan(truth.stall_s) else min(truth.stall_s, truth.onset_s + ON_TIME_S)


def watched_h(recording: Recording, end_s: float) -> float:
    """Give the time that is in the recording up to `end_s`, h; a step of the stamps above a minute is not watched."""
    high = np.maximum.accumulate(recording.time_s)
    steps = np.diff(high, prepend=high[0])
    return float(steps[(high <= end_s) & (steps < _LONGEST_STEP_S)].sum()) / 3600.0


def starts_in(recording: Recording, end_s: float) -> int:
    """Count starts of the motor: its current's mean of 0.3 s rises from a tenth to a half of what it draws idling.

    Without a current the ring's speed is taken, against its rated one; without either none is seen.
    """
    usual = {MOTOR_CURRENT: recording.rig.no_load_current_a, RING_SPEED: recording.rig.ring_speed_rpm}
    name = next((name for name in usual if name in recording.channels), None)
    if name is None:
        return 0
    shown = recording.time_s <= end_s
    read, steps_s = recording.channels[name][shown], np.diff(recording.time_s[shown])
    read = read[np.isfinite(read)]
    together = max(1, round(_MEAN_S / float(np.median(steps_s)))) if len(steps_s) else 1
    if len(read) < together:
        return 0
    share = np.convolve(read, np.ones(together) / together, "valid") / usual[name]
    state = np.where(share > 0.5, 1, np.where(share < 0.1, -1, 0))
    state = state[state != 0]
    return int(np.sum((state[1:] == 1) & (state[:-1] == -1)))


def _is_failed(truth: Truth, trip: Heard) -> bool:
    return trip.t_s >= truth.fault_s - _TOLERANCE_S and truth.fault_channel in trip.channels


def _seen(klass: Klass, recording: Recording) -> bool:
    truth = recording.truth
    if klass is Klass.OVERHEAT:
        return bool(truth.seen_by)
    return not truth.trip_worthy or any(name in MECHANICAL for name in truth.seen_by)


def _blind_said(klass: Klass, verdict: Verdict) -> bool:
    kinds = {
        Klass.OVERHEAT: (FindingKind.OVERHEAT,),
        Klass.JAM: (FindingKind.JAM, FindingKind.STALL),
    }.get(klass, (FindingKind.SCUFFING_ONSET,))
    return any(kind.value in word for kind in kinds for word in verdict.blind_to)


def _warned_ahead(truth: Truth, verdict: Verdict) -> bool:
    begin_s = truth.earliest_legitimate_trip_s - _TOLERANCE_S
    return any(
        heard.level >= Level.WARN and heard.kind not in _FAULTS and begin_s <= heard.t_s <= truth.onset_s - AHEAD_S
        for heard in verdict.heard
    )


def _is_false(heard: Heard, klass: Klass, truth: Truth, end_s: float) -> bool:
    if heard.t_s >= end_s - _TOLERANCE_S:
        return False
    if klass is Klass.OVERHEAT and heard.kind is FindingKind.OVERHEAT:
        return False  # the abnormal heating may have begun long before a trip is rightful
    if heard.kind is FindingKind.STICK_SLIP:
        return not any(
            nuisance.kind is Kind.STICK_SLIP
            and nuisance.t_s - 1.0 <= heard.t_s <= nuisance.t_s + nuisance.duration_s + 5.0
            for nuisance in truth.nuisances
        )
    return True


def _fault_named_s(truth: Truth, verdict: Verdict) -> float:
    if truth.fault is None:
        return math.nan
    for heard in verdict.heard:
        late = heard.t_s >= truth.fault_s - _TOLERANCE_S
        if late and heard.kind in _FAULTS and truth.fault_channel in heard.channels:
            return heard.t_s - truth.fault_s
    return math.nan


def _supply_named(truth: Truth, verdict: Verdict) -> bool:
    after = [heard for heard in verdict.heard if heard.t_s >= truth.supply_lost_s - _TOLERANCE_S]
    return any(heard.kind is FindingKind.MOTOR_SUPPLY_LOST for heard in after)
