"""A cheap motor for tests: what speed, current, friction and load look like in starts, stops, jams and seizures.

Independent of the simulated rig: shapes and magnitudes after this project's detection design, not physics.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from slice_makers import SLICE_S, good

from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, RING_SPEED
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

Row = dict[str, ChannelSlice | float]


@dataclass
class Fittings:
    """Which channels a rig has, and how often they speak."""

    tachometer: bool = True
    friction: bool = True
    load: bool = True
    tachometer_every: int = 1
    current_every: int = 1


class World:
    """One rig with its own numbers, driven act by act; every act gives rows of 10 ms."""

    def __init__(self, draw: random.Random, fittings: Fittings) -> None:
        self.draw = draw
        self.fit = fittings
        self.set_rpm = draw.uniform(150, 1800)
        self.no_load_a = draw.uniform(0.3, 2.0)
        self.run_a = self.no_load_a * draw.uniform(1.2, 3.5)
        self.surge = draw.uniform(2.9, 6.0)
        self.surge_s = draw.uniform(0.3, 0.6)
        self.limit_a = math.inf
        self.transducer_s = draw.choice([0.0, 0.01, 0.05])
        self.load_n = draw.uniform(60, 900)
        self.coefficient = draw.uniform(0.05, 0.13)
        self.speed_rpm = 0.0
        self.current_a = 0.0
        self._shown_a = 0.0
        self._k = 0
        self._held: Row = {}

    def row(self, speed_rpm: float, current_a: float, friction: float | None = None) -> Row:
        """Give one row; slow channels hold their last value and are not fresh."""
        self.speed_rpm, self.current_a = speed_rpm, min(current_a, self.limit_a)
        share = SLICE_S / (self.transducer_s + SLICE_S)
        self._shown_a += (self.current_a - self._shown_a) * share
        noise = self.draw.gauss
        coefficient = (self.coefficient if friction is None else friction) * (1 + noise(0, 0.02))
        row: Row = {}
        if self.fit.tachometer:
            row[RING_SPEED] = self._slow(
                RING_SPEED, max(0.0, speed_rpm * (1 + noise(0, 0.003))), self.fit.tachometer_every
            )
        shown_a = self._shown_a * (1 + noise(0, 0.02)) + noise(0, 0.01 * self.no_load_a)
        row[MOTOR_CURRENT] = self._slow(MOTOR_CURRENT, shown_a, self.fit.current_every)
        if self.fit.friction:
            row[FRICTION_FORCE] = coefficient * self.load_n
        if self.fit.load:
            row[NORMAL_LOAD] = self.load_n * (1 + noise(0, 0.003))
        if self.fit.friction and self.fit.load:
            row[FRICTION_COEFFICIENT] = coefficient
        self._k += 1
        return row

    def _slow(self, name: str, value: float, every: int) -> ChannelSlice:
        if self._k % every == 0 or name not in self._held:
            self._held[name] = value
            return good(value)
        held = self._held[name]
        assert isinstance(held, float)
        return good(held, fresh=False, age_s=self._k % every * SLICE_S)

    # --- acts ---------------------------------------------------------------------------------------------

    def rest(self, lasts_s: float) -> Iterator[Row]:
        """Stand still, without current."""
        for _ in range(round(lasts_s / SLICE_S)):
            yield self.row(0.0, 0.0)

    def start(self) -> Iterator[Row]:
        """Start from whatever speed is left: a surge that falls, a speed that rises."""
        from_rpm, rise_s = self.speed_rpm, self.surge_s * self.draw.uniform(0.8, 1.5)
        for k in range(round(2.5 * self.surge_s / SLICE_S)):
            t_s = k * SLICE_S
            speed = from_rpm + (self.set_rpm - from_rpm) * min(1.0, t_s / rise_s)
            ratio = self.surge if t_s < self.surge_s else 1 + (self.surge - 1) * math.exp((self.surge_s - t_s) / 0.06)
            yield self.row(speed, self.run_a * ratio)

    def soft_start(self) -> Iterator[Row]:
        """Start on a drive's ramp: no surge."""
        ramp_s = self.draw.uniform(1.0, 6.0)
        for k in range(round(ramp_s / SLICE_S)):
            yield self.row(self.set_rpm * k * SLICE_S / ramp_s, self.run_a * self.draw.uniform(1.0, 1.2))

    def run(self, lasts_s: float) -> Iterator[Row]:
        """Run at the set speed."""
        for _ in range(round(lasts_s / SLICE_S)):
            yield self.row(self.set_rpm * 0.98, self.run_a)

    def load_step(self, factor: float) -> Iterator[Row]:
        """Hang on another weight: load and the current above no load follow within 0.2 s, friction runs in."""
        from_n, from_a = self.load_n, self.run_a
        most_a = 0.75 * self.limit_a  # a drive that runs at its limit does not hold its speed
        factor = min(factor, max(1.0, (most_a - self.no_load_a) / (from_a - self.no_load_a)))
        self.load_n = from_n * factor
        self.run_a = self.no_load_a + (from_a - self.no_load_a) * factor
        excess = self.draw.uniform(0.0, 0.3)
        for k in range(400):
            t_s = k * SLICE_S
            seen = 1 - math.exp(-t_s / 0.05)
            friction = self.coefficient * (1 + excess * math.exp(-t_s / 1.5))
            current = from_a + (self.run_a - from_a) * seen
            yield self.row(
                self.set_rpm * 0.97, self.no_load_a + (current - self.no_load_a) * friction / self.coefficient, friction
            )

    def coast(self) -> Iterator[Row]:
        """Stop as usual: the current is gone at once, the speed runs down, perhaps not to the end."""
        from_rpm, tau_s = self.speed_rpm, self.draw.choice([0.03, 0.1, 0.5, 1.5])
        for k in range(max(30, round(self.draw.uniform(1.0, 5.0) * tau_s / SLICE_S))):  # no hand restarts it in 0.3 s
            speed = from_rpm * math.exp(-(k + 1) * SLICE_S / tau_s)
            yield self.row(speed, 0.0, self.coefficient * self.draw.uniform(0.8, 2.0))

    def ramp_down(self) -> Iterator[Row]:
        """Stop on a drive's ramp: the current goes down with the speed and is cut at standstill."""
        from_rpm, ramp_s = self.speed_rpm, self.draw.uniform(0.8, 4.0)
        for k in range(round(ramp_s / SLICE_S)):
            left = 1 - (k + 1) * SLICE_S / ramp_s
            yield self.row(from_rpm * left, self.run_a * (0.4 + 0.5 * left), self.coefficient * (1.6 - 0.6 * left))

    def stopped_under_current(self, fall_s: float, lasts_s: float, friction: float) -> Iterator[Row]:
        """Be held still from now on: speed to 0 within `fall_s`, current towards the locked one as it falls."""
        from_rpm, from_a = self.speed_rpm, self.current_a
        for k in range(round(lasts_s / SLICE_S)):
            left = max(0.0, 1 - (k + 1) * SLICE_S / fall_s)
            yield self.row(from_rpm * left, from_a + (self.run_a * self.surge - from_a) * (1 - left), friction)
