"""`scuffwatch alert --test`: one test message on every alert channel; the exit code is 0 only if all accepted it."""

import argparse
import json
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--test", action="store_true", required=True, help="send a test message on every channel")
    parser.add_argument("--settings", metavar="FILE", default="uplink.toml", help="settings (default: uplink.toml)")
    parser.add_argument("--json", action="store_true", help="print one JSON object a channel")


def run(args: argparse.Namespace) -> int:
    """Test the alert channels."""
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.uplink.app import prove_channels
    from scuffwatch.uplink.settings import load

    settings = load(Path(args.settings))
    if not args.data:
        raise ConfigError(("No data folder: say --data DIR or set SCUFFWATCH_DATA. Nothing has been sent.",))
    if not settings.channels:
        raise ConfigError((f"{args.settings} names no alert channel: add [channels.NAME]. Nothing has been sent.",))

    def told(name: str, why_not: str) -> None:
        if args.json:
            print(json.dumps({"channel": name, "accepted": not why_not, "says": why_not}, ensure_ascii=False))
        else:
            print(f"{name}: {'accepted; see that it has arrived' if not why_not else f'NOT accepted: {why_not}'}")

    return 0 if prove_channels(settings, Path(args.data), told) else 1
