"""Mutated valid frames by the million bytes: no crash, no hang, no frame that was never sent."""

import time
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pytest
from wire_frames import sample_stream

from scuffwatch.wire.protocol import MAX_FRAME_BYTES, Decoder, FrameError, FrameErrorKind, encode

Bytes = npt.NDArray[np.uint8]
ROUND_BYTES = 200_000
LONGEST_FEED_S = 0.05
"""Processor time one `feed` may take; this project's fault matrix calls 50 ms a hang."""
POISSON_99_9 = 1e-3


def _rate(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def bit_flips(rng: np.random.Generator, stream: Bytes) -> Bytes:
    """Turn bits over at a rate of 1e-5 to 1e-1 a bit, as the fault matrix asks, and below where frames survive."""
    hits = rng.integers(0, 8 * len(stream), rng.poisson(_rate(rng, 1e-5, 1e-1) * 8 * len(stream)))
    out = stream.copy()
    np.bitwise_xor.at(out, hits // 8, (1 << hits % 8).astype(np.uint8))
    return out


def deletions(rng: np.random.Generator, stream: Bytes) -> Bytes:
    """Take out single bytes and runs of up to 40."""
    starts = rng.integers(0, len(stream), rng.poisson(_rate(rng, 1e-4, 1e-2) * len(stream)))
    doomed = np.concatenate([starts + k for k in range(int(rng.choice([1, 1, 2, 40])))])
    return np.delete(stream, doomed[doomed < len(stream)])


def insertions(rng: np.random.Generator, stream: Bytes) -> Bytes:
    """Put in bytes, every fourth of them a delimiter."""
    places = rng.integers(0, len(stream), rng.poisson(_rate(rng, 1e-4, 1e-2) * len(stream)))
    new = rng.integers(0, 256, len(places)).astype(np.uint8)
    new[::4] = 0
    return np.insert(stream, places, new)


def splices(rng: np.random.Generator, stream: Bytes) -> Bytes:
    """Cut at random places and join the pieces in another order, some of them twice, some never."""
    cuts = np.sort(rng.integers(0, len(stream), rng.poisson(_rate(rng, 1e-4, 1e-2) * len(stream)) + 1))
    parts = np.split(stream, cuts)
    return np.concatenate([parts[k] for k in rng.integers(0, len(parts), len(parts))])


def noise(rng: np.random.Generator, stream: Bytes) -> Bytes:
    """Give bytes that were never a frame."""
    return rng.integers(0, 256, len(stream)).astype(np.uint8)


MUTATIONS = (bit_flips, deletions, insertions, splices, noise)


@dataclass
class Campaign:
    """What was fed and what came of it."""

    fed_bytes: int = 0
    frames: int = 0
    false_frames: int = 0
    longest_feed_s: float = 0.0
    errors: dict[FrameErrorKind, int] = field(default_factory=dict)

    @property
    def expected_false_frames(self) -> float:
        """Give how many wrong runs CRC-32 lets through by chance: the fault matrix, candidates times 2**-32."""
        return (self.false_frames + self.errors[FrameErrorKind.CRC]) * 2.0**-32


def mutated(rng: np.random.Generator, stream: bytes, total_bytes: int) -> Iterator[bytes]:
    plain = np.frombuffer(stream, np.uint8)
    made_bytes = k = 0
    while made_bytes < total_bytes:
        damaged = MUTATIONS[k % len(MUTATIONS)](rng, np.roll(plain, -int(rng.integers(len(plain)))))
        made_bytes, k = made_bytes + len(damaged), k + 1
        yield damaged.tobytes()


def run(total_bytes: int, seed: int) -> Campaign:
    """Feed mutated frames in pieces of 1 to 8192 bytes and compare every decoded frame with those that were sent."""
    rng = np.random.default_rng(seed)
    sent_frames, stream = sample_stream(seed, rounds=ROUND_BYTES // 700)
    sent = {encode(frame) for frame in sent_frames}
    decoder, campaign = Decoder(), Campaign()
    for damaged in mutated(rng, stream, total_bytes):
        campaign.fed_bytes += len(damaged)
        at = 0
        for size in rng.integers(1, 8193, len(damaged)):
            begun_s = time.thread_time()
            found = decoder.feed(damaged[at : at + int(size)])
            campaign.longest_feed_s = max(campaign.longest_feed_s, time.thread_time() - begun_s)
            assert decoder.pending_bytes <= MAX_FRAME_BYTES + 5
            for item in found:
                if not isinstance(item, FrameError):
                    campaign.frames += 1
                    campaign.false_frames += encode(item) not in sent
            at += int(size)
            if at >= len(damaged):
                break
    campaign.errors = decoder.error_counts
    return campaign


def check(campaign: Campaign) -> None:
    # 1e8 bytes give about 9e4 runs that only the CRC can tell to be wrong: 2e-5 expected to pass by chance
    # (candidates times 2**-32), 2e-4 in 1e9 bytes, so a single one is beyond the Poisson bound of 99.9 %
    assert campaign.expected_false_frames < POISSON_99_9
    assert campaign.false_frames == 0
    # a wrong version, type or payload behind a right CRC would be such a chance too
    beyond_crc = (FrameErrorKind.VERSION, FrameErrorKind.TYPE, FrameErrorKind.PAYLOAD)
    assert [campaign.errors[kind] for kind in beyond_crc] == [0, 0, 0]
    # the campaign did bite: frames survived between the injuries, and each kind of damage was met
    assert campaign.frames > campaign.fed_bytes / 1000
    for kind in (FrameErrorKind.COBS, FrameErrorKind.SHORT, FrameErrorKind.LONG, FrameErrorKind.CRC):
        assert campaign.errors[kind] > 0, kind
    assert campaign.longest_feed_s < LONGEST_FEED_S


@pytest.mark.slow
def test_a_million_mutated_bytes() -> None:
    check(run(1_000_000, seed=6))


@pytest.mark.slow
@pytest.mark.no_cover  # every line it runs is reached by the other tests; tracing makes it four times slower
def test_a_hundred_million_mutated_bytes() -> None:
    check(run(100_000_000, seed=7))


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_a_thousand_million_mutated_bytes() -> None:
    check(run(1_000_000_000, seed=8))
