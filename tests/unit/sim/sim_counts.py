"""What a simulated rig has put on the wire, and what a host sees of it: for the tests of faults and of the twin."""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from scuffwatch.sim.faults import Sent
from scuffwatch.sim.machine import Machine
from scuffwatch.wire.protocol import Data, Decoder, Frame, FrameError, encode

Counts = dict[int, npt.NDArray[np.int64]]
"""By group, (samples, channels)."""


def frames(number: int, first: int = 0) -> list[Sent]:
    """Give data frames as a rig box sends them, each with its running number."""
    return [(encode(_block(n)), n) for n in range(first, first + number)]


def _block(n: int) -> Data:
    counts = np.array([[n % 997 + 4 * channel + sample for sample in range(4)] for channel in range(5)], "<i2")
    return Data(0, 4 * n, counts, 1, n, 20_000 * n)


def seen(sent: Iterable[Sent]) -> list[Frame | FrameError]:
    """Give what a host's decoder finds in it, in order."""
    return Decoder().feed(b"".join(raw for raw, _ in sent))


def numbers(sent: Iterable[Sent]) -> list[int]:
    """Give the running numbers of the frames a host can read."""
    return [frame.sequence for frame in seen(sent) if isinstance(frame, Data)]


def advanced(machine: Machine, steps: int, now_mono_s: float = 0.0) -> list[Sent]:
    """Let steps pass and give what left the cable."""
    machine.advance(steps, now_mono_s)
    return machine.frames(now_mono_s)


def counts_in(sent: Iterable[Sent]) -> Counts:
    """Give the samples of all data frames, one after the other."""
    blocks: dict[int, list[npt.NDArray[np.int64]]] = {}
    for frame in seen(sent):
        if isinstance(frame, Data):
            blocks.setdefault(frame.group, []).append(frame.counts.T.astype(np.int64))
    return {group: np.concatenate(found) for group, found in blocks.items()}
