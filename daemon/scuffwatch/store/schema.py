"""Schema: every table of the journal and of a run file, with its version and the steps from older ones.

Reads a fresh connection, gives one ready to write. Nothing else in the store creates a table.

Times named t_rig_s are node time in s, t_mono_s the host's monotonic clock, t_wall_utc_s s since 1970 UTC (a label).
Counts are what the converter gave; SI = c0 + c1*counts + c2*counts**2 ... - tare, coefficients in table `channels`.

`chunks.id` = group * 2**48 + node time of the first sample in ms, so the table is its own index over time.
`chunks.counts` = zlib of the byte-shuffled counts: first all lowest bytes, channel after channel, then the next bytes.
`chunks.borders` = zlib of the frames the samples came in (see borders.py); only a replay needs it.
`cells` = low, high and sum of the counts in steps of 1 s and 60 s; k = floor(t_rig_s / level). A row holds `count`
cells in little-endian arrays: n int32 (count), low int32 (channels, count), high the same, sum int64 (channels, count).
A row that is shorter than that is zlib of the int32 part and of the sums, each byte-shuffled.
"""

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store.storage import Connection

JOURNAL_VERSION = 1
RUN_VERSION = 1
APPLICATION_ID = 0x53435746
"""`SCWF`, in the header of every file of ours."""
PAGE_SIZE_BYTES = 1024

_EVENTS = """CREATE TABLE events(
  number INTEGER PRIMARY KEY, kind TEXT NOT NULL, t_rig_s REAL, t_mono_s REAL NOT NULL, t_wall_utc_s REAL NOT NULL,
  run TEXT NOT NULL, actor TEXT NOT NULL, says TEXT NOT NULL, data TEXT NOT NULL,
  core_start INTEGER NOT NULL, core_sequence INTEGER NOT NULL, hash BLOB NOT NULL)"""
_STAGE_COLUMNS = """number INTEGER, t_start_s REAL, t_end_s REAL, normal_load_n REAL, friction_coefficient REAL,
  friction_coefficient_end REAL, pin_temperature_degc REAL, bath_temperature_degc REAL, sound_level_db REAL,
  held INTEGER"""
_CHANNELS = """CREATE TABLE channels(
  id INTEGER PRIMARY KEY, name TEXT NOT NULL, grp INTEGER NOT NULL, position INTEGER NOT NULL, rate_hz REAL NOT NULL,
  integer_type TEXT NOT NULL, coefficients TEXT NOT NULL, tare REAL NOT NULL, range_low REAL, range_high REAL,
  calibration_id TEXT NOT NULL, from_t_rig_s REAL, t_wall_utc_s REAL NOT NULL)"""
_META = "CREATE TABLE meta(key TEXT PRIMARY KEY, value) WITHOUT ROWID"

JOURNAL = (
    _META,
    _EVENTS,
    """CREATE TABLE starts(number INTEGER PRIMARY KEY, t_wall_utc_s REAL NOT NULL, boot_id TEXT NOT NULL,
      first_event INTEGER NOT NULL, ended TEXT NOT NULL)""",
    """CREATE TABLE runs(name TEXT PRIMARY KEY, header TEXT NOT NULL, t_open_rig_s REAL,
      t_open_utc_s REAL NOT NULL, t_close_utc_s REAL, t_end_rig_s REAL, outcome TEXT, first_out TEXT NOT NULL,
      last_stage INTEGER NOT NULL, interrupted INTEGER NOT NULL, digest BLOB, says TEXT NOT NULL,
      merged INTEGER NOT NULL) WITHOUT ROWID""",
    f"CREATE TABLE stages(run TEXT NOT NULL, {_STAGE_COLUMNS}, PRIMARY KEY(run, number)) WITHOUT ROWID",
    """CREATE TABLE alarms(key TEXT PRIMARY KEY, state TEXT NOT NULL, number INTEGER NOT NULL,
      t_rig_s REAL, t_wall_utc_s REAL NOT NULL, says TEXT NOT NULL) WITHOUT ROWID""",
    _CHANNELS,
    """CREATE TABLE idle_cells(grp INTEGER NOT NULL, k INTEGER NOT NULL, names TEXT NOT NULL, data BLOB NOT NULL,
      PRIMARY KEY(grp, k)) WITHOUT ROWID""",
    """CREATE VIEW lubricants AS SELECT json_extract(header, '$.lubricant') AS lubricant, count(*) AS runs,
      min(t_open_utc_s) AS first_utc_s FROM runs GROUP BY 1""",
    """CREATE VIEW specimens AS
      SELECT 'ring' AS kind, json_extract(header, '$.ring') AS specimen, name AS run FROM runs
      UNION ALL SELECT 'pin', json_extract(header, '$.pin'), name FROM runs""",
)

RUN = (
    _META,
    "CREATE TABLE header(key TEXT PRIMARY KEY, value) WITHOUT ROWID",
    _CHANNELS,
    """CREATE TABLE chunks(id INTEGER PRIMARY KEY, grp INTEGER NOT NULL, epoch INTEGER NOT NULL,
      first_index INTEGER NOT NULL, n INTEGER NOT NULL, t_rig_s REAL NOT NULL, t_end_s REAL NOT NULL,
      channels INTEGER NOT NULL, crc32 INTEGER NOT NULL, borders BLOB NOT NULL, counts BLOB NOT NULL)""",
    """CREATE TABLE cells(level INTEGER NOT NULL, grp INTEGER NOT NULL, k INTEGER NOT NULL, count INTEGER NOT NULL,
      data BLOB NOT NULL, PRIMARY KEY(level, grp, k)) WITHOUT ROWID""",
    """CREATE TABLE ledger(grp INTEGER NOT NULL, epoch INTEGER NOT NULL, first_index INTEGER NOT NULL,
      next_index INTEGER NOT NULL, stored INTEGER NOT NULL, marked INTEGER NOT NULL,
      PRIMARY KEY(grp, epoch)) WITHOUT ROWID""",
    """CREATE TABLE gaps(id INTEGER PRIMARY KEY, grp INTEGER NOT NULL, epoch INTEGER NOT NULL,
      first_index INTEGER NOT NULL, n INTEGER NOT NULL, t_rig_s REAL, why TEXT NOT NULL,
      ordinal INTEGER NOT NULL)""",
    _EVENTS,
    f"CREATE TABLE stages({_STAGE_COLUMNS}, PRIMARY KEY(number)) WITHOUT ROWID",
    """CREATE TABLE clock(id INTEGER PRIMARY KEY, epoch INTEGER NOT NULL, t_rig_s REAL, t_mono_s REAL NOT NULL,
      t_wall_utc_s REAL NOT NULL, boot_id TEXT NOT NULL)""",
    """CREATE TABLE quality(id INTEGER PRIMARY KEY, channel TEXT NOT NULL, t_rig_s REAL,
      quality INTEGER NOT NULL, reason TEXT NOT NULL)""",
    """CREATE TABLE trips(id INTEGER PRIMARY KEY, t_rig_s REAL, t_wall_utc_s REAL NOT NULL, says TEXT NOT NULL,
      record BLOB NOT NULL)""",
    """CREATE TABLE result(id INTEGER PRIMARY KEY CHECK(id = 1), outcome TEXT NOT NULL, first_out TEXT NOT NULL,
      t_end_s REAL, t_wall_utc_s REAL NOT NULL, interrupted INTEGER NOT NULL)""",
)

_STEPS: dict[tuple[str, int], tuple[str, ...]] = {}
"""Statements that lead from version v of a kind of file to v + 1, in one transaction: `(kind, v): (...)`."""


def create(connection: Connection, kind: str) -> None:
    """Make the tables of a `journal` or `run` file inside the transaction the caller has opened."""
    for statement in JOURNAL if kind == "journal" else RUN:
        connection.execute(statement)
    version = JOURNAL_VERSION if kind == "journal" else RUN_VERSION
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={version}")
    connection.execute("INSERT INTO meta VALUES('kind', ?)", (kind,))


def version_of(connection: Connection) -> int:
    """Give the schema version of an open file; 0 where it holds nothing yet."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def refuse_others(connection: Connection, kind: str, name: str) -> None:
    """Refuse a file this program cannot take over, before anything of it is changed. One without tables is no other's.

    Args:
        connection: just opened; only reads are done.
        kind: `journal` or `run`.
        name: the file as it is called in the sentence.
    Raises:
        RecordUnreadable: another program's file, or a version there is no way from.
    """
    goal = JOURNAL_VERSION if kind == "journal" else RUN_VERSION
    have = version_of(connection)
    owner = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if owner != APPLICATION_ID and (owner or have or tables):
        raise RecordUnreadable(f"{name} is not a file this program made; it was left as it is. Move it elsewhere.")
    if have > goal or any((kind, version) not in _STEPS for version in range(have, goal) if tables):
        raise RecordUnreadable(
            f"{name} has schema version {have}, this program reads {goal}; it was left as it is. "
            "Use the program that made it, or a newer one."
        )


def migrate(connection: Connection, kind: str) -> None:
    """Bring a file that was not refused to the present version, all steps in one transaction: old or new."""
    goal = JOURNAL_VERSION if kind == "journal" else RUN_VERSION
    have = version_of(connection)
    if have == goal:
        return
    connection.execute("BEGIN IMMEDIATE")
    for version in range(have, goal):
        for statement in _STEPS[kind, version]:
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version={goal}")
    connection.execute("COMMIT")


def prepare(connection: Connection) -> None:
    """Set a fresh connection up for honest writing: small pages, write-ahead log, every commit synced."""
    connection.execute(f"PRAGMA page_size={PAGE_SIZE_BYTES}")
    # EXTRA syncs the folder once the rollback journal of the change to WAL is gone: one that came back after a power
    # cut would roll the whole file back.
    connection.execute("PRAGMA synchronous=EXTRA")
    connection.execute("PRAGMA journal_mode=WAL").fetchall()
    connection.execute("PRAGMA synchronous=FULL")
    # After a failed sync the log may show what never reached the medium. Folded in here it is written and synced anew.
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    connection.execute("PRAGMA wal_autocheckpoint=2000").fetchall()
    connection.execute("PRAGMA journal_size_limit=4194304").fetchall()
    connection.execute("PRAGMA cache_size=-2048")


def settle(connection: Connection) -> None:
    """Fold the log into the file and leave one file that a user without write permission can open.

    The caller syncs the folder before anything else happens to the file: SQLite does not for the log it removes.

    Raises:
        OSError, or what the binding raises: somebody has the file open, or the disk fails.
    """
    connection.execute("PRAGMA synchronous=EXTRA")
    mode = connection.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    if mode != "delete":
        raise OSError(f"the log could not be folded in: still in mode {mode}")
