"""Files this program cannot take over: another version, another program's. Refused in one sentence, never changed."""

import hashlib
import sqlite3
from pathlib import Path

import pytest
from crash_feed import NAME, Bench, event, record

from scuffwatch.cli.main import main
from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.model.run import Outcome
from scuffwatch.store import lock, schema
from scuffwatch.store.reader import Archive
from scuffwatch.store.recorder import Recorder
from scuffwatch.store.verify import verify_run

SECOND = "2026-11-25-rig2-002"
VERSIONS = [schema.RUN_VERSION + 1, schema.RUN_VERSION + 1000, -1]


@pytest.fixture
def recorded(data_dir: Path) -> Path:
    """Give a folder with a closed run in it."""
    record(data_dir, 0.0, 2.0)
    return data_dir


def run_path(folder: Path, name: str = NAME) -> Path:
    return folder / "runs" / f"{name}.sqlite"


def change(path: Path, sql: str) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute(sql)
    connection.close()


def other_program(path: Path) -> None:
    """Make a sound database of somebody else."""
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE shopping(what TEXT)")
        connection.execute("INSERT INTO shopping VALUES('two litres of white spirit')")
    connection.close()


def fingerprint(folder: Path) -> dict[str, str]:
    """Give what every file of the runs folder and the journal holds."""
    files = [path for path in (*folder.joinpath("runs").iterdir(), folder / "journal.sqlite") if path.is_file()]
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def start_and_end(folder: Path, sequence: int = 1) -> tuple[str, ...]:
    """Start a writer, let it record an event, end it; give what it said."""
    bench = Bench(folder).start()
    bench.offer(event(sequence, "after", run=""))
    bench.finish()
    return bench.says


def refusals(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Give exit code and everything a command printed."""
    code = main(words)
    seen = capsys.readouterr()
    return code, seen.out + seen.err


@pytest.mark.parametrize("version", VERSIONS)
def test_a_run_of_another_version_is_named_and_left_as_it_is(
    recorded: Path, version: int, capsys: pytest.CaptureFixture[str]
) -> None:
    path = run_path(recorded)
    change(path, f"PRAGMA user_version={version}")
    before = path.read_bytes()
    for _ in range(2):
        (says,) = start_and_end(recorded)
        assert f"schema version {version}, this program reads {schema.RUN_VERSION}" in says
        assert NAME in says
    assert path.read_bytes() == before
    assert sorted(entry.name for entry in path.parent.iterdir()) == [path.name]
    assert Archive(recorded).run(NAME).outcome is Outcome.HELD  # the journal still knows it
    with pytest.raises(RecordUnreadable, match=f"schema version {version}"):
        Archive(recorded).open_run(NAME)
    for words in (["show", NAME], ["export", NAME, str(recorded / "out")]):
        code, told = refusals([*words, "--data", str(recorded)], capsys)
        assert code == 1
        assert told.strip().count("\n") == 0
        assert f"schema version {version}" in told
    code, told = refusals(["verify", NAME, "--data", str(recorded)], capsys)
    assert code == 1
    assert f"schema version {version}" in told
    assert path.read_bytes() == before


@pytest.mark.parametrize("version", VERSIONS)
def test_a_journal_of_another_version_stops_the_start_in_one_sentence(
    recorded: Path, version: int, capsys: pytest.CaptureFixture[str]
) -> None:
    change(recorded / "journal.sqlite", f"PRAGMA user_version={version}")
    before = fingerprint(recorded)
    recorder = Recorder(recorded)
    with pytest.raises(RecordUnreadable, match=f"schema version {version}") as raised:
        recorder.start()
    assert "\n" not in raised.value.sentence()
    assert not lock.is_held(recorded)
    code, told = refusals(["runs", "--data", str(recorded)], capsys)
    assert code == 1
    assert told.strip().count("\n") == 0
    assert f"schema version {version}" in told
    assert fingerprint(recorded) == before
    assert sorted(p.name for p in recorded.glob("journal.sqlite*")) == ["journal.sqlite"]


def test_another_programs_database_in_the_journals_place_is_refused(recorded: Path) -> None:
    (recorded / "journal.sqlite").unlink()
    other_program(recorded / "journal.sqlite")
    before = fingerprint(recorded)
    with pytest.raises(RecordUnreadable, match="not a file this program made"):
        Recorder(recorded).start()
    with pytest.raises(RecordUnreadable, match="not a file this program made"):
        Archive(recorded).runs()
    assert fingerprint(recorded) == before


def test_another_programs_database_named_like_a_run_is_left_alone(recorded: Path) -> None:
    other_program(run_path(recorded, SECOND))
    before = run_path(recorded, SECOND).read_bytes()
    (says,) = start_and_end(recorded)
    assert SECOND in says
    assert "not a file this program made" in says
    assert run_path(recorded, SECOND).read_bytes() == before
    assert not verify_run(recorded, SECOND).sound
    assert [run.name for run in Archive(recorded).runs()] == [NAME]
    # a name that is on the disk is not given again
    recorder = Recorder(recorded)
    recorder.start()
    name = recorder.next_run_name("2026-11-25", "rig 2")
    assert recorder.close(10.0)
    assert name == "2026-11-25-rig2-003"


def test_foreign_files_among_the_runs_are_named_and_left_alone(recorded: Path) -> None:
    folder = recorded / "runs"
    texts = {"notes.txt": b"top-up at 14:10", "holiday.sqlite": b"not a database", "._x": b"", "scan.pdf": b"%PDF"}
    for name, data in texts.items():
        (folder / name).write_bytes(data)
    (folder / "old runs").mkdir()
    run_path(recorded, SECOND).write_bytes(b"a text that is called like a run")
    before = fingerprint(recorded)
    says = " ".join(start_and_end(recorded))
    for name in (*texts, "old runs", SECOND):
        assert name in says, name
    assert NAME not in says
    after = fingerprint(recorded)
    assert all(after[name] == before[name] for name in (*texts, f"{SECOND}.sqlite"))
    assert Archive(recorded).latest_events(1)[0].says == "after"
    assert verify_run(recorded, NAME).sound


def test_a_closed_run_that_cannot_be_opened_is_said(recorded: Path) -> None:
    """A folder stands in for a file without rights: root may read everything."""
    run_path(recorded).unlink()
    run_path(recorded).mkdir()
    (says,) = start_and_end(recorded)
    assert says == f"The file of run {NAME} cannot be opened: unable to open database file. It was left as it is."
    assert run_path(recorded).is_dir()


def test_a_record_that_cannot_be_opened_at_all_is_one_sentence(recorded: Path) -> None:
    (recorded / "journal.sqlite").unlink()
    (recorded / "journal.sqlite").mkdir()
    with pytest.raises(RecordUnreadable, match="cannot be opened: unable to open database file"):
        Recorder(recorded).start()
    assert not lock.is_held(recorded)


def test_many_foreign_files_do_not_make_a_long_sentence(recorded: Path) -> None:
    for number in range(500):
        (recorded / "runs" / f"photo{number:03d}.jpg").touch()
    (says,) = start_and_end(recorded)
    assert "and 495 more" in says
    assert len(says) < 250


def test_a_run_whose_header_is_gone_does_not_stop_the_start(recorded: Path) -> None:
    change(run_path(recorded), "DELETE FROM header WHERE key = 'run'")
    (says,) = start_and_end(recorded)
    assert f"The header of run {NAME} cannot be read" in says
    with pytest.raises(RecordUnreadable, match="no readable header"):
        Archive(recorded).open_run(NAME)


def test_an_unknown_run_with_a_damaged_header_does_not_stop_the_start(recorded: Path) -> None:
    (recorded / "journal.sqlite").unlink()
    (recorded / "journal.mark").unlink()
    change(run_path(recorded), "UPDATE header SET value = 'x' WHERE key = 'run'")
    says = " ".join(start_and_end(recorded))
    assert "events 1 to 2 are missing" in says  # the run file remembers them
    assert f"The header of run {NAME} cannot be read" in says
    assert Archive(recorded).runs() == ()


def test_an_older_copy_of_the_whole_folder_goes_on_by_itself(recorded: Path, tmp_path: Path) -> None:
    """A folder put back as a whole is what it was that day: nothing to refuse, and it records on."""
    copy = tmp_path / "copy"
    copy.joinpath("runs").mkdir(parents=True)
    for path in (run_path(recorded), recorded / "journal.sqlite", recorded / "journal.mark"):
        (copy / path.relative_to(recorded)).write_bytes(path.read_bytes())
    record(recorded, 10.0, 12.0, SECOND)
    assert start_and_end(copy, 1) == ()
    assert [run.name for run in Archive(copy).runs()] == [NAME]
    assert verify_run(copy, NAME).sound
