"""Export: a run as a Frictionless Data Package, and lists of runs and stages for a spreadsheet.

Reads a run, writes a folder: `datapackage.json`, one CSV of samples a group, the small tables, Parquet on request.
Streams, so a run of days needs no more memory than one of minutes. Source: Data Package 1, Table Schema 1
(specs.frictionlessdata.io).
"""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from scuffwatch.model.block import FloatArray
from scuffwatch.model.channel import unit_of
from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store import tables
from scuffwatch.store.archive import Archive
from scuffwatch.store.csv_text import Dialect
from scuffwatch.store.run_reader import RunReader
from scuffwatch.store.tables import Table

Progress = Callable[[float], None]


def export_run(
    reader: RunReader,
    folder: Path,
    *,
    decimal_comma: bool = False,
    parquet: bool = False,
    progress: Progress = lambda ratio: None,
) -> tuple[Path, ...]:
    """Write one run as a data package.

    Args:
        reader: the run, live or closed; of a live one, what is stored now.
        folder: made if it is not there; must be empty.
        decimal_comma: comma for the decimals, semicolon between cells.
        parquet: write samples as Parquet as well; needs the extra `parquet`.
        progress: told the share that is done, 0 to 1.
    Returns:
        The files written, `datapackage.json` last: a folder without it is not complete.
    Raises:
        RecordUnreadable: the folder is not empty, or a chunk is damaged.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise RecordUnreadable(f"{folder} is not empty. Nothing has been written. Give an empty folder.")
    dialect = Dialect(decimal_comma)
    resources: list[dict[str, Any]] = []
    groups = sorted({record.group for record in reader.channels})
    for place, group in enumerate(groups):

        def told(ratio: float, place: int = place) -> None:
            progress((place + ratio) / len(groups))

        resources += _samples(reader, group, folder, dialect, parquet, told)
    for table in _small_tables(reader):
        resources.append(_write_table(table, folder, dialect))
    descriptor = folder / "datapackage.json"
    descriptor.write_text(json.dumps(_package(reader, resources), ensure_ascii=False, indent=2) + "\n")
    progress(1.0)
    return (*(folder / resource["path"] for resource in resources), descriptor)


def export_lists(archive: Archive, folder: Path, *, decimal_comma: bool = False) -> tuple[Path, Path]:
    """Write `runs.csv`, a row a run, and `stages.csv`, a row a stage, as a spreadsheet opens them."""
    folder.mkdir(parents=True, exist_ok=True)
    dialect = Dialect(decimal_comma)
    found = []
    for table in (tables.runs_table(archive.runs()), tables.stages_table(tables.all_stages(archive), with_run=True)):
        path = folder / f"{table.name}.csv"
        # The byte order mark is what makes spreadsheets read UTF-8 as UTF-8.
        path.write_text(_csv(table, dialect), encoding="utf-8-sig", newline="")
        found.append(path)
    return found[0], found[1]


def _small_tables(reader: RunReader) -> tuple[Table, ...]:
    return (
        tables.channels_table(reader.channels),
        tables.stages_table((("", stage) for stage in reader.stages()), with_run=False),
        tables.events_table(reader.events()),
        tables.gaps_table(reader.gaps()),
        tables.ledger_table(reader.ledger()),
        tables.clock_table(reader.clock()),
    )


def _csv(table: Table, dialect: Dialect) -> str:
    head = dialect.line(tuple(name for name, _ in table.columns))
    return head + "".join(dialect.line(row) for row in table.rows)


def _write_table(table: Table, folder: Path, dialect: Dialect) -> dict[str, Any]:
    path = folder / f"{table.name}.csv"
    path.write_text(_csv(table, dialect), encoding="utf-8", newline="")
    return _resource(table.name, path, [_field(*column, dialect) for column in table.columns], dialect)


def _field(name: str, kind: str, dialect: Dialect) -> dict[str, Any]:
    field: dict[str, Any] = {"name": name, "type": kind}
    if kind == "number" and dialect.decimal_comma:
        field["decimalChar"] = ","
    if kind == "boolean":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    if unit_of(name):
        field["unit"] = unit_of(name)
    return field


def _resource(name: str, path: Path, fields: list[dict[str, Any]], dialect: Dialect) -> dict[str, Any]:
    return {
        "name": name,
        "path": path.name,
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": path.stat().st_size,
        "dialect": {"delimiter": dialect.delimiter, "lineTerminator": "\r\n", "doubleQuote": True},
        "schema": {"fields": fields, "missingValues": [""]},
    }


def _package(reader: RunReader, resources: list[dict[str, Any]]) -> dict[str, Any]:
    header, result = reader.header, reader.result
    return {
        "profile": "data-package",
        "name": header.name,
        "title": f"Pin-on-ring {header.kind.value} run {header.name}" + (", simulated" if header.simulated else ""),
        "created": tables.utc_text(reader.t_open_utc_s).replace(" ", "T"),
        "description": "Times t_rig_s are node time; UTC columns are labels. What is not in samples is in gaps.",
        "run": {
            "outcome": "open" if result is None else result.outcome.value,
            "first_out": "" if result is None else result.first_out,
            "lubricant": header.lubricant,
            "ring": header.ring,
            "pin": header.pin,
            "simulated": header.simulated,
            "settings_toml": reader.settings_toml,
        },
        "resources": resources,
    }


def _samples(
    reader: RunReader, group: int, folder: Path, dialect: Dialect, parquet: bool, progress: Progress
) -> list[dict[str, Any]]:
    names = [record.name for record in reader.channels if record.group == group]
    path = folder / f"samples_group{group}.csv"
    writer = _parquet_writer(folder / f"samples_group{group}.parquet", names) if parquet else None
    columns = ["t_rig_s", *names]
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(dialect.line(tuple(columns)))
        for ratio, table in _stretches(reader, group, names):
            file.write(_rows(table, dialect))
            if writer is not None:
                writer(table)
            progress(ratio)
    if writer is not None:
        writer(None)
    fields = [_field(name, "number", dialect) for name in columns]
    return [_resource(f"samples_group{group}", path, fields, dialect)]


def _stretches(reader: RunReader, group: int, names: list[str]) -> Iterator[tuple[float, FloatArray]]:
    """Give (share done, (n, 1 + channels) float64) of stretch after stretch: node time and values."""
    for ratio, t_s, values in reader.stretches(group, tuple(names)):
        yield ratio, np.column_stack([t_s, values.T])


def _rows(table: FloatArray, dialect: Dialect) -> str:
    pattern = dialect.delimiter.join(["%.6f", *(["%.7g"] * (table.shape[1] - 1))]) + "\r\n"
    text = "".join([pattern % row for row in map(tuple, table.tolist())])
    return text.replace(".", ",") if dialect.decimal_comma else text


def _parquet_writer(path: Path, names: list[str]) -> Callable[[FloatArray | None], None]:
    """Give a function that appends a table, or closes the file on None."""
    import pyarrow
    import pyarrow.parquet

    schema = pyarrow.schema([(name, pyarrow.float64()) for name in ["t_rig_s", *names]])
    writer = pyarrow.parquet.ParquetWriter(path, schema, compression="zstd")

    def put(table: FloatArray | None) -> None:
        if table is None:
            writer.close()
        else:
            writer.write_table(pyarrow.table([pyarrow.array(column) for column in table.T], schema=schema))

    return put
