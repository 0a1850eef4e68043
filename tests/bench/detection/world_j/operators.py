"""An operator who sets dead weights by hand, and what he does besides. Reads draws, fills a `Script`."""

import numpy as np
from world_b.values import Flags, Floats, Kind, Klass

from .filters import smooth_step, wander
from .rigs import Rig
from .scripts import LoadChange, Script

FIDGETS = (Kind.BUMP, Kind.PAUSE, Kind.BRIEF_DIP, Kind.RESTART_BEFORE_REST, Kind.LIFTED)
MANNERS = (Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.TAKEN_OFF_AGAIN, Kind.LIFTED)


class Operator:
    """Writes one script, step by step."""

    def __init__(self, rng: np.random.Generator, script: Script, start_up_s: float) -> None:
        self.rng, self.script, self.start_up_s = rng, script, start_up_s
        self.bounce = float(rng.uniform(0.03, 0.3))

    def between(self, low: float, high: float) -> float:
        """Give an even draw."""
        return float(self.rng.uniform(low, high))

    def set_load(self, t_s: float, load_n: float, hard: bool = False) -> None:
        """Bring the load to load_n."""
        ramp_s = self.between(0.05, 0.15) if hard else self.between(0.2, 1.5)
        bounce = self.between(0.5, 1.2) if hard else self.bounce * self.between(0.3, 1.0)
        self.script.loads.append(LoadChange(t_s, load_n, ramp_s, bounce))
        if load_n > 0.0:
            self.script.levels_n.append(load_n)

    def off_and_on(self, t_s: float, off_s: float) -> float:
        """Stop the motor for a while; give when it is on again."""
        self.script.switches += [(t_s, False), (t_s + off_s, True)]
        return t_s + off_s

    def begin(self, klass: Klass, first_n: float) -> float:
        """Start the motor and set the first weight; give the time it lies."""
        script, draw = self.script, self.rng.random()
        mid_run = draw < 0.2 and klass is not Klass.STARTS_AND_STOPS
        t_s = 0.0 if mid_run else self.between(2.0, 10.0)
        if not mid_run and self.rng.random() < (0.6 if klass is Klass.STARTS_AND_STOPS else 0.1):
            begin_s = t_s
            for _ in range(int(self.rng.integers(2, 5))):
                script.switches += [(t_s, True), (t_s + self.between(0.2, 0.8), False)]
                t_s += self.between(2.0, 5.0)
            script.note(Kind.INCHING, begin_s, t_s - begin_s)
        script.switches.append((t_s, True))
        if draw < 0.35:
            script.mid_run = mid_run
            script.loads.append(LoadChange(-100.0, first_n, 0.5, 0.0))
            script.levels_n.append(first_n)
            script.note(Kind.MID_RUN if mid_run else Kind.LOADED_START, t_s)
            return t_s
        t_s += self.between(8.0, 30.0)
        self.set_load(t_s, first_n)
        return t_s

    def step(self, t_s: float, before_n: float, load_n: float) -> None:
        """Change the weight, well or badly."""
        manner = MANNERS[int(self.rng.integers(4))] if self.rng.random() < 0.3 else None
        moves = [(0.0, load_n)]
        if manner in (Kind.SET_DOWN_TWICE, Kind.TAKEN_OFF_AGAIN):
            slow = 1.0 if manner is Kind.SET_DOWN_TWICE else 2.7
            moves += [(slow * self.between(1.6, 2.5), before_n), (slow * self.between(3.5, 5.0), load_n)]
        elif manner is Kind.LIFTED:
            moves = [(0.0, 0.0), (self.between(4.0, 12.0), load_n)]
        for late_s, force_n in moves:
            self.set_load(t_s + late_s, force_n, hard=manner is Kind.HARD_SET_DOWN)
        if manner is not None:
            self.script.note(manner, t_s, moves[-1][0])

    def fidget(self, kind: Kind, t_s: float, load_n: float) -> float:
        """Do something between two weights; give the time it is over."""
        note = self.script.note
        if kind is Kind.BUMP:
            self.script.bumps.append((t_s, self.between(0.08, 0.5), self.between(-0.4, 0.5)))
            note(kind, t_s, 0.5)
            return t_s + 1.0
        if kind is Kind.BRIEF_DIP:
            length_s = float(np.clip(self.start_up_s * self.between(0.1, 0.4), 0.04, 0.4))
            note(kind, t_s, length_s)
            return self.off_and_on(t_s, length_s) + 4.0
        if kind is Kind.PAUSE and self.rng.random() < 0.4:
            end_s = self.off_and_on(t_s, self.between(4.0, 25.0))
            note(kind, t_s, end_s - t_s)
            note(Kind.LOADED_START, end_s)
            return end_s
        self.set_load(t_s, 0.0)
        end_s = t_s + self.between(5.0, 10.0)
        if kind is Kind.DAY_BETWEEN:
            self.script.day_s, self.script.day_gap_s = t_s + 9.0, self.between(0.5, 2.8) * 86400.0
            note(kind, self.script.day_s)
            end_s = self.off_and_on(t_s + 4.0, 10.0) + self.between(10.0, 20.0)
        elif kind is not Kind.LIFTED:
            off_s = self.between(4.0, 25.0) if kind is Kind.PAUSE else self.between(0.4, 1.5)
            note(kind, t_s + 3.0, off_s)
            end_s = self.off_and_on(t_s + 3.0, off_s) + self.between(5.0, 10.0)
        else:
            note(kind, t_s, end_s - t_s)
        self.set_load(end_s, load_n)
        return end_s


def write_script(
    rng: np.random.Generator, klass: Klass, duration_s: float, quiet_s: float, top_load_n: float, start_up_s: float
) -> Script:
    """Give what the operator does during a recording."""
    script = Script(duration_s, quiet_s)
    operator = Operator(rng, script, start_up_s)
    steps = 1 if klass is Klass.ENDURANCE else int(rng.integers(1, 5 if klass is Klass.STARTS_AND_STOPS else 13))
    steps = int(np.clip(steps, 1, max(1.0, (quiet_s - 60.0) / 32.0)))
    lowest = operator.between(0.08, 1.0) if steps < 4 else 1.0 / steps
    shares = np.linspace(lowest, 1.0, steps) if steps > 1 else [operator.between(0.5, 1.0)]
    levels_n = [float(top_load_n * share) for share in shares]
    t_s = operator.begin(klass, levels_n[0])
    dwell_s = (quiet_s - t_s) / steps
    night = int(rng.integers(steps)) if rng.random() < 0.08 else -1
    for i, load_n in enumerate(levels_n):
        if i:
            operator.step(t_s + dwell_s * (i + operator.between(-0.12, 0.12)), levels_n[i - 1], load_n)
        _between(operator, klass, t_s + dwell_s * i, dwell_s, load_n, i == night)
    if quiet_s == duration_s and rng.random() < 0.5:
        end_s = duration_s - operator.between(10.0, 20.0)
        operator.set_load(end_s, 0.0)
        script.switches.append((end_s + operator.between(3.0, 7.0), False))
    script.loads.sort(key=lambda change: change.t_s)
    script.switches.sort()
    return script


def _between(operator: Operator, klass: Klass, t_s: float, dwell_s: float, load_n: float, night: bool) -> None:
    """Fill the middle of a dwell, where there is room, with at most a few doings."""
    now_s, end_s = t_s + 0.15 * dwell_s + 16.0, t_s + 0.85 * dwell_s - 22.0
    often = klass is Klass.STARTS_AND_STOPS
    kinds = (Kind.DAY_BETWEEN,) if night else (Kind.PAUSE, Kind.RESTART_BEFORE_REST) if often else FIDGETS
    for _ in range(6 if often and not night else 1):
        now_s += operator.between(0.0, 0.7) * max(end_s - now_s, 0.0) * (0.4 if often else 1.0)
        if now_s >= end_s - 16.0 or operator.rng.random() > (0.9 if often or night else 0.25):
            return
        now_s = operator.fidget(kinds[int(operator.rng.integers(len(kinds)))], now_s, load_n) + 12.0


def lever_load_n(rng: np.random.Generator, script: Script, rig: Rig, t_s: Floats) -> Floats:
    """Give the force on the contact, N, >= 0: dead weights, set down by hand on a lever that bounces."""
    force, now_n = np.zeros_like(t_s), 0.0
    decay_s = 1.0 / (2.0 * np.pi * rig.lever_hz * rig.lever_damping)
    for change in script.loads:
        step_n = change.load_n - now_n
        force += step_n * smooth_step(t_s, change.t_s, change.ramp_s)
        if change.bounce > 0.0 and change.load_n > 0.0:
            late_s = np.clip(t_s - change.t_s - 0.7 * change.ramp_s, 0.0, None)
            near = late_s < 12.0 * decay_s
            swing = np.exp(-late_s[near] / decay_s) * np.sin(2.0 * np.pi * rig.lever_hz * late_s[near])
            force[near] += step_n * change.bounce * swing
        now_n = change.load_n
    for begin_s, length_s, share in script.bumps:
        inside = (t_s >= begin_s) & (t_s < begin_s + length_s)
        force[inside] *= 1.0 + share * np.sin(np.pi * (t_s[inside] - begin_s) / length_s)
    ripple = 0.002 * wander(rng, t_s.size, float(t_s[1] - t_s[0]), 0.15)
    return np.clip(force, 0.0, None) * (1.0 + ripple)


def switched_on(script: Script, t_s: Floats) -> Flags:
    """Give whether the motor is switched on."""
    values = np.array([False, *(on for _, on in script.switches)])
    return values[np.searchsorted([begin_s for begin_s, _ in script.switches], t_s, side="right")]
