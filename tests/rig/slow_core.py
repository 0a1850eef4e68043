"""A core on a disk whose commits take five seconds from SIGUSR1 on and no time from SIGUSR2 on."""

import signal
import sys
from pathlib import Path

from slow_disk import SlowDisk

from scuffwatch.service.app import Paths, serve

STALL_S = 5.0

if __name__ == "__main__":
    disk = SlowDisk()
    signal.signal(signal.SIGUSR1, lambda *_: setattr(disk, "stall_s", STALL_S))
    signal.signal(signal.SIGUSR2, lambda *_: setattr(disk, "stall_s", 0.0))
    sys.exit(serve(Paths(Path(sys.argv[1]), Path(sys.argv[2])), print, disk))
