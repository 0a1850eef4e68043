"""A process of the demonstration that has gone is told with how it ended and what it last said."""

import signal
from pathlib import Path

import pytest

from scuffwatch.cli.demo_session import Session
from scuffwatch.cli.processes import Children
from scuffwatch.model.errors import InternalError


def test_a_process_that_ended_by_itself_is_told_with_its_code_and_its_words(tmp_path: Path) -> None:
    with Children(tmp_path) as children:
        children.start("core", "scuffwatch.cli.main", "runs").wait()
        with pytest.raises(InternalError) as raised:
            Session(tmp_path, children, "healthy", 1, 1.0).check()
    told = raised.value.sentence()
    assert told.startswith(
        "The process core of the demonstration has ended with code 2. Before that it had said: No data"
    )
    assert told.endswith("Everything has been stopped. Start the demonstration again.")


def test_a_process_that_was_killed_is_told_by_its_signal(tmp_path: Path) -> None:
    with Children(tmp_path) as children:
        child = children.start("core", "http.server", "--bind", "127.0.0.1", "0")
        child.send_signal(signal.SIGKILL)
        child.wait()
        assert children.dead() == "core"
        assert children.how_ended("core") == "by signal 9"
