"""The plan as arrays, one value per sample: what the fast loop is driven by. Reads a `Plan`, gives a `Script`."""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats, Precursor

from world_k.plan import FOREVER_S, Plan
from world_k.rig import Rig, between
from world_k.shapes import add, burst, coming_on, smooth, unrest


@dataclass(slots=True)
class Script:
    """Drivers of the rig.

    Attributes:
        live: the motor is switched on and has its supply.
        supply_ratio: voltage over nominal.
        load_n: pressed on by the operator, before the runout of the ring.
        gain: factor on the friction coefficient (unrest, particles, bursts).
        patch: extra friction of a hot patch while it passes.
        rough: unrest of the welded contact.
        jam_nm: torque from outside the contact.
        squeal_db, room_db: levels of what else is heard, -100 where nothing is.
    """

    rate_hz: float
    live: Flags
    supply_ratio: Floats
    load_n: Floats
    gain: Floats
    patch: Floats
    rough: Floats
    jam_nm: Floats
    squeal_db: Floats
    room_db: Floats

    def index(self, t_s: float) -> int:
        """Give the sample at a time."""
        return min(max(round(t_s * self.rate_hz), 0), self.live.size)


def script_of(plan: Plan, rig: Rig, rng: np.random.Generator, rate_hz: float) -> Script:
    """Lay the plan out in samples, with the unrest of a healthy contact and the story's precursors."""
    count = int(plan.duration_s * rate_hz)
    quick = unrest(rng, count, rate_hz, between(rng, 0.02, 0.3)) * rig.unrest_ratio
    slow = unrest(rng, count, rate_hz, rng.uniform(15.0, 60.0)) * rng.uniform(0.003, 0.02)
    script = Script(
        rate_hz=rate_hz,
        live=np.zeros(count, dtype=np.bool_),
        supply_ratio=1.0 + 0.004 * unrest(rng, count, rate_hz, 5.0),
        load_n=_loads(plan, rng, count, rate_hz),
        gain=np.clip(1.0 + quick, 0.9, 1.1) * np.clip(1.0 + slow, 0.95, 1.05),
        patch=np.zeros(count),
        rough=np.clip(unrest(rng, count, rate_hz, between(rng, 0.03, 0.4)) * rng.uniform(0.03, 0.11), -0.15, 0.3),
        jam_nm=np.zeros(count),
        squeal_db=np.full(count, -100.0),
        room_db=np.full(count, -100.0),
    )
    for begin_s, end_s in plan.runs:
        script.live[script.index(begin_s) : script.index(end_s)] = True
    if plan.jam_s == plan.jam_s:
        stop_s = between(rng, 0.01, 0.3)
        whole = rig.line.ring_kg_m2 + (0.0 if rig.line.belt_nm < float("inf") else rig.line.motor_kg_m2)
        brake_nm = whole * rig.set_speed_rad_s / stop_s + rig.drive.capacity_nm * rng.uniform(1.5, 3.0)
        script.jam_nm[script.index(plan.jam_s) :] = brake_nm
    _precursors(plan, rng, script)
    return script


def _loads(plan: Plan, rng: np.random.Generator, count: int, rate_hz: float) -> Floats:
    load_n = np.zeros(count)
    for change in sorted(plan.changes, key=lambda item: item.t_s):
        first = round(change.t_s * rate_hz)
        if first >= count:
            continue
        old_n = load_n[first] if first >= 0 else 0.0
        done = coming_on(rng, rate_hz, change.way)
        part = np.ones(count - max(first, 0))
        seen = done[max(-first, 0) :][: part.size]
        part[: seen.size] = seen
        load_n[max(first, 0) :] = np.maximum(old_n + (change.load_n - old_n) * part, 0.0)
    return load_n


def _precursors(plan: Plan, rng: np.random.Generator, script: Script) -> None:
    if plan.precursor is Precursor.NONE:
        return
    begin_s, ahead_s = plan.precursor_s, plan.onset_s - plan.precursor_s
    count = script.index(plan.onset_s) - script.index(begin_s)
    extra = np.zeros(script.gain.size)
    if plan.precursor is Precursor.BURSTS:
        mean = float(np.clip(ahead_s * rng.uniform(0.15, 0.5), 4.0, 80.0))
        times_s = begin_s + ahead_s * np.sort(rng.random(rng.poisson(mean))) ** 0.6
        for k, t_s in enumerate((begin_s, *times_s)):
            length_s, height = between(rng, 0.08, 0.8), rng.uniform(0.25, 0.75)
            if k == 0:
                length_s, height = max(length_s, 0.3), max(height, 0.45)  # the first must be there to be pointed at
            add(extra, t_s, script.rate_hz, height * burst(int(length_s * script.rate_hz)))
    elif plan.precursor is Precursor.MICRO_SCUFF:
        for k in range(int(rng.integers(1, 4))):
            t_s = begin_s + (ahead_s - 3.0) * (rng.uniform(0.3, 1.0) if k else 0.0)
            up, heal_s = smooth(int(rng.uniform(0.2, 0.8) * script.rate_hz)), rng.uniform(0.8, 4.0)
            tail = np.exp(-np.arange(int(4.0 * heal_s * script.rate_hz)) / (heal_s * script.rate_hz))
            add(extra, t_s, script.rate_hz, rng.uniform(0.6, 1.1) * np.concatenate([up, tail]))
    elif plan.precursor is Precursor.CREEP:
        rise = np.linspace(0.0, 1.0, max(count, 2)) ** rng.uniform(0.6, 1.5)
        wild = unrest(rng, rise.size, script.rate_hz, 0.1) * rng.uniform(0.03, 0.1)
        add(extra, begin_s, script.rate_hz, rise * (rng.uniform(0.35, 0.8) + wild))
        extra[script.index(plan.onset_s) :] = extra[script.index(plan.onset_s) - 1] if count > 0 else 0.0
    else:
        grown = 0.35 + 0.65 * np.linspace(0.0, 1.0, max(count, 2)) ** rng.uniform(0.5, 1.5)
        height = rng.uniform(0.5, 1.1)
        add(script.patch, begin_s, script.rate_hz, height * grown)
        script.patch[script.index(begin_s) + grown.size :] = height
    script.gain *= 1.0 + np.clip(extra, 0.0, 1.2)


def dry(plan: Plan, t_s: float) -> bool:
    """Say whether the bath has been taken away."""
    return plan.dry_from_s < FOREVER_S and t_s >= plan.dry_from_s
