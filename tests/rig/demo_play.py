"""`scuffwatch demo --once` played as a stranger runs it, held to ending as it must."""

import json
import subprocess
import sys

SPEED = 18
"""Above the default: the lease counts real time, so what takes less of it meets fewer pauses."""
TRIES = 3
"""A lease counts real time in a hurried scenario too: a computer that pauses for 0.1 s ends it, rightly, as stopped."""


def play(scenario: str, seed: int, *words: str) -> None:
    """Play a scenario to its end, again where this computer was late, and hold it to what its record says."""
    for _ in range(TRIES):
        code, told, errors = _once(scenario, seed, *words)
        if told.get("as_expected") or not _was_late(told, errors):
            break
    assert told, errors
    assert told["as_expected"], told["because"]
    assert code == 0
    record = told["record"]
    assert isinstance(record, dict)
    assert record["balanced"]
    assert told["simulated"]


def _was_late(told: dict[str, object], errors: str) -> bool:
    """Say whether the permit lapsed because this computer paused, and not for what the scenario does."""
    return "lease has lapsed" in json.dumps(told) or "the permit lapsed" in errors


def _once(scenario: str, seed: int, *words: str) -> tuple[int, dict[str, object], str]:
    command = [sys.executable, "-m", "scuffwatch.cli.main", "demo", "--once", "--json", *words]
    command += ["--scenario", scenario, "--seed", str(seed), "--speed", str(SPEED)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=170)
    return done.returncode, json.loads(done.stdout) if done.stdout else {}, done.stderr
