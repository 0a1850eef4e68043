"""`scuffwatch verify [RUN]`: whether a record is whole: ledger, checksums, hash chain, journal against file."""

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from scuffwatch.cli.records import archive_of, data_folder, show_progress, unlisted_runs
from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store.lock import is_held

if TYPE_CHECKING:
    from scuffwatch.store.verify import Verified


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("run", nargs="*", help="names of runs (default: the journal and all of them)")
    parser.add_argument("--json", action="store_true", help="print one JSON object a record")


def _checked(folder: Path, name: str) -> "Verified":
    """Check a run; one that is not there hides no other."""
    from scuffwatch.store.verify import Verified, verify_run

    try:
        return verify_run(folder, name, show_progress)
    except RecordUnreadable as error:
        return Verified(name, (error.sentence(),))


def run(args: argparse.Namespace) -> int:
    """Check the records; the exit code is 1 where anything was found."""
    from scuffwatch.store.verify import verify_journal

    folder = data_folder(args)
    archive = archive_of(args)
    wanted = args.run or [row.name for row in archive.runs() if not row.live]
    if not args.run and not is_held(folder):  # a core that is at work may be making one at this moment
        wanted += unlisted_runs(archive)
    results = [] if args.run else [verify_journal(folder)]
    results += [_checked(folder, name) for name in wanted]
    for found in results:
        if args.json:
            told = {"name": found.name, "sound": found.sound, "findings": list(found.findings)}
            told["notes"] = list(found.notes)
            print(json.dumps(told | {"chunks": found.chunks, "samples": found.samples, "events": found.events}))
            continue
        counted = f"{found.chunks} chunks, {found.samples} samples, {found.events} events"
        print(f"{found.name}: {'whole' if found.sound else 'NOT whole'} ({counted})")
        for sentence in (*found.findings, *found.notes):
            print(f"  {sentence}")
    return 0 if all(found.sound for found in results) else 1
