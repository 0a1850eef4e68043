"""Faults of wire and sensors that can be switched on and off while the simulated rig runs.

Reads frames on their way out and counts on their way in, gives what really arrives. Deterministic by seed.
"""

import math
from collections import Counter, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from random import Random

from scuffwatch.model.channel import GroupLayout
from scuffwatch.wire import cobs
from scuffwatch.wire.protocol import DELIMITER

_HELD_FRAMES = 4096


class Fault(Enum):
    """Closed set of faults of the wire, and of one sensor."""

    SILENCE = "silence"
    HALF_FRAMES = "half_frames"
    NOISE = "noise"
    WRONG_CRC = "wrong_crc"
    BIT_ERRORS = "bit_errors"
    REPEAT = "repeat"
    REORDER = "reorder"
    DROP = "drop"
    SLOW_LINK = "slow_link"
    SATURATED = "saturated"
    STUCK = "stuck"
    OPEN_THERMOCOUPLE = "open_thermocouple"


USUAL_AMOUNT: dict[Fault, float] = {
    Fault.SILENCE: 1.0,
    Fault.HALF_FRAMES: 0.1,
    Fault.NOISE: 0.1,
    Fault.WRONG_CRC: 0.1,
    Fault.BIT_ERRORS: 1e-3,
    Fault.REPEAT: 0.1,
    Fault.REORDER: 0.1,
    Fault.DROP: 0.1,
    Fault.SLOW_LINK: 0.1,
}
"""Share of frames hit; for BIT_ERRORS share of bits, for SLOW_LINK s of delay (real time). SILENCE always hits all."""
MOST_AMOUNT: dict[Fault, float] = {Fault.BIT_ERRORS: 0.5, Fault.SLOW_LINK: 60.0}
"""Beyond half of the bits a line is an inverted one; all others: 1, every frame."""
ON_A_SENSOR = frozenset((Fault.SATURATED, Fault.STUCK, Fault.OPEN_THERMOCOUPLE))
Sent = tuple[bytes, int]


class WireFaults:
    """What happens to frames between the node and the host.

    Args:
        seed: of every draw.

    What survives a call: which faults are on, a frame held back, frames in a slow link (it holds 4096 and drops the
    oldest), how often each fault hit.
    """

    def __init__(self, seed: int) -> None:
        self._random = Random(f"wire/{seed}")
        self._held: Sent | None = None
        self._late: deque[tuple[float, Sent]] = deque(maxlen=_HELD_FRAMES)
        self.on: dict[Fault, float] = {}
        self.hits: Counter[Fault] = Counter()

    def switch(self, fault: Fault, on: bool, amount: float | None = None) -> None:
        """Switch a fault on, with the amount of `USUAL_AMOUNT` unless another is given, or off.

        Raises:
            ValueError: an amount below 0, above `MOST_AMOUNT` or not a number, or a fault that is none of the wire.
        """
        if fault in ON_A_SENSOR:
            raise ValueError(f"{fault.value} is a fault of a channel")
        if on:
            wanted = USUAL_AMOUNT[fault] if amount is None else float(amount)
            most = MOST_AMOUNT.get(fault, 1.0)
            if not 0.0 <= wanted <= most:
                raise ValueError(f"amount {amount} of {fault.value}, it must be 0 to {most:g}")
            self.on[fault] = wanted
        else:
            self.on.pop(fault, None)

    def pass_on(self, frames: list[Sent], now_mono_s: float) -> list[Sent]:
        """Give what leaves the cable now; a frame that is not what it was carries the block number -1."""
        if not self.on and self._held is None and not self._late:
            return frames
        if Fault.SILENCE in self.on:
            self.hits[Fault.SILENCE] += len(frames)
            return []
        out: list[Sent] = []
        for frame in frames:
            out.extend(self._spoil(frame))
        if Fault.REORDER not in self.on and self._held is not None:
            out.append(self._held)
            self._held = None
        return self._delay(out, now_mono_s)

    def take_in(self, data: bytes) -> bytes:
        """Give what the node gets of the host's bytes: bit errors do not look at the direction."""
        return self._flip(data, -1)[0] if Fault.BIT_ERRORS in self.on else data

    def _hit(self, fault: Fault) -> bool:
        amount = self.on.get(fault)
        if amount is None or self._random.random() >= amount:
            return False
        self.hits[fault] += 1
        return True

    def _spoil(self, frame: Sent) -> list[Sent]:
        raw, block = frame
        if self._hit(Fault.DROP):
            return []
        out = [frame]
        if self._hit(Fault.HALF_FRAMES):
            out = [(raw[: self._random.randrange(1, len(raw))], -1)]
        elif self._hit(Fault.WRONG_CRC):
            out = [(_wrong_crc(raw, self._random), -1)]
        elif Fault.BIT_ERRORS in self.on:
            out = [self._flip(raw, block)]
        if self._hit(Fault.REPEAT):
            out = [*out, (raw, -1)]
        if self._hit(Fault.NOISE):
            out = [(self._random.randbytes(self._random.randrange(1, 200)), -1), *out]
        return self._swap(out)

    def _swap(self, frames: list[Sent]) -> list[Sent]:
        """Let one frame fall behind the next."""
        held = self._held
        if held is not None:
            self._held = None
            return [*frames, held]
        if frames and self._hit(Fault.REORDER):
            self._held = frames[-1]
            return frames[:-1]
        return frames

    def _flip(self, raw: bytes, block: int) -> Sent:
        """Flip each bit with the given chance."""
        chance = self.on[Fault.BIT_ERRORS]
        if not chance:
            return raw, block
        rate = -math.log1p(
            -chance
        )  # whole parts of an exponential of this rate are the sound bits before the next error
        bits, place = bytearray(raw), int(self._random.expovariate(rate))
        if place >= 8 * len(raw):
            return raw, block
        while place < 8 * len(bits):
            bits[place // 8] ^= 1 << (place % 8)
            self.hits[Fault.BIT_ERRORS] += 1
            place += 1 + int(self._random.expovariate(rate))
        return bytes(bits), -1

    def _delay(self, frames: list[Sent], now_mono_s: float) -> list[Sent]:
        delay_s = self.on.get(Fault.SLOW_LINK, 0.0)
        if not delay_s and not self._late:
            return frames
        if (lost := len(self._late) + len(frames) - _HELD_FRAMES) > 0:
            self.hits[Fault.DROP] += lost
        self._late.extend((now_mono_s + delay_s, frame) for frame in frames)
        self.hits[Fault.SLOW_LINK] += len(frames)
        out = []
        while self._late and self._late[0][0] <= now_mono_s:
            out.append(self._late.popleft()[1])
        return out


def _wrong_crc(raw: bytes, random: Random) -> bytes:
    """Give the same frame with one bit of its CRC wrong, as proper COBS."""
    body = bytearray(cobs.decode(raw[:-1]))
    bit = random.randrange(32)
    body[-1 - bit // 8] ^= 1 << (bit % 8)
    return bytes(cobs.encode(bytes(body))) + DELIMITER


@dataclass(slots=True)
class _Bad:
    """One channel that does not show what it measures."""

    fault: Fault
    last: int | None = None


class SensorFaults:
    """Channels that are saturated, stuck, or an open thermocouple (which burns out upscale, to the rail).

    Args:
        layouts: groups in order.

    What survives a call: which channels are bad, and where a stuck one stuck.
    """

    def __init__(self, layouts: Iterable[GroupLayout]) -> None:
        self._places = {
            name: (layout.group, place, layout.integer_type.high_counts)
            for layout in layouts
            for place, name in enumerate(layout.channels)
        }
        self._bad: dict[str, _Bad] = {}

    @property
    def on(self) -> dict[str, str]:
        """Give the fault of each bad channel."""
        return {name: bad.fault.value for name, bad in self._bad.items()}

    def switch(self, fault: Fault, channel: str, on: bool) -> None:
        """Switch a fault of one channel on or off.

        Raises:
            ValueError: no such channel, a thermocouple fault on something that is none, or a fault of the wire.
        """
        if fault not in ON_A_SENSOR:
            raise ValueError(f"{fault.value} is a fault of the wire")
        if channel not in self._places:
            raise ValueError(f"no channel {channel}; there are {', '.join(self._places)}")
        if fault is Fault.OPEN_THERMOCOUPLE and not channel.endswith("_degc"):
            raise ValueError(f"{channel} is no thermocouple")
        has_it = channel in self._bad and self._bad[channel].fault is fault
        if on and not has_it:  # one that is stuck stays where it stuck
            self._bad[channel] = _Bad(fault)
        elif not on and has_it:
            del self._bad[channel]

    def apply(self, rows: Sequence[tuple[int, list[int]]]) -> None:
        """Change the counts of bad channels in place."""
        for name, bad in self._bad.items():
            group, place, rail = self._places[name]
            for number, row in rows:
                if number == group:
                    if bad.fault is Fault.STUCK:
                        bad.last = row[place] if bad.last is None else bad.last
                        row[place] = bad.last
                    else:
                        row[place] = rail
