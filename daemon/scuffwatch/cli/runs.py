"""`scuffwatch runs`: the runs of a data folder, a line each; with `--csv FOLDER` as two lists for a spreadsheet."""

import argparse
import json
import sys
import time
from pathlib import Path

from scuffwatch.cli.records import archive_of, unlisted_runs


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
    rows = archive.runs()
    if missing := unlisted_runs(archive):
        says = f"{len(missing)} run files are not in the journal: {', '.join(missing)}."
        print(f"{says} Start the core once on this folder, so that it lists them.", file=sys.stderr)
    elif not rows:
        print(f"No run is recorded in {archive.data_dir}. Check that it is the folder of the core.", file=sys.stderr)
    for row in rows:
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
