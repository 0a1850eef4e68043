"""Healthy things that look like something: writes them into plan and script, away from loads, stops and stories."""

import numpy as np
from world_b.values import SCUFFINGS, Floats, Kind, Klass

from world_k.plan import Plan
from world_k.rig import Rig, between
from world_k.script import Script
from world_k.shapes import add, hump, ringing, saw, smooth, unrest
from world_k.sound import Ears

HEALTHY_CHANCE, STORY_CHANCE = 0.3, 0.13
TRIES = 40
STICKY_M_S = 1.0
"""Above this sliding speed the contact does not stick."""


class Placer:
    """Finds room for nuisances and writes them down."""

    def __init__(self, rng: np.random.Generator, rig: Rig, plan: Plan, script: Script, ears: Ears) -> None:
        self.rng, self.rig, self.plan, self.script, self.ears = rng, rig, plan, script, ears
        self.end_s = min(plan.duration_s, plan.story_s)

    def free_s(self, length_s: float) -> float | None:
        """Give a moment from which `length_s` are free of everything else, or None; and take them."""
        latest_s = self.end_s - length_s - 5.0
        for _ in range(TRIES if latest_s > 12.0 else 0):
            t_s = self.rng.uniform(12.0, latest_s)
            if all(t_s + length_s + 3.0 < begin_s or t_s - 3.0 > stop_s for begin_s, stop_s in self.plan.busy):
                self.plan.busy.append((t_s, t_s + length_s))
                return t_s
        return None

    def any_s(self, length_s: float) -> float:
        """Give any moment at which something that does not touch the contact may begin."""
        return self.rng.uniform(1.0, max(self.plan.duration_s - length_s - 1.0, 2.0))

    def samples(self, length_s: float) -> int:
        """Give a number of samples."""
        return max(int(length_s * self.script.rate_hz), 3)

    def heard(self, into: Floats, t_s: float, level_db: Floats) -> None:
        """Let a level be heard from a time on; the louder of two wins."""
        first = self.script.index(t_s)
        heard_db = into[first : first + level_db.size]
        np.maximum(heard_db, level_db[: heard_db.size], out=heard_db)

    def particle(self) -> None:
        """A wear particle passes: friction up by a tenth to a half for less than a second."""
        length_s = self.rng.uniform(0.15, 0.9)
        if (t_s := self.free_s(length_s)) is not None:
            height = self.rng.uniform(0.1, 0.5)
            add(self.script.gain, t_s, self.script.rate_hz, height * hump(self.samples(length_s)))
            self.plan.note(Kind.DEBRIS, t_s, length_s)

    def transition(self) -> None:
        """The film changes slowly, for good."""
        length_s = self.rng.uniform(60.0, 200.0)
        if (t_s := self.free_s(length_s)) is None:
            return
        first, steps = self.script.index(t_s), self.samples(length_s)
        after = 1.0 + float(self.rng.choice([-0.8, 1.0])) * self.rng.uniform(0.1, 0.38)
        self.script.gain[first : first + steps] *= 1.0 + (after - 1.0) * smooth(steps)
        self.script.gain[first + steps :] *= after
        self.plan.note(Kind.FILM_TRANSITION, t_s, length_s)

    def stick_slip(self, length_s: float = 0.0, strong: bool = False) -> None:
        """Friction saws up and down; its mean stays."""
        length_s = length_s or between(self.rng, 4.0, 60.0)
        if self.rig.set_speed_rad_s * self.rig.radius_m > STICKY_M_S or (t_s := self.free_s(length_s)) is None:
            return
        count, rate_hz = self.samples(length_s), self.script.rate_hz
        wave = saw(self.rng, count, rate_hz, min(between(self.rng, 1.5, 14.0), rate_hz / 6.0))
        fade = np.minimum(hump(count) * 10.0, 1.0)
        height = self.rng.uniform(0.25, 0.5) if strong else self.rng.uniform(0.12, 0.35)
        add(self.script.gain, t_s, rate_hz, height * fade * wave)
        loud_db = self.ears.motor_db + self.rng.uniform(-10.0, 10.0) + 20.0 * np.log10(fade + 1e-3) + 3.0 * wave
        self.heard(self.script.squeal_db, t_s, loud_db)
        self.plan.note(Kind.STICK_SLIP, t_s, length_s)

    def squeal(self, length_s: float = 0.0, strong: bool = False) -> None:
        """A tone far above the drive; friction trembles a little."""
        length_s = length_s or between(self.rng, 1.0, 40.0)
        if (t_s := self.free_s(length_s)) is None:
            return
        count, rate_hz = self.samples(length_s), self.script.rate_hz
        fade = np.minimum(hump(count) * 8.0, 1.0)
        top_db = self.ears.motor_db + (self.rng.uniform(12.0, 28.0) if strong else self.rng.uniform(5.0, 18.0))
        wander_db = 2.5 * unrest(self.rng, count, rate_hz, between(self.rng, 0.2, 3.0))
        self.heard(self.script.squeal_db, t_s, min(top_db, 102.0) + 20.0 * np.log10(fade + 1e-3) + wander_db)
        tremble = np.clip(unrest(self.rng, count, rate_hz, 0.03), -3.0, 3.0) * self.rng.uniform(0.01, 0.06)
        add(self.script.gain, t_s, rate_hz, fade * tremble)
        self.plan.note(Kind.SQUEAL, t_s, length_s)

    def bump(self) -> None:
        """Somebody touches the lever: the load rings."""
        if (t_s := self.free_s(3.0)) is None:
            return
        ring = ringing(self.rng, self.script.rate_hz, self.rng.uniform(0.1, 0.6) * float(self.rng.choice([-1.0, 1.0])))
        first = self.script.index(t_s)
        self.script.load_n[first : first + ring.size] *= np.maximum(1.0 + ring[: self.script.load_n.size - first], 0.0)
        self.plan.note(Kind.BUMP, t_s, 1.0)

    def top_up(self) -> None:
        """Some cold oil is poured in."""
        if (t_s := self.free_s(10.0)) is not None:
            self.plan.top_ups_s.append(t_s)
            self.plan.note(Kind.OIL_TOP_UP, t_s, 3.0)

    def dip(self) -> None:
        """The mains dips for a few half-waves; the motor keeps turning."""
        if (t_s := self.free_s(6.0)) is not None:
            length_s = self.rng.uniform(0.03, 0.18)
            first = self.script.index(t_s)
            self.script.supply_ratio[first : first + self.samples(length_s)] *= self.rng.uniform(0.3, 0.8)
            self.plan.note(Kind.BRIEF_DIP, t_s, length_s)

    def door(self) -> None:
        """A door slams."""
        t_s, memory_s = self.any_s(2.0), self.rng.uniform(0.1, 0.4)
        fall_db = np.arange(self.samples(8.0 * memory_s)) / self.script.rate_hz * (-4.34 / memory_s)
        self.heard(self.script.room_db, t_s, self.rng.uniform(78.0, 100.0) + fall_db)
        self.plan.note(Kind.DOOR_SLAM, t_s, 1.0)

    def neighbour(self) -> None:
        """A machine next door runs, on and off with its own cycle."""
        length_s = between(self.rng, 15.0, 240.0)
        t_s = self.any_s(length_s)
        t_in_s = np.arange(self.samples(length_s)) / self.script.rate_hz
        cycle_s = between(self.rng, 2.0, 30.0)
        beats_db = self.rng.uniform(0.0, 8.0) * np.sign(np.sin(2.0 * np.pi * t_in_s / cycle_s))
        self.heard(self.script.room_db, t_s, self.ears.motor_db + self.rng.uniform(-6.0, 12.0) + beats_db)
        self.plan.note(Kind.NEIGHBOUR, t_s, length_s)

    def voices(self) -> None:
        """People talk beside the rig."""
        length_s = between(self.rng, 3.0, 60.0)
        t_s, count = self.any_s(length_s), self.samples(length_s)
        words_db = 6.0 * unrest(self.rng, count, self.script.rate_hz, 0.25)
        self.heard(self.script.room_db, t_s, self.rng.uniform(58.0, 72.0) + np.minimum(words_db, 9.0))
        self.plan.note(Kind.VOICES, t_s, length_s)

    def all_sorts(self) -> None:
        """Place what chance brings, and what the class asks for first."""
        rng, klass = self.rng, self.plan.klass
        if klass in (Klass.STICK_SLIP, Klass.SQUEAL):
            strong = self.stick_slip if klass is Klass.STICK_SLIP else self.squeal
            for length_s in (*(between(rng, 15.0, 90.0) for _ in range(int(rng.integers(5, 14)))), 12.0, 8.0):
                strong(length_s, True)
        stories = (*SCUFFINGS, Klass.SEIZURE, Klass.JAM, Klass.OVERHEAT, Klass.SUPPLY_LOST)
        chance = STORY_CHANCE if klass in stories else HEALTHY_CHANCE
        if rng.random() < chance:
            self.transition()
        kinds = (self.particle, self.particle, self.bump, self.stick_slip, self.squeal, self.top_up, self.dip)
        for place in (*kinds, self.door, self.neighbour, self.voices):
            for _ in range(int(rng.integers(1, 4)) if rng.random() < chance else 0):
                place()
