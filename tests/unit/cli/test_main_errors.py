"""What a command cannot do is one sentence and a documented exit code, never a traceback."""

import argparse
import io
from pathlib import Path
from typing import NoReturn

import pytest

from scuffwatch.cli import main as entry
from scuffwatch.cli.main import EXIT_FAULT, EXIT_NO, EXIT_STOPPED, main


class Failing:
    """A command that ends in an error."""

    def __init__(self, error: BaseException) -> None:
        self._error = error

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare nothing."""

    def run(self, args: argparse.Namespace) -> NoReturn:
        raise self._error


@pytest.mark.parametrize(
    ("error", "code", "says"),
    [
        (
            OSError(28, "No space left on device", "out/samples.csv"),
            EXIT_NO,
            "out/samples.csv: No space left on device.",
        ),
        (TimeoutError("timed out"), EXIT_NO, "timed out."),
        (
            KeyError("stage\nnumber"),
            EXIT_FAULT,
            "Fault of the program: KeyError: 'stage\\nnumber' (cli/test_main_errors",
        ),
        (KeyboardInterrupt(), EXIT_STOPPED, "Stopped before the end."),
    ],
)
def test_an_error_is_one_sentence_and_an_exit_code(
    error: BaseException, code: int, says: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(entry, "_module", lambda name: Failing(error))
    assert main(["runs"]) == code
    told = capsys.readouterr().err
    assert told.startswith(says)
    assert told.count("\n") == 1


@pytest.mark.parametrize("words", [("replay", "."), ("runs", "--csv", "file", "--data", ".")])
def test_a_path_of_the_wrong_kind_is_told(
    words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").touch()
    assert main(list(words)) in (EXIT_NO, entry.EXIT_USAGE)
    told = capsys.readouterr().err
    assert words[1] in told or "file" in told
    assert told.count("\n") == 1


@pytest.mark.parametrize("seconds", ["-3", "0", "nan", "inf", "1e9"])
def test_a_benchmark_of_no_or_endless_time_is_refused(seconds: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["benchmark", f"--seconds={seconds}"]) == entry.EXIT_USAGE
    assert "limits 1 to 3600 s. Nothing has been measured." in capsys.readouterr().err


@pytest.mark.parametrize("words", [["--data", "x", "runs"], ["--data=x", "runs"], ["--data"]])
def test_a_data_folder_before_the_command_is_told_where_it_belongs(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == entry.EXIT_USAGE
    assert capsys.readouterr().err.startswith("--data stands behind the command: ")


def test_a_terminal_without_a_letter_gets_a_question_mark(monkeypatch: pytest.MonkeyPatch) -> None:
    class Saying:
        """A command that says what ASCII has not."""

        def add_arguments(self, parser: argparse.ArgumentParser) -> None:
            """Declare nothing."""

        def run(self, args: argparse.Namespace) -> int:
            print("µ 0.1")
            return 0

    terminal = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(entry, "_module", lambda name: Saying())
    monkeypatch.setattr("sys.stdout", terminal)
    assert main(["runs"]) == 0
    terminal.flush()
    assert terminal.buffer.getvalue() == b"? 0.1\n"  # type: ignore[attr-defined]
