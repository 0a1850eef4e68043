"""The demonstration as a stranger runs it: every scenario ends as it must, out of the stored record."""

import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from demo_play import play

from scuffwatch.store.reader import Archive

pytestmark = pytest.mark.rig

# Seeds with an early event keep the normal run short; the README's own examples use seed 1. A jam is played in
# test_record_commands.py, which goes on with its record.
SHORT = (("scuffing", 5), ("scuffing-short", 2), ("scuffing-sudden", 11), ("cable", 21), ("dead-host", 1))


@pytest.mark.scenario
@pytest.mark.timeout(400)
@pytest.mark.parametrize(
    ("scenario", "seed"),
    # All the short ones together take as long as the whole run, and are played beside it.
    [
        pytest.param("healthy", 1, marks=pytest.mark.xdist_group("whole run")),
        *(pytest.param(*short, marks=pytest.mark.xdist_group("short")) for short in SHORT),
    ],
)
def test_a_scenario_ends_as_it_must(scenario: str, seed: int) -> None:
    play(scenario, seed)


def test_help_costs_no_more_than_python_and_the_standard_library() -> None:
    def best_s(*words: str) -> float:
        times = []
        for _ in range(7):
            begun_s = time.perf_counter()
            subprocess.run([sys.executable, *words], check=True, capture_output=True)
            times.append(time.perf_counter() - begun_s)
        return min(times)

    ratio = best_s("-m", "scuffwatch.cli.main", "--help") / best_s("-c", "import argparse, json, sqlite3, socket")
    assert ratio < 4.0, "something heavy is imported for --help"


def test_the_live_demonstration_shows_its_pages_and_ends_cleanly(tmp_path: Path) -> None:
    """As a stranger meets it: addresses, a run under way, a second one on the same port refused, Ctrl-C."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [sys.executable, "-m", "scuffwatch.cli.main", "demo", "--port", str(port), "--data", str(tmp_path)]
    shown = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert shown.stdout is not None
    try:
        told = ""
        while "scenario scuffing, seed 1." not in told:
            told += (line := shown.stdout.readline())
            assert line, told
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/wall", timeout=10) as page:
            assert b"Look at the rig." in page.read()
        second = subprocess.run(words, capture_output=True, text=True, timeout=60)
        assert (second.returncode, second.stdout) == (2, "")
        assert f"port {port} of this computer: taken" in second.stderr
    finally:
        shown.send_signal(signal.SIGINT)
        told += shown.communicate(timeout=60)[0]
    assert shown.returncode == 0, told
    assert "Stopping: the permit is withdrawn, the record is closed." in told
    (kept,) = [folder for folder in tmp_path.iterdir() if (folder / "runs").exists()]
    assert f"Everything was kept in {kept}." in told
    assert "Subject: rig 2: test of alert channel mail" in (kept / "mail.log").read_text(encoding="utf-8")
    (run,) = Archive(kept).runs()
    assert run.outcome is not None
