"""The record commands over a record that a real core wrote: listed, shown, exported, whole, not whole once touched."""

import json
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from demo_play import play


def scuffwatch(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "scuffwatch.cli.main", *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=120)


@pytest.mark.rig
@pytest.mark.timeout(400)
def test_a_jam_ends_as_it_must_and_its_run_can_be_listed_shown_exported_and_verified(tmp_path: Path) -> None:
    play("jam", 5, "--data", str(tmp_path))
    data = max(tmp_path.iterdir())  # the last one, where this computer was late and it was played again
    where = ("--data", str(data))

    (listed,) = [json.loads(line) for line in scuffwatch("runs", "--json", *where).stdout.splitlines()]
    name = listed["run"]
    assert listed["outcome"] == "jammed"
    assert listed["simulated"]
    assert name in scuffwatch("runs", *where).stdout

    shown = json.loads(scuffwatch("show", name, "--json", *where).stdout)
    assert shown["result"]["outcome"] == "jammed"
    assert all(row["produced"] == row["stored"] + row["marked"] for row in shown["ledger"])
    assert "First-out: Jam" in scuffwatch("show", name, *where).stdout

    exported = scuffwatch("export", name, str(tmp_path / "package"), *where)
    assert exported.returncode == 0, exported.stderr
    assert (tmp_path / "package" / "datapackage.json").is_file()
    assert scuffwatch("runs", "--csv", str(tmp_path / "lists"), *where).returncode == 0

    whole = scuffwatch("verify", *where)
    assert whole.returncode == 0, whole.stdout
    with sqlite3.connect(data / "runs" / f"{name}.sqlite") as connection:
        connection.execute("UPDATE events SET says = 'nothing happened' WHERE rowid = (SELECT max(rowid) FROM events)")
    connection.close()
    touched = scuffwatch("verify", name, *where)
    assert touched.returncode == 1
    assert "NOT whole" in touched.stdout


def test_a_missing_folder_and_a_missing_run_are_told_in_one_sentence(tmp_path: Path) -> None:
    nowhere = scuffwatch("runs", "--data", str(tmp_path / "nothing"))
    assert nowhere.returncode == 2
    assert nowhere.stderr.count("\n") == 1
    assert "Traceback" not in nowhere.stderr
    missing = scuffwatch("show", "2026-01-01-rig2-001", "--data", str(tmp_path))
    assert missing.returncode == 1
    assert "Traceback" not in missing.stderr
