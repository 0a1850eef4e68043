"""`scuffboard` with wrong words or a port that is taken: a sentence, and no page at a place nobody named."""

import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from scuffboard.main import main


def served(*words: str) -> tuple[int, str]:
    """Give exit code and error output of pages that cannot be served."""
    command = [sys.executable, "-m", "scuffboard.main", *words]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    return done.returncode, done.stderr


@pytest.fixture
def taken_port() -> Iterator[int]:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        yield holder.getsockname()[1]


def test_a_port_that_is_taken_is_told(taken_port: int, tmp_path: Path) -> None:
    code, told = served("--data", str(tmp_path), "--port", str(taken_port))
    assert code == 1
    says = f"127.0.0.1 port {taken_port}: Address already in use. No page is served. Give another --port or --host"
    assert told.startswith(says)
    assert told.count("\n") == 1


def test_a_folder_and_an_address_that_are_not_there_are_told(tmp_path: Path) -> None:
    code, told = served("--data", str(tmp_path / "mistyped"), "--host", "192.0.2.1")
    assert code == 1
    folder, address = told.splitlines()
    assert folder == (
        f"Data folder {tmp_path}/mistyped is not there. The pages are empty until a core makes it. Check --data."
    )
    assert address.startswith("192.0.2.1 port 8180: Cannot assign requested address. No page is served.")


@pytest.mark.parametrize(
    "words",
    [("--port", "99999"), ("--port=-1",), ("--monitor-width-mm", "nan"), ("--distance-m", "0"), ("--viewers", "0")],
)
def test_numbers_out_of_bounds_are_refused(words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    """65 536 + n was served at port n."""
    assert main(words) == 2
    told = capsys.readouterr().err
    assert told.startswith(words[0].split("=")[0])
    assert ": limits " in told
    assert told.endswith("No page is served.\n")
