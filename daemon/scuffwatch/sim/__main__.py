"""`python -m scuffwatch.sim`: the simulated rig as a process of its own; see `shell`."""

import argparse
import contextlib
import gc
import os
import signal
from pathlib import Path

from scuffwatch.sim.channels import demo_layouts, six_channel_layouts
from scuffwatch.sim.machine import IDENTITY, Machine, scenario_named
from scuffwatch.sim.scenario import SCENARIOS
from scuffwatch.sim.shell import Shell


def main(arguments: list[str] | None = None) -> int:
    """Run a simulated rig until SIGTERM or SIGINT."""
    parser = argparse.ArgumentParser(prog="python -m scuffwatch.sim", description="Run a simulated rig on a pty.")
    parser.add_argument("--link", type=Path, required=True, help="path of the link that names the pty")
    parser.add_argument("--panel", type=Path, required=True, help="Unix socket of the panel")
    parser.add_argument("--scenario", choices=sorted(SCENARIOS), default="healthy")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--speed", type=float, default=1.0, help="rig seconds in one real second")
    parser.add_argument("--rate-hz", type=float, default=200.0, help="sampling rate of the fast group")
    parser.add_argument("--layout", choices=("demo", "six"), default="demo", help="six: one group of six channels")
    parser.add_argument("--identity", default=IDENTITY)
    parser.add_argument("--witness", type=Path, help="datagram socket that is told of pulses and blocks")
    parser.add_argument("--ignore-permit", action="store_true", help="supply the motor whatever the rig box says")
    parser.add_argument("--excuse-pauses", action="store_true", help="time stands still while this process is paused")
    given = parser.parse_args(arguments)
    layouts = (demo_layouts if given.layout == "demo" else six_channel_layouts)(given.rate_hz)
    machine = Machine(scenario_named(given.scenario), given.seed, layouts, given.ignore_permit, given.identity)
    excuse = given.excuse_pauses
    shell = Shell(machine, given.link, given.panel, given.speed, given.witness, excuse_pauses=excuse)
    signal.signal(signal.SIGTERM, lambda *_: shell.stop())
    signal.signal(signal.SIGINT, lambda *_: shell.stop())
    gc.freeze()
    with contextlib.suppress(PermissionError):  # a real rig box shares its processor with nobody
        os.nice(-10)
    shell.run()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
