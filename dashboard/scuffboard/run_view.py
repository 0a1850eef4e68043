"""One run as the pages need it: table rows, plot series, events on the time axis.

Reads the values of the record, gives plain dictionaries. Nothing that is missing is filled in: it stays null.
"""

import math
from typing import Any

from scuffboard import run_evidence, run_plot
from scuffboard import run_words as words
from scuffboard.run_plot import number_or_none
from scuffwatch.model.event import Event, EventKind
from scuffwatch.model.run import RunHeader, StageRecord
from scuffwatch.store.reader import Archive, RunReader, RunSummary, TripRecord

Json = dict[str, Any]

SEED_POINTS = 60
ON_THE_AXIS = frozenset(
    {
        EventKind.TRIPPED,
        EventKind.PERMITTED,
        EventKind.MARK,
        EventKind.OBSERVATION,
        EventKind.NOTE,
        EventKind.STOP_REQUEST,
    }
)
NEVER_LISTED = frozenset({EventKind.COMMAND, EventKind.STORE})


def list_row(summary: RunSummary) -> Json:
    """Give one row of the list of runs."""
    header = summary.header
    return {
        "name": header.name,
        "kind": header.kind.value,
        "when": words.date_words(summary.t_start_utc_s, utc_offset_s(summary.t_start_utc_s)),
        "lasted": words.m_ss(summary.duration_s),
        "lubricant": words.lubricant_words(header),
        "outcome": words.ended_word(summary.outcome),
        "last_stage": summary.last_stage or words.NOTHING,
        "says": summary.says,
        "first_out": summary.first_out,
        "interrupted": summary.interrupted,
        "simulated": summary.simulated,
    }


def utc_offset_s(t_utc_s: float) -> float:
    """Give the offset of this host's zone at a wall-clock time, s; the rig and its pages share one host."""
    import time

    if not math.isfinite(t_utc_s):
        return 0.0
    return float(time.localtime(t_utc_s).tm_gmtoff)


def run_page(summary: RunSummary, reader: RunReader) -> Json:
    """Give everything the page of one run shows, but for the plots' values."""
    events = [event for event in reader.events() if event.kind not in NEVER_LISTED]
    stages = tuple(reader.stages())
    t0_s, t1_s = extent(reader)
    offset_s = wall_offset_s(reader)
    zone_s = utc_offset_s(summary.t_start_utc_s)
    header = reader.header
    seen = run_evidence.view(events, (channel.name for channel in reader.channels), t0_s, zone_s)
    return {
        "name": header.name,
        "title": words.outcome_sentence(summary.outcome, header, stages, t1_s, summary.first_out),
        "lede": about(header, summary, t1_s - t0_s, zone_s),
        "simulated": header.simulated,
        "interrupted": summary.interrupted,
        "says": summary.says,
        "setup": header.kind.value == "setup",
        "live": summary.live,
        "ledger": ledger_words(reader),
        "stages": stage_rows(header, stages, summary),
        "events": [event_row(event, t0_s, zone_s) for event in events],
        "trips": [trip_view(trip, zone_s) for trip in reader.trips()],
        "seen": seen[: run_evidence.SHOWN_MOST],
        "seen_more": max(0, len(seen) - run_evidence.SHOWN_MOST),
        "plot": {
            "name": header.name, "t0_s": t0_s, "t1_s": t1_s, "wall_offset_s": offset_s, "utc_offset_s": zone_s,
            "live": summary.live, "channels": run_plot.channel_views(reader), "evidence": run_evidence.plot_rows(seen),
            "stages": [{"number": s.number, "t0_s": s.t_start_s, "t1_s": number_or_none(s.t_end_s)} for s in stages],
            "gaps": [run_plot.gap_view(gap, reader) for gap in reader.gaps()],
            "marks": [mark_view(e) for e in events if e.kind in ON_THE_AXIS and math.isfinite(e.t_rig_s)],
        },
    }  # fmt: skip


def extent(reader: RunReader) -> tuple[float, float]:
    """Give first and last node time of a run, s."""
    ends_s = [reader.last_t_rig_s()]
    if reader.result is not None and math.isfinite(reader.result.t_end_s):
        ends_s.append(reader.result.t_end_s)
    return reader.t_open_rig_s, max(*ends_s, reader.t_open_rig_s + 1.0)


def wall_offset_s(reader: RunReader) -> float | None:
    """Give wall clock minus node time, s, or None where no clock was kept."""
    for triple in reader.clock():
        return number_or_none(triple.t_wall_utc_s - triple.t_rig_s)
    return number_or_none(reader.t_open_utc_s - reader.t_open_rig_s)


def about(header: RunHeader, summary: RunSummary, lasted_s: float, zone_s: float) -> list[str]:
    """Give what the run was made with, and when."""
    when = f"{words.date_words(summary.t_start_utc_s, zone_s)}, for {words.minutes_words(lasted_s)}"
    return [words.lubricant_words(header), *words.specimen_words(header), when]


def ledger_words(reader: RunReader) -> Json:
    """Give the balance of the run in one sentence, and whether it balances."""
    accounts = tuple(reader.ledger())
    stored, marked = sum(a.stored for a in accounts), sum(a.marked for a in accounts)
    balances = all(account.balances for account in accounts)
    gaps = len(tuple(reader.gaps()))
    sentence = (
        f"{words.grouped(stored + marked)} samples produced = {words.grouped(stored)} stored + "
        f"{words.grouped(marked)} in {gaps} marked {'gap' if gaps == 1 else 'gaps'}."
    )
    return {"balances": balances, "says": f"{'Ledger balances' if balances else 'Ledger does not balance'}: {sentence}"}


def stage_rows(header: RunHeader, stages: tuple[StageRecord, ...], summary: RunSummary) -> list[Json]:
    """Give the stage table: held, the ended one, and the loads that were not tried."""
    rows = [stage_row(header, stage, summary, is_last=stage is stages[-1]) for stage in stages]
    tried = max((stage.number for stage in stages), default=0)
    for number in range(tried + 1, len(header.loads_n) + 1):
        empty = dict.fromkeys(("dwell", "friction", "friction_end", "sound", "pin", "bath"), words.NOTHING)
        load = f"{header.loads_n[number - 1]:g}"
        rows.append({"number": number, "load": load, "cls": "next", "ended": "not tried", **empty})
    return rows


def stage_row(header: RunHeader, stage: StageRecord, summary: RunSummary, *, is_last: bool) -> Json:
    """Give one stage that was run."""
    planned = header.loads_n[stage.number - 1] if stage.number <= len(header.loads_n) else stage.normal_load_n
    ended = "held" if stage.held else words.ended_word(summary.outcome) if is_last else "cut short"
    return {
        "number": stage.number,
        "load": f"{planned:g}" if math.isfinite(planned) else words.NOTHING,
        "dwell": words.m_ss(stage.t_end_s - stage.t_start_s),
        "friction": words.fixed(stage.friction_coefficient, 3),
        "friction_end": words.fixed(stage.friction_coefficient_end, 3),
        "sound": words.fixed(stage.sound_level_db, 1),
        "pin": words.fixed(stage.pin_temperature_degc, 1),
        "bath": words.fixed(stage.bath_temperature_degc, 1),
        "cls": "end" if is_last and not stage.held else "past",
        "ended": ended,
    }


def event_row(event: Event, t0_s: float, zone_s: float) -> Json:
    """Give one line of the event list."""
    into = event.t_rig_s - t0_s
    return {
        "at": f"{words.local(event.t_wall_utc_s, zone_s):%H:%M:%S}",
        "into": words.m_ss(into) if math.isfinite(into) else words.NOTHING,
        "kind": event.kind.value,
        "says": event.says,
        "actor": event.actor,
        "mark": "T" if event.kind is EventKind.TRIPPED else "",
    }


def mark_view(event: Event) -> Json:
    """Give one event on the time axis."""
    return {"t_s": event.t_rig_s, "kind": event.kind.value, "says": event.says}


def trip_view(trip: TripRecord, zone_s: float) -> Json:
    """Give one trip record: first-out, what followed, the evidence."""
    first = trip.first_out
    return {
        "says": first.says,
        "kind": first.kind.value.replace("_", " "),
        "t_s": number_or_none(first.t_rig_s),
        "evidence": [
            {
                "name": run_evidence.label_of(e.name),
                "value": f"{words.fixed(e.value, 3)} {e.unit}".strip(),
                "limit": f"{words.fixed(e.limit, 3)} {e.unit}".strip(),
            }
            for e in first.evidence
        ],
        "followers": [{"says": f.says, "later": f"{f.t_rig_s - first.t_rig_s:.2f}"} for f in trip.followers],
    }


def plan_of(header: RunHeader) -> Json:
    """Give the fields of a test run that the next one starts from."""
    return {
        "lubricant": header.lubricant,
        "treat_rate_percent": number_or_none(header.treat_rate_percent),
        "bath_volume_ml": number_or_none(header.bath_volume_ml),
        "ring": header.ring,
        "pin": header.pin,
        "loads_n": list(header.loads_n),
        "dwell_s": number_or_none(header.dwell_s),
    }


def climb_rows(archive: Archive, snapshot: Json) -> list[tuple[int, float, dict[str, float], dict[str, float]]]:
    """Give the climb of the open run as recorded, for a server that started after it; may be empty."""
    run = snapshot["run"]
    if run["name"] not in {summary.header.name for summary in archive.runs()}:
        return []
    with archive.open_run(run["name"]) as reader:
        past = [s for s in reader.stages() if s.number < run["stage"] and math.isfinite(s.t_end_s)]
        spans = [(s.number, s.t_start_s, s.t_end_s) for s in past]
        started_s = run.get("t_stage_start_rig_s")
        if started_s is not None:
            spans.append((run["stage"], started_s, snapshot["t_rig_s"]))
        return [row for span in spans for row in stage_climb(reader, *span)]


def stage_climb(reader: RunReader, number: int, t0_s: float, t1_s: float) -> list[tuple[int, float, Json, Json]]:
    """Give one stage's rows: number, seconds into it, lowest and highest value of every channel."""
    rows: dict[float, tuple[Json, Json]] = {}
    if t1_s <= t0_s:
        return []
    for name in run_plot.channel_names(reader):
        made = run_plot.envelope(reader, name, t0_s, t1_s, SEED_POINTS)
        for t_s, low, high in zip(made.t_s, made.low, made.high, strict=True):
            if math.isfinite(low) and math.isfinite(high):
                lows, highs = rows.setdefault(max(0.0, round(float(t_s) - t0_s, 2)), ({}, {}))
                lows[name], highs[name] = float(low), float(high)
    return [(number, elapsed_s, low, high) for elapsed_s, (low, high) in sorted(rows.items())]
