"""`scuffwatch uplink` and `alert` with wrong files and folders: told before anything is sent or made."""

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from scuffwatch.cli.main import EXIT_USAGE, main
from scuffwatch.cli.uplink import stop_on_signals
from scuffwatch.uplink.post import InfluxPost

HEAD = '[uplink]\nrig = "rig 2"\nmetrics_port = 0\n'


def settings(tmp_path: Path, more: str = "") -> str:
    path = tmp_path / "uplink.toml"
    path.write_text(HEAD + more)
    return str(path)


def test_no_channel_is_tested_while_another_has_no_secret(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    channels = '[channels.log]\nlog_file = "mail.log"\n[channels.phone]\nurl_file = "nowhere"\n'
    words = ["alert", "--test", "--settings", settings(tmp_path, channels), "--data", str(tmp_path)]
    assert main(words) == EXIT_USAGE
    told = capsys.readouterr()
    says = "[channels.phone] url_file: nowhere cannot be read: No such file or directory. Nothing has been started.\n"
    assert told.err == says
    assert told.out == ""
    assert not (tmp_path / "mail.log").exists()


def test_a_data_folder_that_is_not_there_and_nothing_to_queue_anew_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "mistyped"
    assert main(["uplink", "--settings", settings(tmp_path), "--data", str(folder), "--retry-quarantine"]) == 0
    told = capsys.readouterr()
    assert told.err == f"Data folder {folder} is not there. Nothing can be read until a core makes it. Check --data.\n"
    assert told.out == f"No uplink has worked in {folder}: there are no rows to queue anew.\n"
    assert not folder.exists()


def test_a_store_that_is_away_is_told_in_the_words_of_the_system() -> None:
    post = InfluxPost("http://127.0.0.1:1", "", "b", "", 2.0)
    try:
        assert post.write(["m v=1 1"]).says == "no answer: Connection refused"
    finally:
        post.close()


@pytest.fixture
def own_handlers() -> Iterator[None]:
    """Put back what the test runner does at a signal."""
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.timeout(20)
@pytest.mark.usefixtures("own_handlers")
def test_a_signal_while_the_event_is_in_hand_ends_it_all_the_same() -> None:
    """As when a second one comes while the first one's handler is at it: no handler waits for its own thread."""

    class InHand(threading.Event):
        def __init__(self) -> None:
            super().__init__()
            self.lock, self.was_set = threading.Lock(), threading.Event()

        def set(self) -> None:
            with self.lock:
                super().set()
                self.was_set.set()

    stop = InHand()
    stop_on_signals(stop)
    with stop.lock:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGTERM):
            os.kill(os.getpid(), number)
        assert not stop.is_set()
    assert stop.was_set.wait(5.0)
    assert stop.is_set()
