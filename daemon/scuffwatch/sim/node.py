"""The simulated rig box: samples in, frames out, host frames in, pulses out. A pure state machine.

Reads counts, inputs and bytes from the host, gives frames as bytes. Time enters as an argument: rig time with the
samples, real monotonic time for the lease. It trusts nothing: what it cannot read is counted.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from scuffwatch.model.channel import GroupLayout
from scuffwatch.sim.groups import Group, Guarded
from scuffwatch.sim.latch import Latch
from scuffwatch.wire.protocol import (
    Annunciator,
    CountLimit,
    Data,
    Decoder,
    FrameError,
    Hello,
    HelloRequest,
    Inputs,
    Lease,
    Limits,
    NodePermit,
    Pattern,
    ResetCause,
    Status,
    encode,
    limits_id_of,
)

STATUS_EVERY_S = 0.020
LIMIT_LONGEST_S = 1.0
"""No host may ask for more consecutive samples than this before one of the node's limits trips."""
FIRMWARE = "sim-1"
_MARK, _SOUNDER = int(Inputs.MARK_PRESSED), int(Inputs.SOUNDER_ON)


@dataclass(frozen=True, slots=True)
class NodeSettings:
    """What is compiled into the node.

    Attributes:
        identity: name in its hello.
        layouts: groups in order; the first one sets the sampling period.
        ceilings: own limits that no host can widen, always in force.
        extraction_needed: whether extraction off is a cause.
    """

    identity: str
    layouts: tuple[GroupLayout, ...]
    ceilings: tuple[CountLimit, ...] = ()
    extraction_needed: bool = True


class NodeCore:
    """The rig box.

    Args:
        settings: what is compiled in.
        start_number: how often it has started; its low byte marks every frame.
        reset_cause: why it started.

    What survives a call: the latch, the host's limits, unfinished blocks, counters, frames not yet taken.
    """

    def __init__(
        self, settings: NodeSettings, start_number: int = 1, reset_cause: ResetCause = ResetCause.POWER_ON
    ) -> None:
        self.settings = settings
        self.latch = Latch(settings.extraction_needed)
        self.inputs = 0
        self.limits_id = 0
        self.limits_refused = 0
        self.rx_errors = 0
        self.frames_dropped = 0
        self.mark_presses = 0
        self.pattern = Pattern.OFF
        self.sounder = False
        self.start_number, self.reset_cause = start_number, reset_cause
        self._decoder = Decoder()
        self._groups = {layout.group: Group(layout) for layout in settings.layouts}
        self._rate_hz = settings.layouts[0].rate_hz
        self._status_every = max(1, round(self._rate_hz * STATUS_EVERY_S))
        self._index = 0
        self._t_us = 0
        self._sequence = 0
        self._told: tuple[int, NodePermit, int] | None = None
        self._out: list[tuple[bytes, int]] = []
        self._limit({})
        self._hello()

    @property
    def t_rig_s(self) -> float:
        """Give the node's own time, s since it started."""
        return self._t_us / 1e6

    @property
    def over_limit(self) -> bool:
        """Say whether one of its own limits is passed now."""
        return any(group.over for group in self._groups.values())

    def take(self) -> list[tuple[bytes, int]]:
        """Give the frames that wait to be sent: bytes, and the running number of a group 0 block, else -1."""
        out, self._out = self._out, []
        return out

    def sample(self, rows: Sequence[tuple[int, Sequence[int]]], inputs: int, at_rest: bool, now_mono_s: float) -> None:
        """Take one sampling period: counts of every group that is due, and the inputs.

        Args:
            rows: group number and one count a channel, within the group's integer type.
            inputs: bits of `Inputs`, all but SOUNDER_ON, which the node knows itself.
            at_rest: whether the tachometer is silent.
            now_mono_s: real monotonic time.
        """
        self._t_us = round(self._index * 1e6 / self._rate_hz)
        for number, row in rows:
            group = self._groups[number]
            group.add(row, self._t_us)
        if inputs & _MARK and not self.inputs & _MARK:
            self.mark_presses += 1
        self.inputs = inputs | _SOUNDER if self.sounder else inputs
        self.latch.look(inputs, self.over_limit, at_rest, self.t_rig_s, now_mono_s)
        for number, _ in rows:
            if self._groups[number].full:
                self._send_block(self._groups[number], now_mono_s)
        self._index += 1
        self._report(self._index % self._status_every == 0, now_mono_s)

    def receive(self, data: bytes, now_mono_s: float) -> None:
        """Take bytes from the host: any bytes, at any split."""
        self.latch.pass_time(now_mono_s)
        for frame in self._decoder.feed(data):
            if isinstance(frame, Lease):
                self.latch.lease(frame, self.limits_id != 0, now_mono_s)
            elif isinstance(frame, Limits):
                self._take_limits(frame)
            elif isinstance(frame, HelloRequest):
                self._hello()
            elif isinstance(frame, Annunciator):
                self.pattern, self.sounder = frame.pattern, frame.sounder
            else:
                assert isinstance(frame, FrameError | Hello | Data | Status)
                self.rx_errors += 1
        self._report(False, now_mono_s)

    def pulse(self, now_mono_s: float) -> bool:
        """Say whether a pulse edge goes out now."""
        edge = self.latch.pulse(now_mono_s)
        self._report(False, now_mono_s)
        return edge

    def status(self, now_mono_s: float) -> Status:
        """Give its state as it would report it now."""
        latch = self.latch
        return Status(
            Inputs(self.inputs),
            latch.permit,
            latch.cause,
            latch.lease_left_ms(now_mono_s),
            self.limits_id,
            latch.lease_counter,
            latch.reset_presses,
            self.mark_presses,
            self.rx_errors,
            latch.leases_refused,
            self.frames_dropped,
            self.start_number,
            self._sequence,
            self._t_us,
        )

    def _report(self, due: bool, now_mono_s: float) -> None:
        """Send a status where one is due, and at once where an input, the permit or the limits have changed."""
        now = (self.inputs, self.latch.permit, self.limits_id)
        if due or now != self._told:
            self._told = now
            self._send(encode(self.status(now_mono_s)))

    def _send_block(self, group: Group, now_mono_s: float) -> None:
        number, sequence = group.layout.group, self._sequence
        counts, t_us = group.take()
        data = Data(number, group.first_index - counts.shape[1], counts, self.start_number, sequence, t_us)
        self._send(encode(data), sequence if number == 0 else -1)
        self.latch.block_sent(number, sequence, now_mono_s)

    def _hello(self) -> None:
        identity, layouts = self.settings.identity, self.settings.layouts
        start, place = (self.start_number, self.reset_cause), (self.start_number, self._sequence, self._t_us)
        self._send(encode(Hello(identity, FIRMWARE, *start, layouts, *place)))

    def _send(self, raw: bytes, block: int = -1) -> None:
        self._out.append((raw, block))
        self._sequence += 1

    def _take_limits(self, limits: Limits) -> None:
        """Hold the host's limits; under a living permit, or where one does not fit, the old ones stay."""
        if limits.limits_id == self.limits_id:
            return
        named = {(entry.group, entry.channel): entry for entry in limits.entries}
        fits = limits.limits_id == limits_id_of(limits.entries) and all(map(self._exists, limits.entries))
        if self.latch.permit is not NodePermit.LATCHED or not fits or len(named) != len(limits.entries):
            self.limits_refused += 1
            return
        self.limits_id = limits.limits_id
        self._limit(named)

    def _exists(self, entry: CountLimit) -> bool:
        group = self._groups.get(entry.group)
        return group is not None and entry.channel < len(group.layout.channels)

    def _limit(self, named: dict[tuple[int, int], CountLimit]) -> None:
        for group in self._groups.values():
            group.limits, group.over = [], False
        for entry in named.values():
            group = self._groups[entry.group]
            samples = min(entry.samples, max(1, round(group.layout.rate_hz * LIMIT_LONGEST_S)))
            group.limits.append(Guarded(entry.channel, entry.low_counts, entry.high_counts, samples))
        for ceiling in self.settings.ceilings:
            limits = self._groups[ceiling.group].limits
            limits.append(Guarded(ceiling.channel, ceiling.low_counts, ceiling.high_counts, ceiling.samples))
