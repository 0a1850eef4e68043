"""A core whose loop freezes for ever on SIGUSR1: the handler runs in the loop's own thread and does not come back."""

import signal
import sys
import time
from pathlib import Path
from types import FrameType

from scuffwatch.service.app import Paths, serve


def freeze(_signal: int, _frame: FrameType | None) -> None:
    while True:
        time.sleep(60.0)


if __name__ == "__main__":
    signal.signal(signal.SIGUSR1, freeze)
    sys.exit(serve(Paths(Path(sys.argv[1]), Path(sys.argv[2])), print))
