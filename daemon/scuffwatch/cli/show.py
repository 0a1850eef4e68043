"""`scuffwatch show RUN`: one run as the record has it: header, stages, outcome, ledger, events."""

import argparse
import json
import math
import time

from scuffwatch.cli.records import archive_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("run", help="name of the run")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def run(args: argparse.Namespace) -> int:
    """Show the run."""
    from scuffwatch.service.jsons import header_json, result_json, stage_json

    with archive_of(args).open_run(args.run) as reader:
        result, stages, ledger, events = reader.result, reader.stages(), reader.ledger(), reader.events()
        told = {
            "header": header_json(reader.header),
            "result": result_json(result) if result else None,
            "stages": [stage_json(stage) for stage in stages],
            "ledger": [
                {"group": a.group, "epoch": a.epoch, "produced": a.produced, "stored": a.stored, "marked": a.marked}
                for a in ledger
            ],
            "events": [{"t_rig_s": e.t_rig_s, "kind": e.kind.value, "actor": e.actor, "says": e.says} for e in events],
        }
    if args.json:
        print(json.dumps(told, ensure_ascii=False, indent=2))
        return 0
    header = reader.header
    print(f"Run {header.name}, {header.kind.value}{', simulated' if header.simulated else ''}: {header.lubricant}")
    print(f"Outcome: {result.outcome.value if result else 'live'}")
    if result and result.first_out:
        print(f"First-out: {result.first_out}")
    for stage in stages:
        held = "held" if stage.held else "not held"
        load, friction = _shown(stage.normal_load_n, 1), _shown(stage.friction_coefficient, 3)
        print(f"  stage {stage.number:2}  {load:>7} N  µ {friction}  {held}")
    for account in ledger:
        balance = "balances" if account.balances else "DOES NOT BALANCE"
        print(f"Ledger group {account.group}: produced {account.produced} = stored {account.stored} ", end="")
        print(f"+ marked {account.marked}: {balance}")
    for event in events:
        label = time.strftime("%H:%M:%S", time.localtime(event.t_wall_utc_s))
        print(f"{label}  {_shown(event.t_rig_s, 2):>10} s  {event.kind.value:14}  {event.says}  {event.actor}".rstrip())
    return 0


def _shown(value: float, decimals: int) -> str:
    """Give a number, or a dash where none is known: an event while the rig box is away has no node time."""
    return "–" if math.isnan(value) else f"{value:.{decimals}f}"
