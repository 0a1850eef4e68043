"""The world itself: slow state once per 0.1 s (heat, film, wear), fast state per sample (line, drive, weld).

Reads a rig, a plan and its script; gives a `Trace` without any sensor.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import NAN, Flags, Floats, Klass

from world_k.contact import Curve, Surface
from world_k.drives import drive_of, settle
from world_k.line import Line
from world_k.oil import dynamic_pa_s
from world_k.plan import FOREVER_S, Plan
from world_k.rig import Rig, between, flat_m3
from world_k.script import Script, dry
from world_k.thermal import Heat

BLOCK_S = 0.1
FINEST_STEP_S = 0.0101
SETTLE_S = 12.0
"""Run before the first sample of a recording that begins in mid run."""
SEED_WELD = 0.04
"""Part of the contact that is welded at the moment of onset."""
LIMIT_K = (9.0, 24.0)
"""The technician's temperature limits lie this far above what was healthy."""


@dataclass(slots=True)
class Weld:
    """How a scuff grows: friction is 1 + (top - 1) w times the clean one.

    dw/dt = w (1 - w) rate (1 + feedback (power / power before - 1)). The feedback is the heat of the welded spots:
    more friction, more heat, less film.
    """

    top_ratio: float
    least_friction: float
    rate_per_s: float
    feedback: float
    part: float = 0.0
    power_w: float = 0.0


@dataclass(slots=True)
class Trace:
    """What happened, per sample; `limits_degc` are those of bath and pin, NaN where no heating story set them."""

    live: Flags
    load_n: Floats
    friction_n: Floats
    current_a: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    angle_rad: Floats
    bath_degc: Floats
    pin_degc: Floats
    weld: Floats
    heat_in_j: float = 0.0
    bath_heat_j: float = 0.0
    lost_j: float = 0.0
    stored_j: float = 0.0
    overheat_s: float = NAN
    limits_degc: tuple[float, float] = (NAN, NAN)

    def cut(self, count: int) -> None:
        """Keep the first `count` samples."""
        for name in Trace.__slots__:
            value = getattr(self, name)
            if isinstance(value, np.ndarray):
                setattr(self, name, value[:count])


class Bench:
    """One rig in one recording; `run` gives the trace."""

    def __init__(self, rig: Rig, plan: Plan, script: Script, rng: np.random.Generator) -> None:
        self.rig, self.plan, self.script = rig, plan, script
        self.weld = _weld_of(rig, plan, rng)
        self.parts = max(1, math.ceil(1.0 / (script.rate_hz * FINEST_STEP_S)))
        self.step_s = 1.0 / (script.rate_hz * self.parts)
        worn_m3 = flat_m3(rig.pair.nose_radius_m, between(rng, 0.1e-3, 0.35e-3))
        warm = plan.mid_run or rng.random() < 0.4 or plan.klass is Klass.OVERHEAT
        run_in = plan.mid_run or rng.random() < 0.3
        self.surface = Surface(rig.pair, rig.full_load_n, worn_m3, run_in)
        self.heat = self._heat(rng, warm)
        self.drag_excess = 0.05 if warm else rng.uniform(0.05, 0.3)
        self.margins_k = (rng.uniform(*LIMIT_K), rng.uniform(*LIMIT_K))
        self.runaway_w = rig.heat.room_w_k * rng.uniform(60.0, 110.0) if rig.heat.heater_w > 0.0 else 0.0
        self.tail_s = between(rng, 10.0, 60.0)
        self.stalled = False
        self.drive = drive_of(rig.drive)
        self.line = Line(rig.line, rig.set_speed_rad_s if plan.mid_run else 0.0)
        self.angle_rad = rng.uniform(0.0, 6.28)
        if plan.mid_run:
            settle(self.drive, rig.set_speed_rad_s, 0.7 * rig.drive.healthy_nm)

    def _heat(self, rng: np.random.Generator, warm: bool) -> Heat:
        design = self.rig.heat
        bath_degc = design.room_degc
        if design.heater_w > 0.0 and (warm or rng.random() < 0.6):
            bath_degc = design.heater_set_degc - rng.uniform(0.0, 2.0)
        elif warm:
            first_n = self.plan.loads_n[0] * 0.08
            bath_degc += first_n * self.rig.set_speed_rad_s * self.rig.radius_m / design.room_w_k
        running_w = 0.08 * float(self.script.load_n[0]) * self.rig.set_speed_rad_s * self.rig.radius_m
        above_k = design.pin_share * running_w / design.pin_w_k if self.plan.mid_run else 0.0
        return Heat(design, bath_degc, above_k)

    def run(self) -> Trace:
        """Run from the first to the last sample, or to the end of an overheat."""
        script, plan, count = self.script, self.plan, self.script.live.size
        block = max(1, round(BLOCK_S * script.rate_hz))
        columns = _lists(script)
        out = [[0.0] * count for _ in range(8)]
        baths, pins = [], []
        nights_s = [night[0] for night in plan.nights]
        top_ups_s = list(plan.top_ups_s)
        healthy = [-300.0, -300.0]
        limits, overheat_s, last = (NAN, NAN), NAN, count
        ends_s = min(t for t in (plan.onset_s, plan.jam_s, FOREVER_S) if not math.isnan(t))
        live, stall_rad_s = script.live, 0.02 * self.rig.set_speed_rad_s
        share, first = 1.0, 0
        if plan.mid_run:
            self._find_running(columns, block)
        while first < last:
            t_s, stop = first / script.rate_hz, min(first + block, last)
            if nights_s and t_s >= nights_s[0]:
                nights_s.pop(0)
                self.heat.overnight()
            if top_ups_s and t_s >= top_ups_s[0]:
                top_ups_s.pop(0)
                self.heat.fill_up(0.06, self.rig.heat.room_degc)
            baths.append(self.heat.bath_degc)
            pins.append(self.heat.pin_degc)
            curve = self._curve(t_s, columns[1][first])
            work_j, share = self._fast(columns, out, first, stop, curve)
            self._slow(t_s, work_j, (stop - first) / script.rate_hz, share, columns[1][first])
            if math.isnan(plan.heat_from_s) or t_s < plan.heat_from_s:
                healthy = [max(healthy[0], self.heat.bath_degc), max(healthy[1], self.heat.pin_degc)]
            elif math.isnan(limits[0]):
                limits = (math.ceil(healthy[0] + self.margins_k[0]), math.ceil(healthy[1] + self.margins_k[1]))
            elif math.isnan(overheat_s) and (self.heat.bath_degc > limits[0] or self.heat.pin_degc > limits[1]):
                overheat_s = stop / script.rate_hz
                last = min(count, stop + int(self.tail_s * script.rate_hz))
            if not self.stalled and t_s > ends_s and live[first] and self.line.ring_rad_s < stall_rad_s:
                self.stalled = True
                last = min(count, stop + int(self.tail_s / 3.0 * script.rate_hz))
            first = stop
        trace = self._trace(out, baths, pins, block)
        trace.overheat_s, trace.limits_degc = overheat_s, limits
        trace.cut(last)
        return trace

    def _find_running(self, columns: list[list[float]], block: int) -> None:
        """Let line and drive settle, before the first sample, to what they would have been doing for long."""
        still = [[column[0]] * block for column in columns]
        unseen = [[0.0] * block for _ in range(8)]
        for _ in range(round(SETTLE_S / BLOCK_S)):
            self._fast(still, unseen, 0, block, self._curve(0.0, columns[1][0]))

    def _curve(self, t_s: float, load_n: float) -> Curve:
        plan, heat = self.plan, self.heat
        oil_ratio = 1.0
        if dry(plan, t_s):
            oil_ratio = 0.03
        elif plan.starved and t_s > plan.precursor_s:
            oil_ratio = max(1.0 - 0.8 * (t_s - plan.precursor_s) / (plan.onset_s - plan.precursor_s), 0.15)
        film_degc = 0.5 * (heat.bath_degc + heat.pin_degc)
        return self.surface.curve(load_n, dynamic_pa_s(self.rig.oil, film_degc), oil_ratio)

    def _slow(self, t_s: float, work_j: float, span_s: float, share: float, load_n: float) -> None:
        plan, heat, slide_m_s = self.plan, self.heat, self.line.ring_rad_s * self.rig.radius_m
        film_degc = 0.5 * (heat.bath_degc + heat.pin_degc)
        self.surface.step(load_n, slide_m_s, share, film_degc, span_s)
        if plan.depleted and t_s > plan.precursor_s:
            self.surface.covered *= 1.0 - 0.02 * span_s
        runaway_w = 0.0
        if t_s >= plan.heat_from_s:
            heat.room_ratio = 1.0 if self.runaway_w > 0.0 else 0.05
            late = 0.01 * max(t_s - plan.heat_from_s - 400.0, 0.0) * self.rig.heat.room_w_k * 30.0
            runaway_w = self.runaway_w + late
        heat.step(work_j / span_s, dry(plan, t_s), runaway_w, span_s)
        self.drag_excess *= 1.0 - span_s / 300.0 * (1.0 if self.line.ring_rad_s > 0.0 else 0.0)
        self.line.dry_drag_nm = self.rig.line.dry_drag_nm * (1.0 + self.drag_excess)

    def _fast(
        self, columns: list[list[float]], out: list[list[float]], first: int, stop: int, curve: Curve
    ) -> tuple[float, float]:
        live, load, supply, gain, patch, rough, jam = columns
        loads, frictions, currents, rings, motors, torques, angles, welds = out
        line, drive, weld, radius_m, step_s = self.line, self.drive, self.weld, self.rig.radius_m, self.step_s
        runout, cos, parts = self.rig.runout_ratio, math.cos, range(self.parts)
        span, factor, exponent = curve.boundary - curve.fluid, curve.factor, curve.exponent
        onset = self.script.index(self.plan.onset_s) if self.plan.onset_s == self.plan.onset_s else len(live)
        work_j, share, angle_rad = 0.0, 1.0, self.angle_rad
        for i in range(first, stop):
            load_n = load[i] * (1.0 + runout * cos(angle_rad))
            for _ in parts:
                speed_rad_s = line.ring_rad_s
                share = 1.0 / (1.0 + factor * (speed_rad_s * radius_m) ** exponent)
                friction = (curve.fluid + span * share) * gain[i]
                if patch[i] > 0.0:
                    friction *= 1.0 + patch[i] * max(cos(angle_rad + 1.0), 0.0) ** 3
                if i >= onset:
                    friction *= self._welded(friction, load_n * speed_rad_s * radius_m, rough[i])
                torque_nm = drive.step(line.motor_rad_s, live[i] > 0.0, supply[i], step_s)
                line.step(torque_nm, friction * load_n, jam[i], step_s)
                work_j += line.friction_n * line.ring_rad_s * radius_m * step_s
                angle_rad += line.ring_rad_s * step_s
            loads[i], frictions[i], currents[i], rings[i] = load_n, line.friction_n, drive.current_a, line.ring_rad_s
            motors[i], torques[i], angles[i], welds[i] = line.motor_rad_s, torque_nm, angle_rad, weld.part
        self.angle_rad = angle_rad
        return work_j, share

    def _welded(self, clean: float, power_per_friction_w: float, rough: float) -> float:
        """Let the weld grow by one step on a clean friction coefficient; give the factor on it."""
        weld, clean_w = self.weld, clean * power_per_friction_w
        if weld.part == 0.0:
            weld.top_ratio = max(weld.top_ratio, weld.least_friction / clean)
            weld.part, weld.power_w = SEED_WELD, max(clean_w, 1e-9)
            self._make_strong_enough()
        factor = 1.0 + (weld.top_ratio - 1.0) * weld.part
        if clean_w > 0.0:
            heat = max(1.0 + weld.feedback * (factor * clean_w / weld.power_w - 1.0), 0.3)
            grown = weld.part * math.exp(min(weld.rate_per_s * heat * self.step_s, 20.0))
            weld.part = grown / (1.0 - weld.part + grown)
        return factor * (1.0 + weld.part * rough)

    def _make_strong_enough(self) -> None:
        """In a seizure the weld outdoes the motor (and, by then, the belt)."""
        if self.plan.klass is not Klass.SEIZURE:
            return
        holds_nm = min(self.rig.drive.capacity_nm, self.rig.line.belt_nm)
        now_nm = max(self.line.friction_n * self.rig.radius_m, 1e-12)
        self.weld.top_ratio = max(self.weld.top_ratio, 1.5 * (holds_nm - self.line.dry_drag_nm) / now_nm)

    def _trace(self, out: list[list[float]], baths: list[float], pins: list[float], block: int) -> Trace:
        heat, count = self.heat, self.script.live.size
        arrays = [np.array(column) for column in out]
        at, knots = np.arange(count), np.arange(len(baths)) * block
        bath_degc, pin_degc = np.interp(at, knots, baths), np.interp(at, knots, pins)
        loads, frictions, currents, rings, motors, torques, angles, welds = arrays
        live = self.script.live
        trace = Trace(live, loads, frictions, currents, rings, motors, torques, angles, bath_degc, pin_degc, welds)
        trace.heat_in_j, trace.bath_heat_j = heat.heat_in_j, heat.bath_heat_j
        trace.lost_j, trace.stored_j = heat.lost_j, heat.stored_j()
        return trace


def _lists(script: Script) -> list[list[float]]:
    live = script.live.astype(np.float64)
    arrays = (live, script.load_n, script.supply_ratio, script.gain, script.patch, script.rough, script.jam_nm)
    return [array.tolist() for array in arrays]


def _weld_of(rig: Rig, plan: Plan, rng: np.random.Generator) -> Weld:
    """Draw the scuff: 2.5 to 4.4 times the friction, most of it in 0.15 to 6 s.

    Welded steel has a friction of its own, whatever film was there before: from a thick one the factor is greater.
    """
    usual = 0.5 * (rig.pair.film_friction + rig.pair.bare_friction)
    top = min(rng.uniform(2.5, 4.4), 0.9 / usual)
    least_friction = rng.uniform(0.2, 0.26)
    rise_s = between(rng, 0.5, 25.0) if plan.klass is Klass.SEIZURE else between(rng, 0.15, 6.0)
    feedback = rng.uniform(0.0, 0.5)
    # from 4 % to 90 % welded is ln(0.9/0.1) - ln(0.04/0.96) = 5.4 e-foldings, hurried by the heat
    return Weld(top, least_friction, 5.4 / rise_s / (1.0 + feedback * 0.5 * top), feedback)
