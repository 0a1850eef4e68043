"""A real writer in a process of its own, killed at a random moment, again and again."""

import mmap
import os
import random
import signal
import struct
import time
from pathlib import Path

from crash_check import Promised, emptied, faults_after
from crash_feed import NO_RESERVE, blocks, closed, event, opened

from scuffwatch.store.recorder import Recorder
from scuffwatch.store.rules import WriterRules

_BOARD = struct.Struct("qddqq")  # events recorded, offered up to, opened at, run number, runs closed before it
RUN_S = 1.2
LONGEST_S = 1.5


def one_kill(seed: int, folder: Path) -> list[str]:
    """Let a writer work in real time, kill it, and give the promises broken."""
    board = mmap.mmap(-1, _BOARD.size)
    child = os.fork()
    if child == 0:
        try:
            _write(folder, board)
        finally:
            os._exit(1)
    time.sleep(random.Random(seed).uniform(0.02, LONGEST_S))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    events, offered_s, opened_s, run, done = _BOARD.unpack(board[:])
    board.close()
    if not os.WIFSIGNALED(status):
        return ["the writer ended by itself"]
    promised = Promised(events, offered_s, opened_s, _name(run) if run else "", {_name(n) for n in range(1, done + 1)})
    return faults_after(folder, promised)


def _name(number: int) -> str:
    return f"2026-11-25-rig2-{number:03d}"


def _write(folder: Path, board: mmap.mmap) -> None:
    """Open, feed and close runs in real time; never come back."""
    recorder = Recorder(folder, rules=WriterRules(space=NO_RESERVE))
    recorder.start()
    begun_s, t_s, sequence, run = time.monotonic(), 0.0, 0, 0
    while True:
        run += 1
        opened_s = t_s
        recorder.offer(opened(t_s, _name(run)))
        for number, item in enumerate(blocks(t_s, t_s + RUN_S)):
            time.sleep(max(0.0, begun_s + item.t_rig_s - time.monotonic()))
            recorder.offer(item)
            if number % 7 == 0:
                sequence += 1
                recorder.offer(event(sequence, run=_name(run)))
            recorded = recorder.status.recorded_event_sequence
            board[:] = _BOARD.pack(recorded, item.t_rig_s + 0.02, opened_s, run, max(0, run - 2))
        t_s = round(t_s + RUN_S, 3)
        recorder.offer(closed(t_s))


def kills(count: int, folder: Path) -> dict[int, list[str]]:
    """Give the broken promises of many kills, by seed, and print each as it is found: a campaign may not end."""
    broken = {}
    for seed in range(count):
        found = one_kill(seed, emptied(folder))
        if found:
            print(f"kill {seed}: {found}", flush=True)
            broken[seed] = found
    return broken
