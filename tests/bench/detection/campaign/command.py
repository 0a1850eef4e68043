"""The campaign's command line, once it is settled which detectors run (`__main__`).

Reads options, prints one table a world; with `--out` the rows go to a file.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from world_b.values import Klass

from .run import DETECTORS, SEALED, TESTED, WORLDS, run, tasks_of
from .score import CAUGHT, Row
from .table import beside, by_class, counted, false_trips, figures, hours, rate, share, wrong
from .variants import ANY, AS_IS, Variant

VARIANTS: dict[str, tuple[Variant, float]] = {
    "as it is": (AS_IS, 1.0),
    "noise x2": (Variant(noise=2.0), 1.0),
    "noise x4": (Variant(noise=4.0), 1.0),
    "one channel removed": (Variant(without=ANY), 1.0),
    "20 % of rows dropped": (Variant(drop=0.2), 1.0),
    "10 Hz": (AS_IS, 0.1),
}


def main(words: Sequence[str] | None = None) -> int:
    """Run the campaign and give the exit code."""
    given = _parser().parse_args(words)
    worlds = list(WORLDS) if given.world == "all" else [given.world]
    klasses = [klass for klass in Klass if not given.only or _means(given.only, klass)]
    if not klasses:
        print(f"--only {given.only}: no such class. Known: {', '.join(k.name.lower() for k in Klass)}", file=sys.stderr)
        return 2
    seeds = range(given.first_seed, given.first_seed + given.per_class)
    if given.variants:
        return _variants(worlds, klasses, seeds, given)
    detectors = (TESTED,) if given.alone else tuple(DETECTORS)
    variant = Variant(given.noise, given.without, given.drop, given.all_fitted)
    rows = run(tasks_of(worlds, klasses, seeds, given.rate, detectors, variant), given.jobs)
    for world in worlds:
        _show(world, [row for row in rows if row.world == world], given.reveal)
    if given.out:
        given.out.write_text(json.dumps([asdict(row) for row in rows], indent=0) + "\n", encoding="utf-8")
    return 0


def _show(world: str, rows: list[Row], reveal: bool) -> None:
    tested = [row for row in rows if row.detector == TESTED]
    print(f"\n=== world {world}: {TESTED}, {len(tested)} recordings ===")
    print(*by_class(tested), "", *figures(tested), sep="\n")
    if len({row.detector for row in rows}) > 1:
        print("", *beside(rows), sep="\n")
    if world not in SEALED or reveal:
        print("", *wrong(tested), sep="\n")


def _variants(worlds: Sequence[str], klasses: Sequence[Klass], seeds: range, given: argparse.Namespace) -> int:
    """Print how the score falls under worse conditions; a variant is a line."""
    print(f"{'world':<7}{'variant':<24}{'events caught [95 %]':<38}false trips per 1,000 h")
    for name, (variant, slower) in VARIANTS.items():
        rows = run(tasks_of(worlds, klasses, seeds, given.rate * slower, (TESTED,), variant), given.jobs)
        for world in worlds:
            part = [row for row in rows if row.world == world]
            events = counted(part)
            caught = share(sum(row.status == CAUGHT for row in events), len(events))
            print(f"{world:<7}{name:<24}{caught:<38}{rate(false_trips(part), hours(part), 1000.0)}", flush=True)
    return 0


def _means(word: str, klass: Klass) -> bool:
    return any(part.strip().lower().replace("-", "_") == klass.name.lower() for part in word.split(","))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="campaign", description="Score the detectors over simulated rigs.")
    parser.add_argument(
        "--world", choices=[*WORLDS, "all"], default="a", help="a to g are for tuning, h is for reporting"
    )
    parser.add_argument("--per-class", type=int, default=10, metavar="N", help="recordings of each class")
    parser.add_argument("--first-seed", type=int, default=0, metavar="N")
    parser.add_argument("--rate", type=float, default=100.0, metavar="HZ")
    parser.add_argument("--jobs", type=int, default=2, metavar="N")
    parser.add_argument("--only", default="", metavar="CLASS[,CLASS]", help="for instance stick_slip,jam")
    parser.add_argument("--out", type=Path, metavar="FILE.json")
    parser.add_argument("--alone", action="store_true", help="without the simple rules")
    parser.add_argument("--reveal", action="store_true", help="show wrong results of a sealed world too")
    parser.add_argument("--noise", type=float, default=1.0, metavar="FACTOR")
    parser.add_argument("--without", default="", metavar="CHANNEL", help="take a channel away; any: one by the seed")
    parser.add_argument("--all-fitted", action="store_true", help="every rig has all channels, before --without")
    parser.add_argument("--drop", type=float, default=0.0, metavar="SHARE", help="share of rows lost")
    parser.add_argument("--compiled", action="store_true", help="with the compiled detectors, or not at all")
    parser.add_argument("--variants", action="store_true", help="one line for each worse condition")
    return parser
