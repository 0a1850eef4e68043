"""`scuffwatch runs`: the runs of a data folder, a line each; with `--csv FOLDER` as two lists for a spreadsheet."""

import argparse
import json
import time
from pathlib import Path

from scuffwatch.cli.records import archive_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--json", action="store_true", help="print one JSON object a run")
    parser.add_argument("--csv", metavar="FOLDER", help="write runs.csv and stages.csv there")
    parser.add_argument("--decimal-comma", action="store_true", help="comma for the decimals in the lists")


def run(args: argparse.Namespace) -> int:
    """List the runs."""
    archive = archive_of(args)
    if args.csv:
        from scuffwatch.store.export import export_lists

        for path in export_lists(archive, Path(args.csv), decimal_comma=args.decimal_comma):
            print(path)
        return 0
    for row in archive.runs():
        outcome = row.outcome.value if row.outcome else "live"
        if args.json:
            told: dict[str, object] = {
                "run": row.name,
                "kind": row.header.kind.value,
                "lubricant": row.header.lubricant,
            }
            told |= {"outcome": outcome, "last_stage": row.last_stage, "first_out": row.first_out}
            told |= {"t_start_utc_s": row.t_start_utc_s, "simulated": row.simulated, "interrupted": row.interrupted}
            print(json.dumps(told, ensure_ascii=False))
            continue
        begun = time.strftime("%Y-%m-%d %H:%M %z", time.localtime(row.t_start_utc_s))
        marks = " simulated" * row.simulated + " interrupted" * row.interrupted
        print(f"{row.name}  {begun}  {row.header.kind.value:5}  {outcome:19}  stage {row.last_stage:2}  ", end="")
        print(f"{row.header.lubricant}{marks}  {row.first_out}".rstrip())
    return 0
