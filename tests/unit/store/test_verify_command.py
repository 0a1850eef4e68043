"""`scuffwatch verify` on damaged files: one byte of each kind of content is changed in the file itself."""

import json
import shutil
import sqlite3
from pathlib import Path

import pytest
from crash_feed import NAME, record

from scuffwatch.cli.main import main


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a closed run of 12 s; tests copy it before they break it."""
    folder = tmp_path_factory.mktemp("sound")
    record(folder, 0.0, 12.0)
    return folder


def verify(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, list[str]], str]:
    """Give exit code, findings by record, and what goes to the error output."""
    code = main(["verify", *words, "--json", "--data", str(folder)])
    seen = capsys.readouterr()
    rows = [json.loads(line) for line in seen.out.splitlines()]
    return code, {row["name"]: row["findings"] for row in rows}, seen.err


def places(path: Path, content: bytes) -> list[int]:
    """Give every offset at which the file holds the content."""
    data, found, at = path.read_bytes(), list[int](), -1
    while (at := data.find(content, at + 1)) >= 0:
        found.append(at)
    assert found, content
    return found


def flip(path: Path, at: int, mask: int = 0x01) -> None:
    """Change bits of one byte of a file."""
    data = bytearray(path.read_bytes())
    data[at] ^= mask
    path.write_bytes(data)


def first_chunk(path: Path) -> bytes:
    with sqlite3.connect(path) as connection:
        found = connection.execute("SELECT counts FROM chunks ORDER BY id LIMIT 1").fetchone()[0]
    connection.close()
    return bytes(found)


def ledger_row(path: Path) -> bytes:
    """Give the group's next index and stored samples as SQLite writes two integers of two bytes side by side."""
    with sqlite3.connect(path) as connection:
        next_index, stored = connection.execute("SELECT next_index, stored FROM ledger WHERE grp = 0").fetchone()
    connection.close()
    return int(next_index).to_bytes(2, "big") + int(stored).to_bytes(2, "big")  # sqlite.org/fileformat2: big-endian


def test_a_sound_record_is_whole(sound: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Control: without a changed byte there is nothing to find."""
    assert verify(sound, capsys) == (0, {"journal": [], NAME: []}, "")


def test_a_run_file_the_journal_does_not_list_is_told(
    sound: Path, data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A journal copied without its log, or lost, must not make the record look whole and empty."""
    folder = data_dir / "copied"
    shutil.copytree(sound, folder)
    with sqlite3.connect(folder / "journal.sqlite") as journal:
        journal.execute("DELETE FROM runs")
    journal.close()
    code, findings, _ = verify(folder, capsys)
    assert code == 1
    assert findings[NAME] == ["The journal does not know this run."]
    assert main(["runs", "--data", str(folder)]) == 0
    told = capsys.readouterr()
    assert told.out == ""
    assert f"1 run files are not in the journal: {NAME}. Start the core once" in told.err


def test_a_folder_without_a_record_is_told(data_dir: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["runs", "--data", str(data_dir)]) == 0
    assert capsys.readouterr().err == f"No run is recorded in {data_dir}. Check that it is the folder of the core.\n"


def test_a_file_that_is_no_record_is_not_sent_to_the_core(data_dir: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (data_dir / "runs").mkdir()
    (data_dir / "runs" / f"{NAME}.sqlite").write_bytes(b"rubbish" * 99)
    assert main(["show", NAME, "--data", str(data_dir)]) == 1
    assert "It is damaged, or no file of this program; it was left as it is." in capsys.readouterr().err


def test_an_export_to_a_place_in_use_and_without_parquet_writes_nothing(
    sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "package"
    assert main(["export", NAME, str(place), "--data", str(sound)]) == 0
    before = {path.name: path.read_bytes() for path in place.iterdir()}
    assert main(["export", NAME, str(place), "--data", str(sound)]) == 1
    assert "is not empty. Nothing has been written." in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in place.iterdir()} == before
    monkeypatch.setattr("scuffwatch.cli.export.find_spec", lambda name: None)
    assert main(["export", NAME, str(tmp_path / "other"), "--parquet", "--data", str(sound)]) == 2
    assert "--parquet needs the Python package pyarrow" in capsys.readouterr().err
    assert not (tmp_path / "other").exists()


def test_an_export_that_finds_no_room_says_that_it_is_not_complete(
    sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(reader: object, folder: Path, **more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("scuffwatch.store.export.export_run", full)
    assert main(["export", NAME, str(tmp_path / "package"), "--data", str(sound)]) == 1
    told = capsys.readouterr().err
    assert told.startswith(f"{tmp_path}/package: No space left on device. The package is not complete;")
    assert told.count("\n") == 1


def test_what_is_not_known_is_shown_as_a_dash(sound: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from scuffwatch.cli.show import _shown

    assert _shown(float("nan"), 2) == "–"
    assert _shown(1.005, 1) == "1.0"
    assert main(["show", NAME, "--data", str(sound)]) == 0
    assert "nan" not in capsys.readouterr().out


def damaged(kind: str, folder: Path) -> None:
    run, journal = folder / "runs" / f"{NAME}.sqlite", folder / "journal.sqlite"
    if kind == "chunk":
        flip(run, places(run, first_chunk(run)[8:40])[0] + 16)
    elif kind == "ledger":
        flip(run, places(run, ledger_row(run))[-1] + 3)
    elif kind == "header":
        for at in places(run, b"HEES 46"):
            flip(run, at)
    elif kind == "event of the run":
        flip(run, places(run, b"benche1")[0] + 6)
    elif kind == "event of the journal":
        flip(journal, places(journal, b"benche2")[0] + 6)
    elif kind == "hash of the journal":
        with sqlite3.connect(journal) as connection:
            link = connection.execute("SELECT hash FROM events WHERE number = 1").fetchone()[0]
        connection.close()
        flip(journal, places(journal, link)[0] + 5)
    elif kind == "outcome":
        flip(run, places(run, b"held")[-1] + 3, 0x05)
    elif kind == "owner":
        flip(run, 68)  # sqlite.org/fileformat2, 1.3: application id at offset 68, user version at 60
    elif kind == "version":
        flip(run, 63, 0x02)
    else:
        flip(run, 0)


@pytest.mark.parametrize(
    ("kind", "record_", "says"),
    [
        ("chunk", NAME, "The chunk at 0.000 s of group 0 is damaged: its CRC-32 is not the one that was written."),
        ("ledger", NAME, "Group 0, node start 0: the ledger says"),
        ("header", NAME, "The file is not the one the journal entered when the run was closed."),
        ("event of the run", NAME, "Event 1 is not the same in the journal and in the file."),
        ("event of the journal", "journal", "Event 2 does not follow on the one before"),
        ("hash of the journal", "journal", "Event 1 does not follow on the one before"),
        ("outcome", NAME, "The journal says the run ended as 'held', its file says"),
        ("owner", NAME, "The file is not one this program made."),
        ("version", NAME, "The file has schema version 3; this program writes 1."),
    ],
)
def test_a_changed_byte_is_said_by_name_and_exits_1(
    sound: Path, data_dir: Path, capsys: pytest.CaptureFixture[str], kind: str, record_: str, says: str
) -> None:
    shutil.copytree(sound, data_dir, dirs_exist_ok=True)
    damaged(kind, data_dir)
    code, findings, _ = verify(data_dir, capsys)
    assert code == 1
    assert any(says in sentence for sentence in findings[record_]), findings
    assert main(["verify", "--data", str(data_dir)]) == 1
    assert f"{record_}: NOT whole" in capsys.readouterr().out


def test_a_file_that_is_no_database_any_more_is_one_sentence(
    sound: Path, data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(sound, data_dir, dirs_exist_ok=True)
    damaged("first byte", data_dir)
    code, findings, _ = verify(data_dir, capsys, NAME)
    assert code == 1
    (told,) = findings[NAME]
    assert f"{NAME}.sqlite" in told
    assert "not a database" in told


@pytest.mark.parametrize("how", ["damaged", "missing"])
def test_a_damaged_or_missing_run_does_not_hide_the_others(
    sound: Path, data_dir: Path, capsys: pytest.CaptureFixture[str], how: str
) -> None:
    shutil.copytree(sound, data_dir, dirs_exist_ok=True)
    second = "2026-11-25-rig2-002"
    record(data_dir, 20.0, 22.0, second)
    if how == "damaged":
        damaged("first byte", data_dir)
    else:
        (data_dir / "runs" / f"{NAME}.sqlite").unlink()
    code, findings, _ = verify(data_dir, capsys)
    assert code == 1
    assert findings["journal"] == []
    assert findings[second] == []
    assert len(findings[NAME]) == 1
