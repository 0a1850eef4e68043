"""`scuffwatch export RUN FOLDER`: one run as a data package: datapackage.json and CSV, Parquet if asked."""

import argparse
from importlib.util import find_spec
from pathlib import Path

from scuffwatch.cli.records import archive_of, show_progress


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("run", help="name of the run")
    parser.add_argument("folder", help="empty folder for the package; made if it is not there")
    parser.add_argument("--decimal-comma", action="store_true", help="comma for the decimals, semicolon between cells")
    parser.add_argument("--parquet", action="store_true", help="samples as Parquet as well (extra `parquet`)")


def run(args: argparse.Namespace) -> int:
    """Write the package."""
    from scuffwatch.model.errors import ConfigError, OperatorError
    from scuffwatch.store.export import export_run

    if args.parquet and find_spec("pyarrow") is None:
        says = "--parquet needs the Python package pyarrow, which is not in .venv. Nothing has been written."
        raise ConfigError((f"{says} Leave --parquet out: the CSV holds the same samples.",))
    with archive_of(args).open_run(args.run) as reader:
        try:
            written = export_run(
                reader,
                Path(args.folder),
                decimal_comma=args.decimal_comma,
                parquet=args.parquet,
                progress=show_progress,
            )
        except OSError as error:
            says = f"{args.folder}: {error.strerror or error}. The package is not complete; the record is unchanged."
            raise OperatorError(f"{says} Remove what is there, make room or choose another folder.") from error
    print(f"{len(written)} files in {args.folder}, described by {written[-1].name}.")
    return 0
