"""The same bytes at any split give the same steps, bit for bit, trip slice included."""

import random
from collections.abc import Iterable
from functools import cache

import pytest
from co_rig import CoRig

from scuffwatch.cli.demo_rig import rig_values
from scuffwatch.model.finding import Level
from scuffwatch.service.chain import Chain, Judged, Received, Step
from scuffwatch.service.params import chain_rules
from scuffwatch.service.settings import RigSettings

pytestmark = pytest.mark.slow


@cache
def recorded() -> bytes:
    """A sudden scuffing as it went over the wire, from 20 s before the trip on, hello first."""
    rig = CoRig("scuffing-sudden", 2)
    rig.connect()
    hello = bytes(rig.wire)
    rig.run_motor()
    assert rig.until(lambda: not rig.permitted, 700.0)
    rig.wait(1.0)
    return hello + bytes(rig.wire[-200_000:])


def steps_of(pieces: Iterable[bytes]) -> tuple[list[str], Chain]:
    chain = Chain(chain_rules(RigSettings.model_validate(rig_values("/dev/null", "sim-rig"))))
    return [told(step) for piece in pieces for step in chain.feed(piece)], chain


def told(step: Step) -> str:
    if isinstance(step, Received) and hasattr(step.item, "counts"):
        return f"{step.item.first_index} {step.item.counts.tobytes().hex()}"
    return repr(step)


def split(raw: bytes, sizes: Iterable[int]) -> Iterable[bytes]:
    at = 0
    for size in sizes:
        if at >= len(raw):
            return
        yield raw[at : at + size]
        at += size


def test_the_recording_holds_a_trip() -> None:
    chain = Chain(chain_rules(RigSettings.model_validate(rig_values("/dev/null", "sim-rig"))))
    trips = [
        finding
        for step in chain.feed(recorded())
        if isinstance(step, Judged)
        for finding in step.result.new
        if finding.level is Level.TRIP
    ]
    assert trips


@pytest.mark.parametrize("size", [1, 7, 262, 4096])
def test_pieces_of_one_size(size: int) -> None:
    whole, _ = steps_of([recorded()])
    pieces, chain = steps_of(split(recorded(), iter(lambda: size, 0)))
    assert pieces == whole
    assert chain.frame_errors == steps_of([recorded()])[1].frame_errors


def test_pieces_of_any_size() -> None:
    whole, _ = steps_of([recorded()])
    for seed in range(5):
        source = random.Random(seed)
        sizes = (source.choice((1, 2, 3, 50, 500, 5000)) for _ in range(1_000_000))
        assert steps_of(split(recorded(), sizes))[0] == whole


def test_damage_is_counted_and_told_the_same_at_any_split() -> None:
    source = random.Random(7)
    raw = bytearray(recorded())
    for _ in range(200):
        raw[source.randrange(len(raw))] ^= 1 << source.randrange(8)
    whole, one = steps_of([bytes(raw)])
    pieces, other = steps_of(split(bytes(raw), iter(lambda: 11, 0)))
    assert pieces == whole
    assert one.frame_errors == other.frame_errors > 50
    assert one.frames_lost == other.frames_lost > 0
