"""An operator who sets dead weights by hand, and what he does besides. Reads draws, fills a `Script`."""

import numpy as np
from world_b.values import Kind, Klass

from .scripts import LoadChange, Script

FIDGETS = (Kind.BUMP, Kind.PAUSE, Kind.BRIEF_DIP, Kind.RESTART_BEFORE_REST, Kind.LIFTED)
MANNERS = (Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.TAKEN_OFF_AGAIN, Kind.LIFTED)


class Operator:
    """Writes one script, step by step; holds where it has got to."""

    def __init__(self, rng: np.random.Generator, script: Script, top_load_n: float, start_up_s: float) -> None:
        self.rng = rng
        self.script = script
        self.top_load_n = top_load_n
        self.start_up_s = start_up_s
        self.bounce = float(rng.uniform(0.03, 0.3))

    def set_load(self, t_s: float, load_n: float, hard: bool = False) -> None:
        """Bring the load to load_n."""
        ramp_s = float(self.rng.uniform(0.05, 0.15) if hard else self.rng.uniform(0.2, 1.5))
        bounce = float(self.rng.uniform(0.5, 1.2)) if hard else self.bounce * float(self.rng.uniform(0.3, 1.0))
        self.script.loads.append(LoadChange(float(t_s), float(load_n), ramp_s, bounce))
        if load_n > 0.0:
            self.script.levels_n.append(float(load_n))

    def switch(self, t_s: float, on: bool) -> None:
        """Press the start or the stop button."""
        self.script.switches.append((float(t_s), on))

    def begin(self, klass: Klass, first_n: float) -> float:
        """Start the motor and set the first weight; give the time it lies."""
        rng, script = self.rng, self.script
        draw = rng.random()
        if draw < 0.2 and klass is not Klass.STARTS_AND_STOPS:
            script.mid_run = True
            self.switch(0.0, True)
            script.loads.append(LoadChange(-100.0, first_n, 0.5, 0.0))
            script.levels_n.append(first_n)
            script.note(Kind.MID_RUN, 0.0)
            return 0.0
        t_s = float(rng.uniform(2.0, 10.0))
        if rng.random() < (0.6 if klass is Klass.STARTS_AND_STOPS else 0.1):
            t_s = self._inch(t_s)
        if draw < 0.35:
            script.loads.append(LoadChange(-100.0, first_n, 0.5, 0.0))
            script.levels_n.append(first_n)
            self.switch(t_s, True)
            script.note(Kind.LOADED_START, t_s)
            return t_s
        self.switch(t_s, True)
        t_s += float(rng.uniform(8.0, 30.0))
        self.set_load(t_s, first_n)
        return t_s

    def _inch(self, t_s: float) -> float:
        begin_s = t_s
        for _ in range(int(self.rng.integers(2, 5))):
            self.switch(t_s, True)
            t_s += float(self.rng.uniform(0.2, 0.8))
            self.switch(t_s, False)
            t_s += float(self.rng.uniform(1.5, 4.0))
        self.script.note(Kind.INCHING, begin_s, t_s - begin_s)
        return t_s + 5.0

    def step(self, t_s: float, before_n: float, load_n: float) -> None:
        """Change the weight, well or badly."""
        rng = self.rng
        manner = MANNERS[int(rng.integers(4))] if rng.random() < 0.3 else None
        if manner is Kind.SET_DOWN_TWICE:
            self.set_load(t_s, load_n)
            self.script.loads.append(LoadChange(t_s + float(rng.uniform(1.6, 2.5)), before_n, 0.3, 0.1))
            self.set_load(t_s + float(rng.uniform(3.5, 5.0)), load_n)
            self.script.note(manner, t_s, 5.0)
            return
        if manner is Kind.TAKEN_OFF_AGAIN:
            self.set_load(t_s, load_n)
            self.set_load(t_s + float(rng.uniform(4.0, 7.0)), before_n)
            self.set_load(t_s + float(rng.uniform(9.0, 14.0)), load_n)
            self.script.note(manner, t_s, 14.0)
            return
        if manner is Kind.LIFTED:
            self.set_load(t_s, 0.0)
            self.set_load(t_s + float(rng.uniform(4.0, 12.0)), load_n)
            self.script.note(manner, t_s, 12.0)
            return
        self.set_load(t_s, load_n, hard=manner is Kind.HARD_SET_DOWN)
        if manner is not None:
            self.script.note(manner, t_s)

    def fidget(self, kind: Kind, t_s: float, load_n: float) -> float:
        """Do something between two weights; give the time it is over."""
        rng, script = self.rng, self.script
        if kind is Kind.BUMP:
            script.bumps.append((t_s, float(rng.uniform(0.08, 0.5)), float(rng.uniform(-0.4, 0.5))))
            script.note(kind, t_s, 0.5)
            return t_s + 1.0
        if kind is Kind.BRIEF_DIP:
            length_s = float(np.clip(self.start_up_s * rng.uniform(0.1, 0.4), 0.04, 0.4))
            self.switch(t_s, False)
            self.switch(t_s + length_s, True)
            script.note(kind, t_s, length_s)
            return t_s + 4.0
        lifted = kind is not Kind.PAUSE or rng.random() < 0.6
        if lifted:
            self.set_load(t_s, 0.0)
        if kind is Kind.LIFTED:
            end_s = t_s + float(rng.uniform(5.0, 20.0))
            self.set_load(end_s, load_n)
            script.note(kind, t_s, end_s - t_s)
            return end_s
        off_s = t_s + 3.0 * lifted
        length_s = float(rng.uniform(4.0, 25.0) if kind is Kind.PAUSE else rng.uniform(0.4, 1.5))
        self.switch(off_s, False)
        self.switch(off_s + length_s, True)
        end_s = off_s + length_s
        if lifted:
            end_s += float(rng.uniform(5.0, 10.0))
            self.set_load(end_s, load_n)
        elif kind is Kind.PAUSE:
            script.note(Kind.LOADED_START, end_s)
        script.note(kind, off_s, length_s)
        return end_s

    def night(self, t_s: float, load_n: float) -> float:
        """Stop for the day and go on the next; give the time the load lies again."""
        self.set_load(t_s, 0.0)
        self.switch(t_s + 4.0, False)
        self.script.day_s = t_s + 9.0
        self.script.day_gap_s = float(self.rng.uniform(0.5, 2.8)) * 86400.0
        self.script.note(Kind.DAY_BETWEEN, self.script.day_s)
        self.switch(t_s + 14.0, True)
        end_s = t_s + float(self.rng.uniform(24.0, 35.0))
        self.set_load(end_s, load_n)
        return end_s

    def finish(self) -> None:
        """Take the weights off and stop the motor before the recording ends."""
        t_s = self.script.duration_s - float(self.rng.uniform(10.0, 20.0))
        self.set_load(t_s, 0.0)
        self.switch(t_s + float(self.rng.uniform(3.0, 7.0)), False)


def write_script(
    rng: np.random.Generator, klass: Klass, duration_s: float, quiet_s: float, top_load_n: float, start_up_s: float
) -> Script:
    """Give what the operator does during a recording."""
    script = Script(duration_s, quiet_s)
    operator = Operator(rng, script, top_load_n, start_up_s)
    steps = 1 if klass is Klass.ENDURANCE else int(rng.integers(1, 13))
    steps = int(np.clip(steps, 1, max(1.0, (quiet_s - 60.0) / 32.0)))
    lowest = float(rng.uniform(0.08, 1.0)) if steps < 4 else 1.0 / steps
    levels_n = top_load_n * (np.linspace(lowest, 1.0, steps) if steps > 1 else np.array([rng.uniform(0.5, 1.0)]))
    t_s = operator.begin(klass, float(levels_n[0]))
    dwell_s = (quiet_s - t_s) / steps
    night = int(rng.integers(steps)) if rng.random() < 0.06 else -1
    for i, load_n in enumerate(levels_n):
        if i:
            operator.step(t_s + dwell_s * (i + float(rng.uniform(-0.12, 0.12))), float(levels_n[i - 1]), float(load_n))
        _between(operator, klass, t_s + dwell_s * i, dwell_s, float(load_n), i == night)
    if quiet_s == duration_s and rng.random() < 0.5:
        operator.finish()
    script.loads.sort(key=lambda change: change.t_s)
    script.switches.sort()
    return script


def _between(operator: Operator, klass: Klass, t_s: float, dwell_s: float, load_n: float, night: bool) -> None:
    """Fill the middle of a dwell, where there is room, with at most a few doings."""
    rng = operator.rng
    now_s, end_s = t_s + 0.15 * dwell_s + 16.0, t_s + 0.85 * dwell_s - 22.0
    if night and now_s < end_s - 20.0:
        operator.night(now_s, load_n)
        return
    often = klass is Klass.STARTS_AND_STOPS
    kinds = (Kind.PAUSE, Kind.RESTART_BEFORE_REST) if often else FIDGETS
    for _ in range(6 if often else 1):
        now_s += float(rng.uniform(0.0, 0.7)) * max(end_s - now_s, 0.0) * (0.4 if often else 1.0)
        if now_s >= end_s - 16.0 or rng.random() > (0.9 if often else 0.25):
            return
        now_s = operator.fidget(kinds[int(rng.integers(len(kinds)))], now_s, load_n) + 12.0
