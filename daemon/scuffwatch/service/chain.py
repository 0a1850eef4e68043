"""The chain from bytes to what the detectors found: the one file that knows its order.

Reads bytes, gives steps in the order of the bytes. No clock: the same bytes at any split give the same steps, bit for
bit. The live core, replay and the tests all run this class.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from scuffwatch.detect.bank import Bank, BankParams, BankResult
from scuffwatch.model.block import Block, Slice
from scuffwatch.model.channel import GroupLayout
from scuffwatch.model.event import GapMark
from scuffwatch.signals.assemble import Assembler
from scuffwatch.signals.clock import NodeTime, TicksClock
from scuffwatch.signals.friction import FrictionRule, derive
from scuffwatch.signals.slices import ChannelRule, Slicer
from scuffwatch.wire.protocol import Data, Decoder, Frame, FrameError, Hello, Inputs, Status


@dataclass(frozen=True, slots=True)
class Greeted:
    """The rig box said who it is; `changed` where it samples something else than before."""

    hello: Hello
    time: NodeTime
    changed: bool


@dataclass(frozen=True, slots=True)
class Reported:
    """The rig box reported its inputs and latch."""

    status: Status
    time: NodeTime


@dataclass(frozen=True, slots=True)
class Received:
    """A block or a marked gap, for the record."""

    item: Block | GapMark


@dataclass(frozen=True, slots=True)
class Judged:
    """A slice that has passed every detector, with what they found."""

    slice: Slice
    result: BankResult


Step = Greeted | Reported | Received | Judged


@dataclass(frozen=True, slots=True)
class ChainRules:
    """What the chain needs to know of the rig.

    Attributes:
        rules: calibration and quality rule of each configured channel.
        other: the rule of a channel of the rig box that is not configured.
        friction: how the friction coefficient is derived.
        bank: parameters of all detectors.
    """

    rules: dict[str, ChannelRule]
    other: ChannelRule
    friction: FrictionRule
    bank: BankParams


class Chain:
    """Bytes in, steps out.

    What survives a call: an unfinished frame, unwrapped clocks and indices, an unfinished slice, detector state.
    """

    def __init__(self, rules: ChainRules) -> None:
        self._rules = rules
        self._decoder = Decoder()
        self._clock = TicksClock()
        self._assembler: Assembler | None = None
        self._slicer: Slicer | None = None
        self.contactor_closed: bool | None = None
        self.bank = Bank(rules.bank)
        self.layouts: tuple[GroupLayout, ...] = ()
        self.frames = 0
        self.frame_errors = 0
        self.frames_lost = 0
        self._last_sequence: int | None = None

    def feed(self, data: bytes) -> Iterator[Step]:
        """Take bytes as they come.

        Args:
            data: any bytes, any length.
        Yields:
            Steps in the order of the bytes. The next one is made when it is asked for, so what is told to the bank in
            answer to a step counts from exactly there. All must be taken.
        """
        for frame in self._decoder.feed(data):
            if isinstance(frame, FrameError):
                self.frame_errors += 1
            else:
                yield from self._accept(frame)

    def expect(self, layouts: tuple[GroupLayout, ...]) -> None:
        """Prepare for these groups; done by every hello, and by replay before its first block."""
        self.layouts = layouts
        self._assembler = Assembler(layouts, self._clock)
        self._slicer = self._new_slicer()

    def change_rules(self, rules: ChainRules) -> None:
        """Go on with other calibrations; what is in the unfinished slice is dropped. Only while tripped."""
        self._rules = rules
        if self.layouts:
            self._slicer = self._new_slicer()

    def take(self, block: Block) -> Iterator[Step]:
        """Take one block that is already assembled, as replay does; see `feed`."""
        yield from self._judge(block)

    def report_contactor(self, closed: bool) -> None:
        """Say how the contactor stands, as a status frame does; counts from the next slice on."""
        self.contactor_closed = closed

    def forget_partial(self) -> None:
        """Drop an unfinished frame: the port was opened again."""
        self._decoder = Decoder()
        self._last_sequence = None

    @property
    def blocks_refused(self) -> int:
        """Give how many repeated, older or misfit blocks were refused."""
        return 0 if self._assembler is None else self._assembler.refused_blocks + self._assembler.misfits

    def _new_slicer(self) -> Slicer:
        names = [name for layout in self.layouts for name in layout.channels]
        return Slicer(self.layouts, {name: self._rules.rules.get(name, self._rules.other) for name in names})

    def _accept(self, frame: Frame) -> Iterator[Step]:
        if not isinstance(frame, Hello | Data | Status):
            return
        self.frames += 1
        time = self._clock.accept(frame.boot, frame.ticks_us)
        self._count_lost(frame.sequence, time)
        if isinstance(frame, Hello):
            changed = frame.groups != self.layouts
            if changed:
                self.expect(frame.groups)
            yield Greeted(frame, time, changed)
        elif isinstance(frame, Status):
            self.report_contactor(bool(frame.inputs & Inputs.CONTACTOR_CLOSED))
            yield Reported(frame, time)
        elif self._assembler is not None:
            for item in self._assembler.accept(frame):
                yield Received(item)
                if isinstance(item, Block):
                    yield from self._judge(item)

    def _judge(self, block: Block) -> Iterator[Step]:
        assert self._slicer is not None
        for piece in self._slicer.accept(block):
            judged = derive(piece, self._rules.friction)
            yield Judged(judged, self.bank.update(judged, self.contactor_closed))

    def _count_lost(self, sequence: int, time: NodeTime) -> None:
        if self._last_sequence is not None and not time.restarted:
            missed = (sequence - self._last_sequence - 1) % 65536
            self.frames_lost += missed if missed < 32768 else 0
        self._last_sequence = sequence
