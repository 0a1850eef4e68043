"""The guard against leftovers works: a test that cannot fail would not hold anything."""

from pathlib import Path

import pytest

pytest_plugins = ["pytester"]

CONFTEST = Path(__file__).with_name("conftest.py").read_text()

LEAVES_A_THREAD = """
import threading
def test_leaves():
    threading.Thread(target=threading.Event().wait, args=(20,), daemon=True, name="left-over").start()
"""
LEAVES_A_CHILD = """
import subprocess
kept = []
def test_leaves():
    kept.append(subprocess.Popen(["sleep", "20"]))
def teardown_module():
    kept[0].kill()
    kept[0].wait()
"""
NEVER_WAITS = """
import subprocess
kept = []
def test_leaves():
    kept.append(subprocess.Popen(["true"]))
def teardown_module():
    kept[0].wait()
"""
TIDY = """
import subprocess, threading
import pytest
@pytest.fixture(scope="module")
def helper():
    with subprocess.Popen(["sleep", "20"]) as child:
        yield child
        child.kill()
def test_uses_a_module_fixture(helper):
    thread = threading.Thread(target=int)
    thread.start()
    thread.join()
    subprocess.run(["true"], check=True)
"""


@pytest.mark.parametrize(
    ("source", "says"),
    [
        (LEAVES_A_THREAD, "*left behind: thread left-over*"),
        (LEAVES_A_CHILD, "*left behind: process * sleep 20*"),
        (NEVER_WAITS, "*left behind: process * (ended, never waited for)*"),
    ],
)
def test_a_leftover_fails_its_test(pytester: pytest.Pytester, source: str, says: str) -> None:
    pytester.makeconftest(CONFTEST.replace("GRACE_S = 5.0", "GRACE_S = 0.2"))
    pytester.makepyfile(source)
    result = pytester.runpytest_subprocess()
    result.assert_outcomes(passed=1, errors=1)
    result.stdout.fnmatch_lines([says])


def test_a_tidy_test_passes(pytester: pytest.Pytester) -> None:
    pytester.makeconftest(CONFTEST)
    pytester.makepyfile(TIDY)
    pytester.runpytest_subprocess().assert_outcomes(passed=1)


def test_the_data_folder_has_room_for_socket_names(data_dir: Path) -> None:
    assert data_dir.is_dir()
    assert len(str(data_dir / "command.sock").encode()) < 108  # sun_path, unix(7)
