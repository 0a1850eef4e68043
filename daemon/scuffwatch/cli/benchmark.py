"""`scuffwatch benchmark`: what the core costs on this machine, at 1 kHz and six channels of int16.

Runs a simulated rig and a core as processes at real time with a run open and reads the kernel's account of the core;
then times the parts of the chain in memory. Everything is measured in one run.
"""

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

RATE_HZ = 1000.0
CHANNELS = 6
WARM_UP_S = 3.0
LONGEST_S = 3600


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--seconds", type=float, default=15.0, help="how long the core is watched (default: 15)")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Measure and print."""
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.service.compiled import running

    if not 1 <= args.seconds <= LONGEST_S:
        raise ConfigError((f"--seconds {args.seconds:g}: limits 1 to {LONGEST_S} s. Nothing has been measured.",))
    found = {"detectors": running().kind, **_core(args.seconds), **_chain()}
    if args.json:
        print(json.dumps(found))
        return 0
    print(f"Detectors: {found['detectors']}.")
    print(f"Core at {RATE_HZ:.0f} Hz x {CHANNELS} channels, run open, over {found['watched_s']:.1f} s:")
    print(f"  {found['core_cpu_percent']:.2f} % of one core, {found['core_rss_mb']:.1f} MB resident")
    print(f"  loop lateness p99.9 {found['loop_late_ms_p999']} ms, {found['frames_lost']} frames lost")
    print("In memory, per block of 20 samples x 6 channels (two slices):")
    print(f"  decode {found['decode_us']:.1f} µs; decode, assemble, slice, detect {found['chain_us']:.1f} µs")
    print(f"  ratio of the chain to the time of a block: {found['chain_share_percent']:.2f} %")
    return 0


def _core(seconds: float) -> dict[str, Any]:
    from scuffwatch.cli.demo_session import Session
    from scuffwatch.cli.processes import Children

    with tempfile.TemporaryDirectory(prefix="scuffwatch-bench-") as made:
        folder = Path(made)
        with Children(folder) as children:
            session = Session(folder, children, "healthy", 1, 1.0, RATE_HZ, layout="six")
            session.start_rig()
            core = session.start_core()
            session.open_test_run()
            time.sleep(WARM_UP_S)
            begun_s, begun_cpu_s = time.monotonic(), _cpu_s(core.pid)
            time.sleep(seconds)
            watched_s, cpu_s = time.monotonic() - begun_s, _cpu_s(core.pid) - begun_cpu_s
            picture = session.snapshot()
            return {
                "watched_s": watched_s,
                "core_cpu_percent": 100 * cpu_s / watched_s,
                "core_rss_mb": _rss_mb(core.pid),
                "loop_late_ms_p999": picture["loop"]["late_ms_p999"],
                "frames_lost": picture["link"]["frames_lost"],
            }


def _chain() -> dict[str, Any]:
    from scuffwatch.cli.demo_rig import rig_values
    from scuffwatch.service.chain import Chain
    from scuffwatch.service.params import chain_rules
    from scuffwatch.service.settings import RigSettings
    from scuffwatch.sim.channels import six_channel_layouts
    from scuffwatch.sim.machine import IDENTITY, Machine, scenario_named
    from scuffwatch.wire.protocol import Decoder

    machine = Machine(scenario_named("healthy"), 1, six_channel_layouts(RATE_HZ))
    blocks, raw = 500, bytearray()
    for _ in range(blocks):
        machine.advance(20, 1.0)
        raw += b"".join(frame for frame, _ in machine.frames(1.0))
    values = rig_values("/dev/null", IDENTITY, channels=six_channel_layouts()[0].channels)
    rules = chain_rules(RigSettings.model_validate(values))
    wire = bytes(raw)
    decode_us = _best_us(lambda: Decoder().feed(wire), blocks)
    chain_us = _best_us(lambda: list(Chain(rules).feed(wire)), blocks)
    share = 100 * chain_us / (20 / RATE_HZ * 1e6)
    return {"decode_us": decode_us, "chain_us": chain_us, "chain_share_percent": share}


def _best_us(work: Callable[[], object], blocks: int) -> float:
    best_s = float("inf")
    for _ in range(5):
        begun_s = time.perf_counter()
        work()
        best_s = min(best_s, time.perf_counter() - begun_s)
    return 1e6 * best_s / blocks


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _rss_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    return float("nan")
