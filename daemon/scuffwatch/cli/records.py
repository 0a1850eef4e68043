"""What the record commands share: the data folder, the archive, a progress line.

Reads the words of the command line, gives the archive or one sentence that says what is missing.
"""

import argparse
import sys
from pathlib import Path

from scuffwatch.model.errors import ConfigError
from scuffwatch.store import names
from scuffwatch.store.archive import Archive


def data_folder(args: argparse.Namespace) -> Path:
    """Give the data folder.

    Raises:
        ConfigError: none was named, or it is not there.
    """
    if not args.data:
        raise ConfigError(("No data folder: say --data DIR or set SCUFFWATCH_DATA. Nothing has been done.",))
    folder = Path(args.data)
    if not folder.is_dir():
        raise ConfigError((f"Data folder {folder} is not there. Nothing has been done. Check the path.",))
    return folder


def archive_of(args: argparse.Namespace) -> Archive:
    """Give the archive of the data folder."""
    return Archive(data_folder(args))


def unlisted_runs(archive: Archive) -> list[str]:
    """Give the names of run files that the journal does not list: it was lost, or copied while a core wrote."""
    listed = {row.name for row in archive.runs()}
    files = (archive.data_dir / names.RUNS_FOLDER).glob(f"*{names.RUN_SUFFIX}")
    found = {path.name.removesuffix(names.RUN_SUFFIX) for path in files} - listed
    return sorted(name for name in found if names.parts(name) is not None)


def show_progress(ratio: float) -> None:
    """Draw a progress line on a terminal; a file gets none."""
    if sys.stderr.isatty():
        done = round(40 * ratio)
        end = "\n" if ratio >= 1.0 else ""
        print(f"\r[{'#' * done}{'.' * (40 - done)}] {100 * ratio:3.0f} %", end=end, file=sys.stderr, flush=True)
