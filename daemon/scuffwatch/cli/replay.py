"""`scuffwatch replay RECORDING`: a table of values or a run file through the same detectors as a live rig."""

import argparse
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from scuffwatch.cli.table import TableRows

if TYPE_CHECKING:
    from scuffwatch.model.finding import Finding
    from scuffwatch.service.replay import ReplayResult, ReplaySummary

_FEWEST_ROWS = 2
"""One row has no rate: nothing can be said of it."""
_DATABASE = b"SQLite format 3\0"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("recording", help="a table (CSV with time_s and channel names), a run file, or a run's name")
    parser.add_argument("--rig", metavar="FILE", default="", help="rig file: sizes, ranges and limits, as far as known")
    parser.add_argument(
        "--limit", metavar="NAME=VALUE", action="append", default=[], help="a trip limit; goes before the rig file's"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object a line, the summary last")


def run(args: argparse.Namespace) -> int:
    """Replay the recording; the exit code is 0 whatever was found."""
    from scuffwatch.model.errors import ConfigError

    path = Path(args.recording)
    rig = _text_of(Path(args.rig)) if args.rig else None
    if not path.exists():
        path = _run_file(args)
    if not path.is_file():
        says = f"Recording {path} is no file. Nothing has been replayed. Name a table or a run file."
        raise ConfigError((says,))
    with path.open("rb") as file:
        is_run = file.read(len(_DATABASE)) == _DATABASE
    if is_run:
        _print_run(path, rig, args)
    else:
        _print_table(path, rig, args)
    return 0


def _text_of(path: Path) -> str:
    from scuffwatch.model.errors import ConfigError

    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no text in UTF-8"
        raise ConfigError((f"{path}: cannot be read: {why}. Nothing has been replayed. Check --rig.",)) from error


def _run_file(args: argparse.Namespace) -> Path:
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.store.archive import Archive

    if args.data and Path(args.data).is_dir():
        with Archive(Path(args.data)).open_run(args.recording) as reader:
            return reader.path
    says = f"Recording {args.recording} is not there. Nothing has been replayed. Check the path, or name --data DIR."
    raise ConfigError((says,))


# --- run files --------------------------------------------------------------------------------------------


def _print_run(path: Path, rig: str | None, args: argparse.Namespace) -> None:
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.service.replay import replay_run
    from scuffwatch.store.run_reader import RunReader

    if args.limit:
        says = "--limit is for tables; a run is judged by the whole rig file in it, or by --rig. Nothing replayed."
        raise ConfigError((says,))
    with RunReader(path) as reader:
        result: ReplayResult = replay_run(reader, rig, Path(args.rig).name)
    for finding in result.findings:
        _print_finding(finding, args.json)
    _print_summary(result.summary, args.json, {})


# --- tables -----------------------------------------------------------------------------------------------


def _print_table(path: Path, rig: str | None, args: argparse.Namespace) -> None:
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.service.replay import TableReplay
    from scuffwatch.service.replay_settings import load_replay_settings

    settings = load_replay_settings(rig or "", args.limit, Path(args.rig).name if args.rig else "rig file")
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        rows = TableRows(path, file, settings)
        replay = TableReplay(rows.names, settings)
        for t_s, values in rows:
            for finding in replay.take(t_s, values):
                _print_finding(finding, args.json)
        for finding in replay.finish():
            _print_finding(finding, args.json)
    if settings.ignored:
        print(f"Not used from {args.rig}: {', '.join(settings.ignored)}.", file=sys.stderr)
    summary = replay.summary()
    used = rows.total - summary.rows_refused
    if not summary.samples or used < _FEWEST_ROWS:
        raise ConfigError((rows.why_nothing(summary.rows_refused),))
    more = {
        "columns_ignored": rows.ignored,
        "cells_unreadable": rows.unreadable,
        "rows_too_long": rows.too_long,
        "rows_used": used,
    }
    _print_summary(summary, args.json, more)


# --- words ------------------------------------------------------------------------------------------------


def _print_finding(finding: "Finding", as_json: bool) -> None:
    from scuffwatch.service.jsons import finding_json

    told = finding_json(finding)
    if as_json:
        print(json.dumps({"t_s": told.pop("t_rig_s"), **told}, ensure_ascii=False))
    else:
        print(f"{finding.t_rig_s:10.2f} s  {finding.level.name.lower():6}  {finding.says}")


def _print_summary(summary: "ReplaySummary", as_json: bool, more: dict[str, object]) -> None:
    from scuffwatch.service.jsons import number, stage_json

    told = {
        "outcome": summary.outcome,
        "first_out": summary.first_out,
        "trip_t_s": None if summary.trip_t_s is None else number(summary.trip_t_s),
        "stages": [stage_json(stage) for stage in summary.stages],
        "samples": summary.samples,
        "gaps_s": number(summary.gaps_s),
        "gaps": [[number(start), number(end)] for start, end in summary.gaps],
        "blind_to": list(summary.blind_to),
        "rows_refused": summary.rows_refused,
        "set_back": [[number(stamp), number(by)] for stamp, by in summary.set_back],
        **more,
    }
    if as_json:
        print(json.dumps({"summary": told}, ensure_ascii=False))
        return
    for line in _lines(summary, more):
        print(line)


def _lines(summary: "ReplaySummary", more: dict[str, object]) -> Iterable[str]:
    if summary.trip_t_s is None:
        yield f"Outcome: {summary.outcome}; no trip."
    else:
        yield f"Outcome: {summary.outcome}; first-out {summary.first_out} at {summary.trip_t_s:.2f} s."
    yield f"{len(summary.stages)} stages, {summary.samples} values, {summary.gaps_s:.2f} s in {len(summary.gaps)} gaps."
    if summary.rows_refused:
        yield f"Rows refused: {summary.rows_refused}, with no stamp, or one that is not later than the one before."
    for stamp_s, by_s in summary.set_back:
        yield f"Clock set back by {by_s:.2f} s: from stamp {stamp_s:.2f} s on, time goes on from the row before that."
    used = more.get("rows_used")
    if isinstance(used, int) and summary.rows_refused > used:
        yield f"Only {used} rows could be used: the outcome is that of these, not of the whole recording."
    if more.get("cells_unreadable"):
        yield f"{more['cells_unreadable']} cells are no numbers and count as missing."
    if more.get("rows_too_long"):
        yield f"Rows refused: {more['rows_too_long']}, with more cells than the first line has columns."
    if more.get("columns_ignored"):
        yield f"Columns not used: {', '.join(map(str, more['columns_ignored']))}."  # type: ignore[call-overload]
    if summary.blind_to:
        yield f"Blind to: {', '.join(summary.blind_to)}."
