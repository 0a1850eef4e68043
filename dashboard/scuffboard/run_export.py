"""A run as one download: what it was, its stages, its events, and the 1 s envelope, as files any program opens.

Reads an open run, gives the bytes of a zip. Text cells that a spreadsheet would calculate are made harmless.
"""

import csv
import io
import json
import math
import zipfile
from collections.abc import Iterable
from dataclasses import fields

from scuffboard import run_plot, run_view
from scuffwatch.model.run import StageRecord
from scuffwatch.store.reader import RunReader, RunSummary

POINTS_MOST = 100_000
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def cell(value: object) -> object:
    """Give one CSV cell: numbers stay numbers, missing ones are empty, text never begins as a formula."""
    if isinstance(value, float):
        return value if math.isfinite(value) else ""
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return "'" + value
    return value


def table(heads: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Give a CSV text."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(heads)
    for row in rows:
        writer.writerow([cell(value) for value in row])
    return text.getvalue()


def bundle(summary: RunSummary, reader: RunReader) -> bytes:
    """Give a zip with run.json, stages.csv, events.csv and one envelope file a channel."""
    events, stages = tuple(reader.events()), tuple(reader.stages())
    t0_s, t1_s = run_view.extent(reader)
    stage_fields = [field.name for field in fields(StageRecord)]
    about = {"name": summary.header.name, "kind": summary.header.kind.value, "simulated": summary.header.simulated,
             "outcome": summary.outcome.value if summary.outcome else None, "first_out": summary.first_out,
             "interrupted": summary.interrupted, **run_view.plan_of(summary.header)}  # fmt: skip
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("run.json", json.dumps(about, ensure_ascii=False, indent=2))
        archive.writestr("stages.csv", table(stage_fields, ([getattr(s, f) for f in stage_fields] for s in stages)))
        archive.writestr(
            "events.csv",
            table(
                ("sequence", "kind", "t_rig_s", "t_wall_utc_s", "actor", "says"),
                ([e.sequence, e.kind.value, e.t_rig_s, e.t_wall_utc_s, e.actor, e.says] for e in events),
            ),
        )
        points = max(2, min(POINTS_MOST, round(t1_s - t0_s)))
        for name in run_plot.channel_names(reader):
            e = run_plot.envelope(reader, name, t0_s, t1_s, points)
            columns = zip(*(map(float, column) for column in (e.t_s, e.low, e.mean, e.high)), strict=True)
            archive.writestr(f"envelope_{name}.csv", table(("t_rig_s", "low", "mean", "high"), columns))
    return out.getvalue()
