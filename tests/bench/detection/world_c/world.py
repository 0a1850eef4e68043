"""Makes a recording of the third world from a seed.

Reads a seed, a class and a rate, gives the recording; for tests of the world itself, everything behind it too.
"""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import ChannelSet, Kind, Klass, Nuisance, Recording, RigFacts

from .course import Course, run_course
from .dice import Dice, Stream
from .faults import break_sensor, clock, disturb, stamp
from .grid import lay_grid, lay_inputs
from .hearing import heard_db
from .plan import Plan
from .rig import Rig
from .rig_draws import draw_rig
from .rows import Rows, lay_rows
from .sensors import ranges_of, read_all
from .stories import write_plan
from .truth import find, limits_of, seen_by, tell, temperature_limits_degc, wrong_with

_MOST_DRAWS = 60
_KLASSES = list(Klass)


@dataclass(frozen=True, slots=True)
class Behind:
    """What lies behind a recording.

    Attributes:
        rig, plan: as drawn.
        course, twin: noise-free, with and without the trouble.
        rows: true quantities, before any row is lost.
        draws: how often it had to be drawn until it was what its class promises.
    """

    rig: Rig
    plan: Plan
    course: Course
    twin: Course
    rows: Rows
    draws: int


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give the recording that the arguments fix, bit for bit.

    Args:
        seed: >= 0.
        klass: see `Klass`.
        rate_hz: of the rows, 5 to 2000; rig and story do not depend on it.
        channel_set: of the rig; None draws one.
    """
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Behind]:
    """Give the same recording and what lies behind it.

    Raises:
        ValueError: rate outside 5 to 2000 Hz, or a negative seed.
    """
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate {rate_hz} Hz, must be 5 to 2000 Hz")
    for attempt in range(_MOST_DRAWS):
        words = (seed, _KLASSES.index(klass), attempt)
        rig = draw_rig(Dice(*words, Stream.RIG), klass, channel_set)
        plan = write_plan(Dice(*words, Stream.PLAN), rig, klass, seed)
        slow = Dice(*words, Stream.FILM)
        residual_share, strictness, misread = slow.flat(0.0, 0.8), slow.flat(0.0, 1.0), slow.flat(0.96, 1.04)
        limits_degc = temperature_limits_degc(rig)
        given = lay_inputs(slow, rig, plan, lay_grid(rig, plan))
        course, twin = run_course(rig, plan, given, limits_degc, residual_share)
        found = find(rig, plan, course, limits_degc)
        if wrong_with(klass, rig, plan, course, twin, found):
            continue
        rows = lay_rows(Dice(*words, Stream.ROWS), rig, plan, course, rate_hz)
        sensing = Dice(*words, Stream.SENSORS)
        read = read_all(sensing, rig, rows, heard_db(rows, course, rig, plan, rate_hz), rate_hz)
        limits = limits_of(rig, plan, twin, strictness)
        seen = seen_by(rig, plan, (course, twin), rows.t_s, read, limits)
        truth = tell(klass, plan, found, seen)
        if plan.fault is not None:
            break_sensor(sensing, rig, plan.fault, rows.t_s, read)
            truth = replace(truth, seen_by=tuple(name for name in seen if name != plan.fault.channel))
        noted = disturb(Dice(*words, Stream.WIRES), rig, plan, rows.t_s, read)
        jitter = Dice(*words, Stream.JITTER)
        time_s, also_noted = stamp(Dice(*words, Stream.STAMPS), jitter, plan, rows.t_s, read)
        nuisances = sorted([*truth.nuisances, *noted, *also_noted, *_lasting(rig)], key=lambda n: n.t_s)
        on_clock = tuple(replace(n, t_s=float(clock(plan, np.array([n.t_s]))[0])) for n in nuisances)
        facts = _facts(misread, rig, plan, limits)
        recording = Recording(time_s, read, facts, replace(truth, nuisances=on_clock))
        return recording, Behind(rig, plan, course, twin, rows, attempt + 1)
    raise ValueError(f"seed {seed}, {klass}: drawn {_MOST_DRAWS} times and never what the class promises")


def _lasting(rig: Rig) -> list[Nuisance]:
    noted = []
    if rig.friction_cell.hum_share and "friction_force_n" in ranges_of(rig):
        noted.append(Nuisance(Kind.MAINS_HUM, 0.0))
    if "pin_temperature_degc" in ranges_of(rig) and rig.pin.step_k >= 0.5:
        noted.append(Nuisance(Kind.COARSE_TEMPERATURE, 0.0))
    start_share = rig.drive.current(rig.drive.torque(0.0, 1.0), 0.0, 1.0)
    if rig.drive.ramp_s == 0.0 and start_share * rig.drive.full_current_a > rig.current.range_a:
        noted.append(Nuisance(Kind.CURRENT_RAIL, 0.0))
    return noted


def _facts(misread: float, rig: Rig, plan: Plan, limits: dict[str, float]) -> RigFacts:
    drive = rig.drive
    idle_a = drive.current(drive.drag_share, 1.0, 1.0) * drive.full_current_a
    return RigFacts(
        ring_diameter_mm=round(2000.0 * rig.ring_radius_m, 2),
        ring_speed_rpm=rig.ring_speed_rpm,
        no_load_current_a=float(f"{idle_a * misread:.3g}"),
        ranges=ranges_of(rig),
        limits=limits,
        channel_set=rig.channel_set,
        drive=drive.kind,
        belt=bool(np.isfinite(drive.belt_share)),
        tachometer=rig.tachometer.kind,
        pulses_per_turn=rig.tachometer.pulses_per_turn,
        tachometer_on_motor=rig.tachometer.on_motor,
        loads_n=tuple(plan.loads_n),
    )
