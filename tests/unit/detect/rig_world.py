"""A whole rig as counts, for tests of the bank: 1 kHz fast channels, 10 Hz slow ones, a story of acts."""

import random
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.heat import HeatParams
from scuffwatch.detect.limits import LimitParams
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.sensor_fault import SensorParams
from scuffwatch.model.block import Block, IntArray, Slice
from scuffwatch.model.channel import GroupLayout, IntegerType, OnLoss
from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.signals.calibrate import Calibration
from scuffwatch.signals.friction import FRICTION_COEFFICIENT, FrictionRule, derive
from scuffwatch.signals.quality import ChannelRule
from scuffwatch.signals.slices import Slicer

FAST = GroupLayout(
    0, 1000.0, IntegerType.INT16, ("friction_force_n", "normal_load_n", "motor_current_a", "ring_speed_rpm")
)
SLOW = GroupLayout(1, 10.0, IntegerType.INT32, ("pin_temperature_degc", "sound_level_db"))
GAINS = {
    "friction_force_n": 0.02,
    "normal_load_n": 0.05,
    "motor_current_a": 0.001,
    "ring_speed_rpm": 0.1,
    "pin_temperature_degc": 0.01,
    "sound_level_db": 0.01,
}
INF = float("inf")


def _limit(
    channel: str, high: float, kind: FindingKind, level: Level, label: str, *, after_start: bool = False
) -> LimitParams:
    return LimitParams(channel, -INF, high, 0.04, kind, level, 0.05 * high, label, after_start)


PARAMS = BankParams(
    limits=(
        _limit("friction_force_n", 250.0, FindingKind.OVERLOAD, Level.TRIP, "Overload"),
        _limit(FRICTION_COEFFICIENT, 0.25, FindingKind.FRICTION_LIMIT, Level.TRIP, "Friction limit"),
        _limit(FRICTION_COEFFICIENT, 0.2, FindingKind.FRICTION_LIMIT, Level.WARN, "Friction high"),
        _limit("motor_current_a", 6.5, FindingKind.OVERLOAD, Level.TRIP, "Overload", after_start=True),
        _limit("pin_temperature_degc", 120.0, FindingKind.OVERHEAT, Level.TRIP, "Overheat"),
    ),
    sensors=(
        SensorParams("friction_force_n", 0.2, OnLoss.TRIP),
        SensorParams("motor_current_a", 0.2, OnLoss.TRIP),
        SensorParams("pin_temperature_degc", 0.5, OnLoss.TRIP),
        SensorParams("sound_level_db", 0.5, OnLoss.DEGRADE),
    ),
    motor=MotorParams(600.0, 0.6),
    heat=(HeatParams("pin_temperature_degc", 120.0, window_s=2.0),),
)
RULES = {
    name: ChannelRule(
        Calibration((0.0, gain), 0.0, -300.0, 1500.0, "test"), 0.5, 0.5 if name == "friction_force_n" else 0.0
    )
    for name, gain in GAINS.items()
}


@dataclass
class Act:
    """What a stretch of time looks like; a value that is a pair moves from one to the other."""

    lasts_s: float
    speed_rpm: tuple[float, float] | float = 595.0
    current_a: tuple[float, float] | float = 2.0
    load_n: float = 500.0
    mu: tuple[float, float] | float = 0.1
    pin_degc: tuple[float, float] | float = 60.0
    sound_db: float = 70.0


START = [Act(0.5, (0.0, 595.0), 6.0), Act(2.5)]


def tell(story: list[Act], seed: int = 1) -> tuple[IntArray, IntArray]:
    """Give counts of the fast and the slow group, (channels, n) int16 and int32."""
    random_ = np.random.default_rng(seed)
    fast, slow = [], []
    for act in story:
        n = round(act.lasts_s * 1000)

        def moving(value: tuple[float, float] | float, n: int = n) -> np.ndarray:
            return np.linspace(*value, n) if isinstance(value, tuple) else np.full(n, value)

        load = act.load_n * (1 + random_.normal(0, 0.003, n))
        mu = moving(act.mu) * (1 + random_.normal(0, 0.02, n))
        rows = [mu * act.load_n, load, moving(act.current_a) * (1 + random_.normal(0, 0.02, n)), moving(act.speed_rpm)]
        fast.append([row / GAINS[name] for row, name in zip(rows, FAST.channels, strict=True)])
        slow.append([moving(act.pin_degc) / 0.01, np.full(n, act.sound_db / 0.01)])
    wide = np.concatenate(slow, axis=1)[:, ::100]
    return np.clip(np.concatenate(fast, axis=1), -32768, 32767).astype(np.int16), wide.astype(np.int32)


def blocks_of(fast: IntArray, slow: IntArray, draw: random.Random | None = None) -> Iterator[Block]:
    """Give the blocks of a story, in order of time; cut at random where `draw` is given, else at 20 samples."""
    at, total, side = 0, fast.shape[1], 0
    while at < total:
        n = min(draw.randint(1, 20) if draw else 20, total - at)
        while side < slow.shape[1] and side * 100 <= at + n:
            yield Block(SLOW, 0, 0, side, side / 10, slow[:, side : side + 1], 0)
            side += 1
        yield Block(FAST, 0, 0, at, at / 1000, fast[:, at : at + n], 0)
        at += n


def slices_of(blocks: Iterator[Block]) -> Iterator[Slice]:
    """Give the slices of some blocks, friction coefficient included."""
    slicer = Slicer((FAST, SLOW), RULES)
    for block in blocks:
        for s in slicer.accept(block):
            yield derive(s, FrictionRule(10.0))


def bank() -> Bank:
    """Give a bank in an open run."""
    made = Bank(PARAMS)
    made.start_run((500.0,), 60.0)
    return made
