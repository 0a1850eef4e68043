"""The campaign as text: one table by class, one by detector, and what went wrong.

Reads rows, gives lines.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np
from world_b.values import SCUFFINGS, TRIP_WORTHY, Klass

from .intervals import clopper_pearson, poisson
from .score import CAUGHT, EARLY, FALSE, FAULT_STOP, LATE, MISSED, WRONG, Row

Rows = Sequence[Row]
_EVENTS = tuple(klass.value for klass in TRIP_WORTHY)
_SCUFFINGS = tuple(klass.value for klass in SCUFFINGS)
_SHIFT_H = 8.0
JAM_S = 0.03
JAM_BLIND_S = 0.5


def of(rows: Rows, *klasses: Klass) -> Rows:
    """Give the rows of these classes."""
    names = [klass.value for klass in klasses]
    return [row for row in rows if row.klass in names]


def counted(rows: Rows) -> Rows:
    """Give the rows that count for the rate of detection: events that a channel shows and no fault has stopped."""
    return [row for row in rows if row.klass in _EVENTS and row.seen and row.status != FAULT_STOP]


def false_trips(rows: Rows) -> int:
    """Count trips before anything had happened."""
    return sum(row.status in (FALSE, EARLY) for row in rows)


def hours(rows: Rows) -> float:
    """Give the hours watched before anything had happened."""
    return math.fsum(row.hours for row in rows)


def share(hits: int, trials: int) -> str:
    """Give a share with its interval, per cent."""
    if not trials:
        return "-"
    low, high = clopper_pearson(hits, trials)
    return f"{100.0 * hits / trials:.1f} % [{100.0 * low:.1f}, {100.0 * high:.1f}] ({hits}/{trials})"


def rate(count: int, watched_h: float, per_h: float) -> str:
    """Give a rate with its interval, per `per_h` hours."""
    if watched_h <= 0.0:
        return "-"
    low, high = (bound * per_h / watched_h for bound in poisson(count))
    return f"{count * per_h / watched_h:.3g} [{low:.3g}, {high:.3g}] ({count} in {watched_h:.1f} h)"


def spread(values: Iterable[float], unit: str = "s") -> str:
    """Give median, 95th percentile and largest of values; NaN are left out."""
    kept = [value for value in values if not math.isnan(value)]
    if not kept:
        return "-"
    middle, most = np.percentile(kept, 50), np.percentile(kept, 95)
    return f"{middle:.3g} / {most:.3g} / {max(kept):.3g} {unit}"


def by_class(rows: Rows) -> Iterator[str]:
    """Give the table of one detector, class by class."""
    yield (
        f"{'class':<28}{'n':>5}{'caught':>7}{'early':>6}{'late':>5}{'missed':>7}{'unseen':>7}{'false':>6}"
        f"{'hours':>8}  {'detection rate [95 %]':<36}{'delay median/p95/max':<26}warnings"
    )
    for klass in Klass:
        part = of(rows, klass)
        if not part:
            continue
        tally, events = Counter(row.status for row in counted(part)), counted(part)
        unseen = sum(row.klass in _EVENTS and not row.seen for row in part)
        delays = (row.after_onset_s if klass.value in _SCUFFINGS else row.after_earliest_s for row in part)
        caught = spread(d for d, row in zip(delays, part, strict=True) if row.status in (CAUGHT, LATE))
        yield (
            f"{klass.value:<28}{len(part):>5}{tally[CAUGHT]:>7}{tally[EARLY]:>6}{tally[LATE]:>5}{tally[MISSED]:>7}"
            f"{unseen:>7}{sum(row.status == FALSE for row in part):>6}{hours(part):>8.2f}  "
            f"{share(tally[CAUGHT], len(events)):<36}{caught:<26}{sum(row.false_warns for row in part)}"
        )


def figures(rows: Rows) -> Iterator[str]:
    """Give the figures that are promised, one a line."""
    events, watched_h = counted(rows), hours(rows)
    yield _line("events caught", share(sum(row.status == CAUGHT for row in events), len(events)))
    for name in dict.fromkeys(row.channel_set for row in rows):
        part = [row for row in events if row.channel_set == name]
        trips = [row for row in rows if row.channel_set == name]
        said = f"{share(sum(row.status == CAUGHT for row in part), len(part))}; false trips "
        yield _line(f"  {name}", said + rate(false_trips(trips), hours(trips), 1000.0))
    yield _line("false trips per 1,000 h", rate(false_trips(rows), watched_h, 1000.0))
    yield _line("  of these by the channel of a sensor that had failed", str(sum(row.by_failed for row in rows)))
    warns = sum(row.false_warns for row in rows)
    yield _line("false warnings per shift of 8 h", rate(warns, watched_h, _SHIFT_H))
    yield _line("sensor warnings without a fault", rate(sum(row.sensor_warns for row in rows), watched_h, _SHIFT_H))
    yield from _scuffing(rows)
    yield from _jams(rows)
    for klass in (Klass.STICK_SLIP, Klass.SQUEAL):
        part = of(rows, klass)
        yield _line(f"{klass.value}: false trips", f"{false_trips(part)} of {len(part)} recordings")
    part = of(rows, Klass.STARTS_AND_STOPS)
    starts = sum(row.starts for row in part)
    yield _line("starts and stops: false trips", f"{false_trips(part)} of {len(part)} recordings, {starts} starts")
    yield from _faults(rows)
    lost = [row for row in of(rows, Klass.SUPPLY_LOST) if row.supply_named is not None]
    yield _line("lost supply named", share(sum(bool(row.supply_named) for row in lost), len(lost)))
    yield from _unseen(rows)


def _scuffing(rows: Rows) -> Iterator[str]:
    for klass in (*SCUFFINGS, Klass.SEIZURE):
        grown = [row for row in of(rows, klass) if row.before_severe is not None and row.seen]
        said = share(sum(bool(row.before_severe) for row in grown), len(grown))
        yield _line(f"{klass.value}: before force x3", said)
    ahead = [row for row in of(rows, Klass.SCUFFING_LONG) if row.warned_ahead is not None and row.seen]
    said = share(sum(bool(row.warned_ahead) for row in ahead), len(ahead))
    yield _line("long precursor: warned 10 s ahead", said)


def _jams(rows: Rows) -> Iterator[str]:
    stopped = [row for row in of(rows, Klass.JAM) if row.status in (CAUGHT, LATE)]
    for tachometer, limit_s in ((True, JAM_S), (False, JAM_BLIND_S)):
        part = [row for row in stopped if ("speed" in row.channel_set or "seven" in row.channel_set) is tachometer]
        within = share(sum(row.after_stall_s <= limit_s + 1e-9 for row in part), len(part))
        name = f"jam after first stalled row, {'with' if tachometer else 'no'} tachometer"
        yield _line(name, f"{spread(row.after_stall_s for row in part)}; within {limit_s} s {within}")


def _faults(rows: Rows) -> Iterator[str]:
    part = [row for row in of(rows, Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT) if row.status not in (FALSE, EARLY)]
    named = [row for row in part if not math.isnan(row.fault_named_s)]
    said = f"{share(len(named), len(part))}; {spread(row.fault_named_s for row in named)}"
    yield _line("sensor fault named", f"{said}; others named {sum(row.misnamed for row in part)}")
    for fault in dict.fromkeys(row.fault for row in part):
        mine = [row for row in part if row.fault == fault]
        those = [row.fault_named_s for row in mine if not math.isnan(row.fault_named_s)]
        yield _line(f"  {fault}", f"{share(len(those), len(mine))}; {spread(those)}")


def _unseen(rows: Rows) -> Iterator[str]:
    unseen = [row for row in rows if row.klass in _EVENTS and not row.seen]
    tally = Counter(row.status for row in unseen)
    blind = sum(row.blind_said for row in unseen)
    yield _line(
        "no mechanical channel shows it",
        f"{len(unseen)}: caught {tally[CAUGHT]}, late {tally[LATE]}, early {tally[EARLY]}, missed {tally[MISSED]};"
        f" blind said in {blind}",
    )


def _line(name: str, said: str) -> str:
    return f"{name:<68}{said}"


def beside(rows: Rows) -> Iterator[str]:
    """Give all detectors beside each other."""
    yield (
        f"{'detector':<22}{'events caught [95 %]':<36}{'early':>6}{'late':>5}{'missed':>7}  "
        f"{'false trips per 1,000 h':<46}{'delay from onset':<28}{'sudden: before x3':<30}jam after stall"
    )
    for name in dict.fromkeys(row.detector for row in rows):
        part = [row for row in rows if row.detector == name]
        events = counted(part)
        tally = Counter(row.status for row in events)
        sudden = [row for row in of(part, Klass.SCUFFING_SUDDEN) if row.before_severe is not None and row.seen]
        jams = [row.after_stall_s for row in of(part, Klass.JAM) if row.status in (CAUGHT, LATE)]
        delay = spread(r.after_onset_s for r in part if r.klass in _SCUFFINGS and r.status in (CAUGHT, LATE))
        yield (
            f"{name:<22}{share(tally[CAUGHT], len(events)):<36}{tally[EARLY]:>6}{tally[LATE]:>5}{tally[MISSED]:>7}  "
            f"{rate(false_trips(part), hours(part), 1000.0):<46}{delay:<28}"
            f"{share(sum(bool(row.before_severe) for row in sudden), len(sudden)):<30}{spread(jams)}"
        )


def wrong(rows: Rows) -> Iterator[str]:
    """Give every wrong result, to be looked at."""
    order: Callable[[Row], tuple[str, int]] = lambda row: (row.klass, row.seed)  # noqa: E731
    for row in sorted((row for row in rows if row.status in WRONG), key=order):
        unseen = "" if row.seen else " (no mechanical channel shows it)"
        since = (row.after_earliest_s, "earliest"), (row.after_onset_s, "onset"), (row.after_stall_s, "stall")
        times = "; ".join(f"{value:+.2f} s from {what}" for value, what in since if not math.isnan(value))
        yield (
            f"{row.world} {row.klass} seed {row.seed} [{row.channel_set}; {row.drive}]: {row.status}{unseen}"
            + (f" at {row.trip_s:.2f} s, {row.kind}: {row.says} {times}" if row.kind else "")
        )
