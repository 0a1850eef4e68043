"""The campaign from the command line: `python -m campaign --world a` in this folder's parent.

Settles which detectors run before anything imports one; the rest is `command`.
"""

import importlib
import sys

from scuffwatch.service.compiled import use_compiled

COMPILED = "--compiled"


def main() -> int:
    """Run the campaign and give the exit code."""
    if COMPILED in sys.argv[1:]:
        found = use_compiled()
        if not found.is_compiled:
            why = found.why or "nobody has built any: run deploy/setup --compiled"
            print(f"{COMPILED}: no compiled detectors: {why}. Nothing has been judged.", file=sys.stderr)
            return 2
    code: int = importlib.import_module("campaign.command").main()
    return code


if __name__ == "__main__":
    raise SystemExit(main())
