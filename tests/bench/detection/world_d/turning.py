"""The ring turns: motor, belt, friction, drag and jam in one balance, step by step.

Reads courses at even steps, gives speed, torque and friction force. Implicit in the slope of the motor, so a step may
be longer than the motor's own time constant.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, inf, pi

import numpy as np
from world_b.values import Flags, Floats

from .chance import Chance
from .motors import Pull, pull_of
from .patches import PATCHES, Scuffed
from .rig import Rig

_SLOWEST = 1e-9
_PART = 100_000


@dataclass(frozen=True, slots=True)
class Task:
    """What is known before the ring turns; all (n,) at even steps of `step_s`.

    Attributes:
        load_n: at the contact.
        ratio: healthy coefficient at set speed.
        full_ratio: coefficient where everything is scuffed.
        scuffed: shares of the patches, or None; `rows` says which holds.
        switched: the motor is on and its supply there.
        jam_nm: from outside.
        begin_rad_s: speed before the first step.
    """

    step_s: float
    load_n: Floats
    ratio: Floats
    full_ratio: Floats
    scuffed: Scuffed | None
    rows: Floats
    switched: Flags
    jam_nm: Floats
    begin_rad_s: float


@dataclass(frozen=True, slots=True)
class Turned:
    """Courses of a ring that turned, (n,)."""

    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    friction_n: Floats
    live: Flags


def turn(rig: Rig, task: Task, chance: Chance) -> Turned:
    """Let the ring turn."""
    n = len(task.load_n)
    ring, motor, torque, friction = (np.empty(n) for _ in range(4))
    live = np.zeros(n, dtype=np.bool_)
    shaft = _Shaft(rig, task.step_s, task.begin_rad_s)
    contact = _Contact(rig, task, _ripple(rig, chance))
    for i, (load_n, ratio, switched, jam_nm) in enumerate(_rows(task)):
        force_n = contact.force_n(i, load_n, ratio, shaft.ring_rad_s, shaft.angle)
        friction[i] = shaft.step(switched, force_n, jam_nm, contact.held_n(force_n))
        ring[i], motor[i], torque[i], live[i] = shaft.ring_rad_s, shaft.motor_rad_s, shaft.torque_nm, shaft.live
    return Turned(ring, motor, torque, friction, live)


def _rows(task: Task) -> Iterator[tuple[float, float, bool, float]]:
    """Give the rows one by one; as lists of Python floats they are quick to reach, and in parts they stay small."""
    for first in range(0, len(task.load_n), _PART):
        part = slice(first, first + _PART)
        columns = (task.load_n[part], task.ratio[part], task.switched[part], task.jam_nm[part])
        yield from zip(*(column.tolist() for column in columns), strict=True)


def _ripple(rig: Rig, chance: Chance) -> list[float]:
    """Draw runout around the ring: the first harmonics of a turn."""
    angle = 2.0 * pi * np.arange(PATCHES) / PATCHES
    course = sum(np.sin(k * angle + chance.between(0.0, 2.0 * pi)) * chance.between(0.3, 1.0) / k for k in (1, 2, 3))
    factor = 1.0 + rig.film.ripple_share * np.asarray(course)
    return [float(x) for x in factor]


class _Contact:
    """Friction at one step, by the patch under the pin and by the speed."""

    def __init__(self, rig: Rig, task: Task, ripple: list[float]) -> None:
        self._film, self._ripple = rig.film, ripple
        self._slow_rad_s = 6.0 * rig.film.low_speed_rad_s
        self._rest_ratio = rig.film.boundary_ratio * rig.film.rest_ratio
        self._shares = task.scuffed.shares.tolist() if task.scuffed is not None else []
        self._rows = task.rows.astype(np.int64).tolist() if self._shares else []
        self._full = task.full_ratio.tolist() if self._shares else []
        self._first = int(np.searchsorted(task.rows, 0.0)) if self._shares else len(task.load_n)

    def force_n(self, i: int, load_n: float, ratio: float, speed_rad_s: float, angle: float) -> float:
        """Give the friction force of a sliding contact, N."""
        patch = int(angle * PATCHES / (2.0 * pi)) % PATCHES
        if speed_rad_s < self._slow_rad_s:
            ratio += max(self._rest_ratio - ratio, 0.0) * exp(-speed_rad_s / self._film.low_speed_rad_s)
        ratio *= self._ripple[patch]
        if i >= self._first:
            ratio += max(self._full[i] - ratio, 0.0) * self._shares[self._rows[i]][patch]
        return ratio * load_n

    def held_n(self, force_n: float) -> float:
        """Give what stays in the arm when nothing turns, N."""
        return self._film.held_share * force_n


class _Shaft:
    """Motor and ring, joined by a shaft or by a belt that may slip."""

    def __init__(self, rig: Rig, step_s: float, begin_rad_s: float) -> None:
        self._rig, self._drive, self._step_s = rig, rig.drive, step_s
        self._pull: Pull = pull_of(rig.drive, step_s)
        self._all_kgm2 = rig.drive.motor_kgm2 + rig.drive.ring_kgm2
        self.ring_rad_s = self.motor_rad_s = begin_rad_s
        self.torque_nm = 0.0
        self.angle = self._kept_n = 0.0
        self.live = False
        self._held_s, self._cut, self._slips = 0.0, False, False

    def step(self, switched: bool, force_n: float, jam_nm: float, held_n: float) -> float:
        """Go on by a step and give the force the friction cell sees, N."""
        fresh = switched and not self.live
        self._cut = self._cut and switched
        self.live = switched and not self._cut
        pulled_nm, slope = self._pull(self.motor_rad_s, fresh) if self.live else (0.0, 0.0)
        brake_nm = force_n * self._rig.radius_m + self._drive.drag_nm + jam_nm
        before_rad_s, motor_before_rad_s = self.ring_rad_s, self.motor_rad_s
        if self._slips or self._drive.belt_nm < inf:
            self._with_belt(pulled_nm, slope, brake_nm)
        else:
            gained = self._step_s * (pulled_nm - brake_nm) / (self._all_kgm2 + self._step_s * slope)
            self.ring_rad_s = self.motor_rad_s = max(before_rad_s + gained, 0.0)
        self.torque_nm = pulled_nm - slope * (self.motor_rad_s - motor_before_rad_s)
        self.angle += self._step_s * self.ring_rad_s
        self._watch()
        if self.ring_rad_s > _SLOWEST:
            self._kept_n = held_n
            return force_n
        return self._standing_n(force_n, jam_nm)

    def _standing_n(self, force_n: float, jam_nm: float) -> float:
        """Give the force in a contact that stands: the motor winds it up, unless something else holds the ring.

        Without either, what stayed in the arm when it stopped stays there until the load is taken off.
        """
        reaches_nm = min(self.torque_nm, self._drive.belt_nm) - self._drive.drag_nm - jam_nm
        return min(max(reaches_nm / self._rig.radius_m, self._kept_n), force_n)

    def _with_belt(self, pulled_nm: float, slope: float, brake_nm: float) -> None:
        """Turn both ends of the belt together, or each by itself while it slips."""
        drive, step_s = self._drive, self._step_s
        gained = step_s * (pulled_nm - brake_nm) / (self._all_kgm2 + step_s * slope)
        together = max(self.ring_rad_s + gained, 0.0)
        belt_nm = brake_nm + drive.ring_kgm2 * (together - self.ring_rad_s) / step_s
        if together == 0.0 and self.ring_rad_s == 0.0:
            belt_nm = min(brake_nm, pulled_nm)
        if not self._slips and abs(belt_nm) <= drive.belt_nm:
            self.ring_rad_s = self.motor_rad_s = together
            return
        pulls_nm = drive.belt_nm if self.motor_rad_s >= self.ring_rad_s else -drive.belt_nm
        self.ring_rad_s = max(self.ring_rad_s + step_s * (pulls_nm - brake_nm) / drive.ring_kgm2, 0.0)
        motor_gain = step_s * (pulled_nm - pulls_nm) / (drive.motor_kgm2 + step_s * slope)
        self.motor_rad_s = max(self.motor_rad_s + motor_gain, 0.0)
        self._slips = self.motor_rad_s > self.ring_rad_s
        if not self._slips:
            shared = drive.motor_kgm2 * self.motor_rad_s + drive.ring_kgm2 * self.ring_rad_s
            self.ring_rad_s = self.motor_rad_s = shared / self._all_kgm2

    def _watch(self) -> None:
        """Let fuse or inverter switch a motor off that has been held too long; switching off and on resets it."""
        held = self.live and self.motor_rad_s < 0.02 * self._rig.set_speed_rad_s
        self._held_s = self._held_s + self._step_s if held else 0.0
        self._cut = self._cut or self._held_s > self._drive.cut_off_s
