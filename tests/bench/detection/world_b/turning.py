"""The ring turns, slows, stops: speed, current and the friction force that really acts.

Reads the friction force the contact would take and the switch, gives what happens. Where nothing changes quickly, the
drive follows its steady curve with its own lag; starts, stops, damage and jams are stepped through at 0.5 or 1 ms.
"""

from dataclasses import dataclass

import numpy as np

from .draws import lag
from .drives import Drive, motor_of
from .events import Story
from .rigs import Rig
from .values import Flags, Floats


@dataclass(frozen=True, slots=True)
class Load:
    """What the drive meets, on the grid of the recording.

    Attributes:
        t_s: (n,) s.
        on: (n,) motor switched on and supplied.
        friction_n: (n,) friction force of the contact if it slid at set speed.
        drag_ratio: (n,) drag over warm drag, for cold grease.
    """

    t_s: Floats
    on: Flags
    friction_n: Floats
    drag_ratio: Floats


@dataclass(slots=True)
class Turning:
    """What the drive does, (n,) each: rad/s at the ring, A, N, N m at the ring."""

    ring_rad_s: Floats
    motor_rad_s: Floats
    current_a: Floats
    friction_n: Floats
    torque_nm: Floats


def turn(story: Story, load: Load, rate_hz: float) -> Turning:
    """Give speed, current and friction force over a recording.

    Args:
        story: its rig, switchings and event.
        load: what the drive meets.
        rate_hz: of the grid.
    Returns:
        (n,) arrays; the friction force at rest is what the contact holds.
    """
    turning = _at_ease(story.rig, load, rate_hz)
    for begin_s, end_s in windows(story):
        _step_through(story, load, turning, (begin_s, end_s), rate_hz)
    return turning


def _at_ease(rig: Rig, load: Load, rate_hz: float) -> Turning:
    drive, motor = rig.drive, motor_of(rig.drive)
    friction_nm = load.friction_n * rig.ring_radius_m
    torque = lag(friction_nm + drive.drag_nm * load.drag_ratio, motor.settle_s, rate_hz)
    speed, current = motor.steady(torque)
    ring = speed - drive.creep_share * drive.set_rad_s * _creep(torque, drive)
    rest = rig.contact.held_share * load.friction_n
    return Turning(
        ring_rad_s=np.where(load.on, ring, 0.0),
        motor_rad_s=np.where(load.on, speed, 0.0),
        current_a=np.where(load.on, current, 0.0),
        friction_n=np.where(load.on, load.friction_n, rest),
        torque_nm=np.where(load.on, torque, 0.0),
    )


def _creep(torque_nm: Floats, drive: Drive) -> Floats | float:
    return np.arctanh(np.minimum(torque_nm / drive.grip_nm, 0.97)) if drive.belt else 0.0


def windows(story: Story) -> list[tuple[float, float]]:
    """Give the spans that need stepping, s: starts, stops and the event; merged, in order."""
    drive = story.rig.drive
    spin_s = drive.inertia_kg_m2 * drive.set_rad_s / drive.full_torque_nm
    start_s = drive.ramp_s + 2.0 + 4.0 * spin_s
    coast_s = min(25.0, 1.5 * spin_s * drive.full_torque_nm / drive.drag_nm + drive.ramp_s * drive.ramps_down + 1.0)
    spans = [(t, t + (start_s if on else coast_s)) for t, on in story.script.switches]
    spans += [(t, t + length_s + start_s) for t, length_s in story.dips]
    if story.scuff is not None:
        spans.append((story.scuff.onset_s - 0.5, story.duration_s))
    if story.jam is not None:
        spans.append((story.jam.t_s - 0.2, story.duration_s))
    if np.isfinite(story.supply_lost_s):
        back_s = min(story.supply_back_s, story.supply_lost_s)
        spans.append((story.supply_lost_s, max(back_s, story.supply_lost_s) + coast_s + start_s))
    merged: list[tuple[float, float]] = []
    for begin_s, end_s in sorted(spans):
        if merged and begin_s <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end_s, merged[-1][1]))
        else:
            merged.append((begin_s, end_s))
    return [(begin_s, min(end_s, story.duration_s)) for begin_s, end_s in merged if begin_s < story.duration_s]


def _step_through(story: Story, load: Load, turning: Turning, span_s: tuple[float, float], rate_hz: float) -> None:
    first, last = (int(k) for k in np.searchsorted(load.t_s, span_s))
    first = max(first - 1, 0)
    if last - first < 2:
        return
    t_s = load.t_s[first:last]
    dt_s = 0.0005 if story.rig.drive.belt else 0.001
    fine_s = np.arange(t_s[0], t_s[-1] + dt_s, dt_s)
    course = _Course(story, load, turning, first, fine_s, dt_s)
    rows = np.array(course.run())
    blend = np.ones(last - first)
    if load.on[last - 1] and last < len(load.t_s):
        tail = max(2, (last - first) // 5)
        blend[-tail:] = np.linspace(1.0, 0.0, tail)
    for column, name in enumerate(("ring_rad_s", "motor_rad_s", "current_a", "friction_n", "torque_nm")):
        stepped, eased = np.interp(t_s, fine_s, rows[:, column]), getattr(turning, name)
        eased[first:last] = blend * stepped + (1.0 - blend) * eased[first:last]


class _Course:
    """One stepped span: state, what acts on it, and the loop."""

    def __init__(self, story: Story, load: Load, turning: Turning, first: int, fine_s: Floats, dt_s: float) -> None:
        rig = story.rig
        self.rig, self.drive, self.motor, self.dt_s = rig, rig.drive, motor_of(rig.drive), dt_s
        self.ring_rad_s = float(turning.ring_rad_s[first])
        self.motor_rad_s = float(turning.motor_rad_s[first])
        self.friction_n = float(turning.friction_n[first])
        if load.on[first]:
            self.motor.begin(self.motor_rad_s, float(turning.torque_nm[first]))
        self.on = load.on[np.minimum(np.searchsorted(load.t_s, fine_s + 1e-9, side="right") - 1, len(load.on) - 1)]
        self.wish_n = np.interp(fine_s, load.t_s, load.friction_n)
        self.drag_nm = self.drive.drag_nm * float(load.drag_ratio[first])
        self.jam_nm = _jam_torque(story, fine_s)
        self.jam_on_motor = story.jam is not None and story.jam.on_motor
        self.over_s = 0.0
        self.belt, self.grip_nm = rig.drive.belt, rig.drive.grip_nm
        self.creep_rad_s = rig.drive.creep_share * rig.drive.set_rad_s
        self.set_rad_s, self.inertia, self.radius_m = rig.drive.set_rad_s, rig.drive.inertia_kg_m2, rig.ring_radius_m
        self.breakaway, self.held_share = rig.contact.static_ratio - 1.0, rig.contact.held_share

    def run(self) -> list[tuple[float, float, float, float, float]]:
        """Give ring and motor speed, current, friction force and motor torque for each fine step."""
        rows, gave_up, at_rest = [], False, False
        full_a = 1.3 * float(np.hypot(self.drive.full_current_a, self.drive.magnetising_a))
        for on, wish_n, jam_nm in zip(self.on.tolist(), self.wish_n.tolist(), self.jam_nm.tolist(), strict=True):
            if at_rest and (gave_up or not on):
                self.friction_n = self.held_share * wish_n
                rows.append((0.0, 0.0, 0.0, self.friction_n, 0.0))
                continue
            torque, current = self.motor.step(self.motor_rad_s, on and not gave_up, self.dt_s)
            if self.belt:
                self._two_bodies(torque, wish_n, jam_nm)
            else:
                self._one_body(torque, wish_n, jam_nm)
            self.over_s = self.over_s + self.dt_s if current > full_a else 0.0
            gave_up = gave_up or self.over_s > self.drive.gives_up_s
            rows.append((self.ring_rad_s, self.motor_rad_s, current, self.friction_n, torque))
            at_rest = self.ring_rad_s == 0.0 == self.motor_rad_s and current < 1e-3 * full_a and self._settled(wish_n)
        return rows

    def _settled(self, wish_n: float) -> bool:
        return self.friction_n <= 1.01 * self.held_share * wish_n + 1e-3 * wish_n

    def _one_body(self, torque: float, wish_n: float, jam_nm: float) -> None:
        self.ring_rad_s = self._ring_next(self.ring_rad_s, torque, wish_n, jam_nm, self.dt_s / self.inertia)
        self.motor_rad_s = self.ring_rad_s

    def _two_bodies(self, torque: float, wish_n: float, jam_nm: float) -> None:
        gap = abs(self.motor_rad_s - self.ring_rad_s) / self.creep_rad_s
        pull = self.grip_nm * (0.85 if gap > 6.0 else 1.0) * gap / (1.0 + gap * gap * gap) ** (1.0 / 3.0)
        if self.motor_rad_s < self.ring_rad_s:
            pull = -pull
        on_ring, on_motor = (0.0, jam_nm) if self.jam_on_motor else (jam_nm, 0.0)
        self.ring_rad_s = self._ring_next(self.ring_rad_s, pull, wish_n, on_ring, self.dt_s / (0.4 * self.inertia))
        moved = self.motor_rad_s + (torque - pull - on_motor) * self.dt_s / (0.6 * self.inertia)
        self.motor_rad_s = moved if moved > 0.0 else 0.0

    def _ring_next(self, speed: float, pull: float, wish_n: float, jam_nm: float, per_inertia: float) -> float:
        part = speed / self.set_rad_s
        if part > 1e-4:
            wish_n *= 1.0 + self.breakaway / (1.0 + 400.0 * part * part)
            self.friction_n = wish_n
            drag = self.drag_nm * (0.5 + 0.5 * part)
            moved = speed + (pull - wish_n * self.radius_m - drag - jam_nm) * per_inertia
            return moved if moved > 0.0 else 0.0
        most_n = wish_n * (1.0 + self.breakaway)
        left_nm = pull - 0.5 * self.drag_nm - jam_nm
        held_n = max(min(most_n, left_nm / self.radius_m), self.held_share * wish_n)
        self.friction_n += (held_n - self.friction_n) * (1.0 if held_n > self.friction_n else self.dt_s / 0.06)
        return max((left_nm - most_n * self.radius_m) * per_inertia, 0.0)


def _jam_torque(story: Story, fine_s: Floats) -> Floats:
    jam = story.jam
    if jam is None:
        return np.zeros_like(fine_s)
    most_nm = jam.most_share * story.rig.drive.most_torque_nm
    if story.rig.drive.belt and not jam.on_motor:
        most_nm = jam.most_share * story.rig.drive.grip_nm
    return most_nm * np.clip((fine_s - jam.t_s) / jam.rise_s, 0.0, 1.0)
