"""Hold compiled detectors to the plain ones, bit for bit: every finding, every nearness, every slice.

Reads recordings of the project's own simulated rig and made-up noisy tables, gives the first place where two kinds of
detectors differ. Each kind runs in a process of its own (`python -m scuffwatch.cli.compiled_check [FOLDER]`) and prints
its findings and a digest a second of recording; the lines are compared as they come.
"""

import argparse
import hashlib
import itertools
import math
import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from scuffwatch.model.channel import (
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
)
from scuffwatch.service import compiled

if TYPE_CHECKING:
    from scuffwatch.detect.bank import Bank, BankResult

Row = tuple[float, list[float]]
_ALL = ()
_RIGS: tuple[tuple[str, int, tuple[str, ...]], ...] = (
    ("scuffing", 1, _ALL),
    ("scuffing-short", 2, (NORMAL_LOAD,)),
    ("scuffing-sudden", 3, _ALL),
    ("scuffing-sudden", 11, (FRICTION_FORCE,)),
    ("jam", 1, _ALL),
    ("jam", 2, (RING_SPEED,)),
    ("overheat", 1, _ALL),
)
"""Scenario, seed, and the channels this rig does not have."""
_TABLES = ((1, 100.0), (2, 400.0), (3, 10.0))
"""Seed and rows a second."""
_RIG_RATE_HZ, _RIG_MOST_S, _RESTS_S = 200.0, 400.0, 6.0
_MARK_S, _RESET_S, _OPEN_S = 20.0, 90.0, (120.0, 121.5)
"""When the mark is pressed, the detectors begin anew, and the contactor is open; the same in every recording."""
_TABLE_NAMES = (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, RING_SPEED)
_TABLE_S = 170.0
_DIGEST_EVERY_S = 1.0
_LAST = "the end"
_RIG_FILE = """
[rig]
ring_speed_rpm = 600.0
[motor]
no_load_current_a = 0.75
[channels.friction_force_n]
range = [0.0, 300.0]
[channels.sound_level_db]
range = [30.0, 110.0]
[limits]
friction_force_max_n = 250.0
friction_coefficient_max = 0.3
friction_coefficient_warn = 0.16
motor_current_max_a = 5.0
pin_temperature_max_degc = 120.0
pin_temperature_warn_degc = 105.0
bath_temperature_max_degc = 140.0
"""


# --- comparing --------------------------------------------------------------------------------------------


def difference(folder: Path) -> str:
    """Say where the compiled detectors of a folder differ from the plain ones; nothing where they do not."""
    plain, tried = _start(), _start(str(folder))
    found, here = "", "their start"
    with plain, tried:
        assert plain.stdout is not None
        assert tried.stdout is not None
        for ours, theirs in itertools.zip_longest(plain.stdout, tried.stdout):
            if ours != theirs:
                verb = "end early" if theirs is None else "differ from the plain ones"
                found = f"they {verb}, after {here}"
                plain.kill()
                tried.kill()
                break
            if ours.startswith("#"):
                here = ours[1:].strip()
    return found or ("" if here == _LAST else "no recording could be put through them to its end")


def _start(*words: str) -> "subprocess.Popen[str]":
    environment = {**os.environ, compiled.SWITCH: "yes"}
    command = [sys.executable, "-m", __spec__.name, *words]
    return subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True, env=environment)


# --- one kind of detectors --------------------------------------------------------------------------------


def main(arguments: list[str] | None = None) -> int:
    """Put every recording through one kind of detectors and print what they say."""
    parser = argparse.ArgumentParser(prog="python -m scuffwatch.cli.compiled_check", description="Tell what is found.")
    parser.add_argument("folder", nargs="?", type=Path, help="of the compiled detectors; without, the plain ones")
    given = parser.parse_args(arguments)
    if given.folder is not None:
        compiled.load(given.folder)
    for recording in recordings():
        for line in said(recording):
            print(line)
    print(f"#{_LAST}")
    return 0


@dataclass(frozen=True, slots=True)
class Recording:
    """Rows to be judged.

    Attributes:
        name: as it is told.
        channels: of the columns, in order.
        rate_hz: rows a second.
        rows: stamp and values; made while they are read.
    """

    name: str
    channels: tuple[str, ...]
    rate_hz: float
    rows: Iterable[Row]


def recordings() -> Iterator[Recording]:
    """Give every recording, the rigs' first."""
    for scenario, seed, without in _RIGS:
        yield _of_rig(scenario, seed, without)
    for seed, rate_hz in _TABLES:
        yield Recording(f"noisy table {seed} at {rate_hz:g} Hz", _TABLE_NAMES, rate_hz, _noisy_rows(seed, rate_hz))


def said(recording: Recording) -> Iterator[str]:
    """Give what the detectors say of a recording: a line a finding, a digest a second, each value to its last bit."""
    from scuffwatch.detect.bank import Bank
    from scuffwatch.service.replay_settings import (
        column_rules,
        friction_rule,
        load_replay_settings,
        replay_bank_params,
    )
    from scuffwatch.signals.friction import derive
    from scuffwatch.signals.table_slices import TableSlicer

    settings = load_replay_settings(_RIG_FILE)
    rules = column_rules(settings, recording.channels, 1.0 / recording.rate_hz)
    slicer, bank = TableSlicer(rules, 1.0 / recording.rate_hz), Bank(replay_bank_params(settings, rules))
    bank.start_run()
    rule, hands, digest = friction_rule(settings), _Hands(bank), _Digest()
    next_s, t_s = _DIGEST_EVERY_S, 0.0
    for t_s, values in recording.rows:
        for piece in slicer.accept(t_s, values):
            result = bank.update(derive(piece, rule), hands.contactor_closed(t_s))
            yield from map(repr, result.new)
            digest.take(result, bank)
        if t_s >= next_s:
            next_s += _DIGEST_EVERY_S
            yield f"#{t_s:.2f} s of {recording.name}"
            yield digest.text
    yield f"{bank.finish_run(t_s)!r} {bank.blind_to} {digest.text}"


class _Hands:
    """What a person does meanwhile, once each."""

    def __init__(self, bank: "Bank") -> None:
        self._bank = bank
        self._left = [(_RESET_S, bank.reset), (_MARK_S, bank.mark)]

    def contactor_closed(self, t_s: float) -> bool | None:
        if self._left and t_s >= self._left[-1][0]:
            self._left.pop()[1]()
        return False if _OPEN_S[0] <= t_s < _OPEN_S[1] else None


class _Digest:
    """A running hash over all that detectors say: `repr` of a float keeps its every bit."""

    def __init__(self) -> None:
        self._hash = hashlib.blake2b(digest_size=16)

    def take(self, result: "BankResult", bank: "Bank") -> None:
        near = [(one.name, one.value, one.limit, one.share, one.known.value) for one in bank.nearness]
        now = (near, result.ring_turning, result.trip_channels_good, result.standing, bank.stage)
        self._hash.update(repr(now).encode())

    @property
    def text(self) -> str:
        return self._hash.hexdigest()


# --- recordings -------------------------------------------------------------------------------------------


def _of_rig(scenario: str, seed: int, without: tuple[str, ...]) -> Recording:
    from scuffwatch.sim.physics import READING_NAMES

    kept = tuple(name for name in READING_NAMES if name not in without)
    return Recording(f"{scenario} {seed}", kept, _RIG_RATE_HZ, _rig_rows(scenario, seed, kept))


def _rig_rows(scenario: str, seed: int, kept: tuple[str, ...]) -> Iterator[Row]:
    """Give what the sensors of the simulated rig read until its ring has rested for a while, the permit ignored."""
    from scuffwatch.sim.physics import READING_NAMES
    from scuffwatch.sim.play import Play
    from scuffwatch.sim.scenario import SCENARIOS

    play = Play(SCENARIOS[scenario], seed, _RIG_RATE_HZ)
    at, has_run, moved_s = [READING_NAMES.index(name) for name in kept], False, math.inf
    while play.rig.t_s < min(_RIG_MOST_S, moved_s + _RESTS_S) and not play.stopped_by_plan:
        play.step(True)
        has_run = has_run or play.rig.motor.speed_rad_s > 0.0
        if play.rig.motor.speed_rad_s > 0.0 or not has_run:
            moved_s = play.rig.t_s
        values = play.sensors.read()
        yield play.rig.t_s, [values[place] for place in at]


def _noisy_rows(seed: int, rate_hz: float) -> Iterator[Row]:
    """Give rows of a rig that shows everything at once: weights, bursts, stick-slip, hum, holes, spikes, lost cells."""
    random, friction, pin_degc = Random(seed), 0.1, 30.0
    for row in range(int(_TABLE_S * rate_hz)):
        t_s = row / rate_hz
        runs = t_s > 2.0 and not 105.0 < t_s < 108.0
        load_n = 60.0 * (1 + int(t_s / 25.0))
        friction += (0.1 - friction) * min(1.0, 2.0 / rate_hz) + random.gauss(0.0, 0.002)
        swing = 0.06 * ((3.1 * t_s) % 1.0 - 0.5) if 55.0 < t_s < 75.0 else 0.0
        burst = 0.15 * math.exp(-(((t_s % 7.0) - 3.0) ** 2) / 0.02) if 75.0 < t_s < 103.0 else 0.0
        scuff = min(0.2, 0.01 * max(0.0, t_s - 150.0) ** 2)
        force_n = load_n * max(0.0, friction + swing + burst + scuff) * runs + 0.3 * math.sin(314.0 * t_s)
        pin_degc += ((30.0 + 2.5 * force_n) * runs + 25.0 * (not runs) - pin_degc) / (40.0 * rate_hz)
        values = [
            load_n + random.gauss(0.0, 1.5),
            force_n + random.gauss(0.0, 0.4),
            (0.75 + 0.05 * force_n) * runs + random.gauss(0.0, 0.02) + 3.0 * (2.0 < t_s < 2.3),
            60.0 + 6.0 * runs + 60.0 * (burst + scuff) + random.gauss(0.0, 0.4),
            pin_degc + random.gauss(0.0, 0.05) + 40.0 * (130.0 < t_s < 130.04),
            max(0.0, 600.0 * runs * (1.0 - scuff) + random.gauss(0.0, 1.0)),
        ]
        if random.random() < 0.002:
            values[random.randrange(len(values))] *= random.choice((-3.0, 0.0, 40.0))
        values = [math.nan if random.random() < 0.01 else value for value in values]
        if 40.0 < t_s < 41.0 or 132.0 < t_s < 135.0:
            values[0 if t_s < 100.0 else 1] = math.nan
        if not (50.0 < t_s < 50.7 or random.random() < 0.003):
            yield t_s, values


if __name__ == "__main__":
    sys.exit(main())
