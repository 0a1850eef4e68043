"""Node time: 32-bit microseconds unwrapped, epochs counted, samples spaced by their index.

Reads the boot byte and ticks of frame headers, gives `t_rig_s`. A pure function of the bytes; no clock of the host.
First link after the wire.
"""

from dataclasses import dataclass

from scuffwatch.wire.protocol import TICKS_MODULUS

_HALF_TICKS = TICKS_MODULUS // 2
_BOOT_MODULUS = 256
TIMES_TOLERANCE_US = 5_000
"""How far ticks may stray from the evenly spaced samples before the spacing is laid anew: half a slice."""


@dataclass(frozen=True, slots=True)
class NodeTime:
    """When a frame was made, in node time.

    Attributes:
        epoch: number of node starts seen since the first frame, from 0.
        t_rig_s: node time, s; in a later epoch it goes on from where the last one ended, and the true
            difference is unknown.
        restarted: whether this frame is the first of a new epoch.
    """

    epoch: int
    t_rig_s: float
    restarted: bool


class TicksClock:
    """Unwrap the ticks of all frames of one node.

    What survives a call: boot byte, epoch, the last ticks, the latest time so far; all whole numbers, so the same
    frames always give the same bits.
    """

    def __init__(self) -> None:
        self._boot: int | None = None
        self._epoch = 0
        self._last_us = 0
        self._offset_us = 0
        self._latest_us = 0

    def accept(self, boot: int, ticks_us: int) -> NodeTime:
        """Take the header of one frame.

        Args:
            boot: boot byte; another one than last time opens a new epoch.
            ticks_us: node microseconds modulo 2**32; may lie a little before the last ones, never half a wrap away.
        Returns:
            Node time of the frame. Taking the same header twice gives the same time.
        """
        boot %= _BOOT_MODULUS
        ticks_us %= TICKS_MODULUS
        restarted = self._boot is not None and boot != self._boot
        if self._boot is None or restarted:
            self._epoch += restarted
            self._offset_us = self._latest_us - ticks_us if restarted else 0
            self._last_us = ticks_us
        else:
            self._last_us += (ticks_us - self._last_us + _HALF_TICKS) % TICKS_MODULUS - _HALF_TICKS
        self._boot = boot
        now_us = self._last_us + self._offset_us
        self._latest_us = max(self._latest_us, now_us)
        return NodeTime(self._epoch, now_us / 1e6, restarted)

    def reach(self, us: int) -> None:
        """Take the time up to which samples have been received, µs: the next epoch does not begin before it."""
        self._latest_us = max(self._latest_us, us)


class SampleTimes:
    """Lay evenly spaced times over the samples of one group.

    The first time given anchors the spacing; later ones only move it where they stray by more than
    `TIMES_TOLERANCE_US`. So rounding and jitter of the ticks never reach a slice, and the time of a sample does not
    depend on how the samples were split into blocks.

    Args:
        rate_hz: samples a second, > 0.

    What survives a call: the anchor, an index and its time in whole microseconds.
    """

    def __init__(self, rate_hz: float) -> None:
        self._rate_mhz = round(rate_hz * 1000)
        self._index: int | None = None
        self._us = 0

    def anchor(self, index: int, t_rig_s: float) -> None:
        """Take the node time of one sample, s."""
        us = round(t_rig_s * 1e6)
        if self._index is None or abs(self.us_of(index) - us) > TIMES_TOLERANCE_US:
            self._index, self._us = index, us

    def us_of(self, index: int) -> int:
        """Give the node time of a sample, µs; of any sample, past or to come."""
        return self._us + (index - (self._index or 0)) * 1_000_000_000 // self._rate_mhz
