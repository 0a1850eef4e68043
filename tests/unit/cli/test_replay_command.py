"""`scuffwatch replay`: lines of JSON as promised, and one sentence for whatever cannot be replayed."""

import json
from pathlib import Path
from typing import Any

import pytest

from scuffwatch.cli.main import EXIT_USAGE, main

HEADER = "time_s,normal_load_n,friction_force_n,weather"


def rows(n: int = 300) -> list[str]:
    return [f"{k / 100:.2f},{200 + k % 3},{20 + (k % 5) / 10},fine" for k in range(n)]


def replayed(capsys: pytest.CaptureFixture[str], path: Path, *words: str) -> tuple[int, list[dict[str, Any]], str]:
    code = main(["replay", str(path), "--json", *words])
    told = capsys.readouterr()
    return code, [json.loads(line) for line in told.out.splitlines()], told.err


def written(tmp_path: Path, lines: list[str]) -> Path:
    path = tmp_path / "recording.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_one_object_a_finding_and_the_summary_last(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, lines, _ = replayed(capsys, written(tmp_path, [HEADER, *rows()]), "--limit", "friction_force_n=15")
    assert code == 0
    *findings, last = lines
    assert {"t_s", "kind", "level", "channels", "evidence", "says"} <= set(findings[-1])
    assert any(line["kind"] == "overload" and line["level"] == "trip" for line in findings)
    summary = last["summary"]
    wanted = {"outcome", "first_out", "trip_t_s", "stages", "samples", "gaps_s", "blind_to"}
    assert wanted <= set(summary)
    assert summary["first_out"] == "overload"
    assert summary["samples"] == 600
    assert summary["columns_ignored"] == ["weather"]


def test_words_for_a_person(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", str(written(tmp_path, [HEADER, *rows()]))]) == 0
    told = capsys.readouterr().out
    assert "no trip" in told
    assert "weather" in told
    assert "Blind to" in told


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "no header"),
        (b"\x00\xff\xfe\x00", "time_s"),
        (b"a,b\n1,2\n", "time_s"),
        (b"time_s,weather\n1,2\n", "no channel column"),
        (b"time_s,sound_level_db,sound_level_db\n1,2,3\n", "twice"),
        (b"time_s," + b"x" * 200_000, "its first line cannot be read"),
        (b"time_s;sound_level_db\n0,01;66,5\n", "semicolons"),
        (b"time_s\tsound_level_db\n0.01\t66.5\n", "tabs"),
    ],
)
def test_what_is_no_recording_is_told_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, says: str
) -> None:
    path = tmp_path / "recording.csv"
    path.write_bytes(content)
    code, lines, error = replayed(capsys, path)
    assert code == EXIT_USAGE
    assert lines == []
    assert says in error
    assert "Nothing has been replayed" in error


@pytest.mark.parametrize("content", ["", "x,y\n%%,\n", "nan,1\n", "1,\n2,\n"])
def test_a_table_without_a_value_gets_no_outcome(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: str
) -> None:
    path = tmp_path / "recording.csv"
    path.write_text("time_s,friction_force_n\n" + content)
    code, lines, error = replayed(capsys, path)
    assert code == EXIT_USAGE
    assert lines == []
    assert "has no two rows with stamp and value" in error


@pytest.mark.parametrize(
    ("rig", "says"),
    [
        ("rig = 3", "rig.toml [rig]: 3 is no section. Nothing has been replayed.\n"),
        ("channels.sound_level_db = 3", "rig.toml [channels.sound_level_db]: 3 is no section. Nothing has been rep"),
        ("\udcff", "it is no text in UTF-8. Nothing has been replayed."),
    ],
)
def test_a_wrong_rig_file_is_told_once(tmp_path: Path, capsys: pytest.CaptureFixture[str], rig: str, says: str) -> None:
    (tmp_path / "rig.toml").write_text(rig, errors="surrogateescape")
    code, _, error = replayed(capsys, written(tmp_path, [HEADER, *rows()]), "--rig", str(tmp_path / "rig.toml"))
    assert code == EXIT_USAGE
    assert says in error
    assert error.count("\n") == 1


def test_a_missing_rig_file_and_a_folder_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path, [HEADER, *rows()])
    assert replayed(capsys, path, "--rig", "nowhere.toml")[::2] == (
        EXIT_USAGE,
        "nowhere.toml: cannot be read: No such file or directory. Nothing has been replayed. Check --rig.\n",
    )
    code, _, error = replayed(capsys, tmp_path)
    assert code == EXIT_USAGE
    assert "is no file. Nothing has been replayed." in error


def test_a_missing_file_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, error = replayed(capsys, tmp_path / "nowhere.csv")
    assert code == EXIT_USAGE
    assert "is not there" in error


def test_rubbish_in_the_rows_is_counted_and_nothing_stops(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rubbish = ["", ",,,", "x,y", '"', "1e999,1,1,", "3.5,abc,21.0,fine,more,cells", "4.0,nan,inf,"]
    code, lines, _ = replayed(capsys, written(tmp_path, [HEADER, *rows(), *rubbish]))
    assert code == 0
    summary = lines[-1]["summary"]
    assert summary["cells_unreadable"] >= 2
    assert summary["rows_refused"] >= 2
    assert summary["rows_too_long"] == 1
    assert summary["samples"] == 600 + 1


def test_a_comma_in_a_quoted_cell_shifts_no_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As RFC 4180 has it. A quote that is never closed takes the rest of its own line and no other."""
    header = "time_s,note,normal_load_n,friction_force_n"
    noted = [f'{k / 100:.2f},"added, by hand",{200 + k % 3},{20 + (k % 5) / 10}' for k in range(300)]
    code, lines, _ = replayed(capsys, written(tmp_path, [header, *noted, '3.00,"stray,200,20.1', "3.01,fine,201,20.2"]))
    assert code == 0
    summary = lines[-1]["summary"]
    assert (summary["samples"], summary["rows_too_long"], summary["cells_unreadable"]) == (602, 0, 0)


def test_rows_with_more_cells_than_columns_are_refused_and_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Which number belongs where is not known; a comma at the end of a line shifts none."""
    path = written(tmp_path, [HEADER, *(f"{row}," for row in rows()), "3.00,200,20.1,fine,7"])
    assert main(["replay", str(path)]) == 0
    assert "Rows refused: 1, with more cells than the first line has columns." in capsys.readouterr().out


@pytest.mark.parametrize("row", ["0,01,200,5,20,1,fine", '"0,01","200,5","20,1",fine'])
def test_decimal_commas_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str], row: str) -> None:
    code, lines, error = replayed(capsys, written(tmp_path, [HEADER, *[row] * 100]))
    assert (code, lines) == (EXIT_USAGE, [])
    assert "numbers here have a decimal point. Nothing can be said of it." in error


def test_an_outcome_of_few_of_the_rows_is_said_to_be_of_these(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A table turned upside down, whose last row comes first, and 200 rows of it the right way round after that."""
    path = written(tmp_path, [HEADER, *reversed(rows()), *(f"{3.0 + k / 100:.2f},200,20,fine" for k in range(200))])
    assert main(["replay", str(path)]) == 0
    told = capsys.readouterr().out
    assert "Rows refused: 299, with no stamp, or one that is not later than the one before." in told
    assert "Only 201 rows could be used: the outcome is that of these, not of the whole recording." in told


def test_of_a_table_turned_upside_down_nothing_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, lines, error = replayed(capsys, written(tmp_path, [HEADER, *reversed(rows())]))
    assert (code, lines) == (EXIT_USAGE, [])
    assert "299 rows without a stamp that goes on" in error


def test_a_clock_that_was_set_back_is_told_and_what_comes_after_it_is_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a table written through the night in autumn has it; the pin is overheated after it. Made up here."""
    lines = ["time_s,pin_temperature_degc"]
    for k in range(8000):
        stamp_s = 0.01 * k if k < 4000 else 0.01 * k - 3600.0
        lines.append(f"{stamp_s:.2f},{40.0 if k < 6000 else 95.0}")
    (rig := tmp_path / "rig.toml").write_text("[limits]\npin_temperature_degc = 90.0\n")
    table = written(tmp_path, lines)
    code, told, _ = replayed(capsys, table, "--rig", str(rig))
    summary = told[-1]["summary"]
    assert (code, summary["first_out"]) == (0, "overheat")
    assert summary["trip_t_s"] == pytest.approx(-3540.0, abs=0.1)
    ((stamp_s, by_s),) = summary["set_back"]
    assert (stamp_s, by_s) == (pytest.approx(-3559.0, abs=0.05), pytest.approx(3600.0, abs=0.05))
    main(["replay", str(table), "--rig", str(rig)])
    assert "Clock set back by 3600.0" in capsys.readouterr().out
