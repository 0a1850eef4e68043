"""Makes a recording: draws rig and story until they keep the promise of the class, runs them well and ill, reads."""

from dataclasses import dataclass, replace

import numpy as np
from world_b import values as v
from world_b.values import CHANNELS_OF, ChannelSet, Floats, Inside, Klass, Recording

from . import friction_story, instruments, limits, operators, rows, sounds, truth, views
from .friction_story import FrictionStory
from .physics import STEP_S, Course, Extra, run
from .rigs import Rig, draw_rig
from .scripts import Event, Script, draw_event

MOST_ATTEMPTS = 400
LIMITS_RATE_HZ = 100.0
ALL_SEVEN = CHANNELS_OF[ChannelSet.ALL]


@dataclass(frozen=True, slots=True)
class Seeds:
    """Gives independent random numbers for every purpose of an attempt."""

    seed: int
    klass: Klass
    attempt: int

    def of(self, purpose: str) -> np.random.Generator:
        """Give the generator of a purpose; equal purposes give equal numbers."""
        return np.random.default_rng([self.seed, list(Klass).index(self.klass), self.attempt, *purpose.encode()])


@dataclass(frozen=True, slots=True)
class Story:
    """An attempt that kept its promise, before its event is read by any instrument."""

    seeds: Seeds
    rig: Rig
    script: Script
    event: Event
    friction: FrictionStory
    course: Course
    sound_db: Floats
    panel: instruments.Panel
    limits: dict[str, float]
    wear: list[rows.Wear]

    def read(self, rate_hz: float, fault: rows.SensorFault | None = None) -> tuple[Inside, dict[str, Floats]]:
        """Give the noise-free world and all seven channels at a rate; a channel reads the same in any set."""
        row_s = np.arange(int(self.script.duration_s * rate_hz)) / rate_hz
        inside = views.inside_at(self.rig, self.course, self.friction, self.sound_db, row_s)
        rngs = {name: self.seeds.of(f"noise {name}") for name in ALL_SEVEN}
        read, usual = (
            views.readings(rngs, self.panel, self.course, self.sound_db, inside, rate_hz),
            usual_levels(self.rig),
        )
        rows.mark(self.wear, row_s, read, usual)
        if fault is not None:
            name = fault.channel
            read[name] = rows.spoil(fault, row_s, read[name], self.panel.by_channel[name], usual[name])
        return inside, read


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording; see `simulate`."""
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording of rate_hz rows a second (5 to 2000, else ValueError) and the noise-free world behind it."""
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate_hz is {rate_hz}, must be 5 to 2000")
    if channel_set is None:
        draw = np.random.default_rng([seed, list(Klass).index(klass), 7])
        blind = 0.0 if klass is Klass.OVERHEAT else 0.11  # nobody sees an overheat without a thermocouple
        channel_set = list(ChannelSet)[int(draw.choice(5, p=[0.5, 0.25 - blind, 0.25 - blind, blind, blind]))]
    for attempt in range(MOST_ATTEMPTS):
        story = _attempt(Seeds(seed, klass, attempt))
        if story is not None:
            return _record(story, rate_hz, channel_set)
    raise RuntimeError(f"no recording of {klass} kept its promise in {MOST_ATTEMPTS} attempts, seed {seed}")


def _attempt(seeds: Seeds) -> Story | None:
    of, klass, rig = seeds.of, seeds.klass, draw_rig(seeds.of("rig"))
    event, duration_s, quiet_s = draw_event(of("event"), klass)
    script = operators.write_script(of("operator"), klass, duration_s, quiet_s, rig.top_load_n, rig.drive.start_up_s)
    if quiet_s < 120.0 or (klass is Klass.STARTS_AND_STOPS and len(script.switches) < 7):
        return None
    t_s = np.arange(int(duration_s / STEP_S) + 1) * STEP_S
    load, on = operators.lever_load_n(of("lever"), script, rig, t_s), operators.switched_on(script, t_s)
    pull_nm = min(rig.drive.holding_torque_nm, rig.belt_torque_nm if rig.belt else np.inf)
    seizing = max(1.3 * pull_nm / (max(float(load[-1]), 1.0) * rig.radius_m), event.scuffed_coefficient)
    if event.seizes and seizing > 1.6:
        return None
    healthy = friction_story.healthy_story(of("contact"), klass, script, rig, t_s, load, on)
    outside, warm = sounds.outside_power(of("hall"), rig, script, t_s), float(of("warm").uniform(0.6, 1.0))
    well = run(rig, script, healthy, t_s, load, on, Extra(0.0 * t_s, 0.0 * t_s, 1.0 + 0.0 * t_s), warm)
    if not truth.healthy_enough(rig, well):
        return None
    well_db = sounds.level_db(of("sound"), rig, well, healthy, outside)
    panel, wear = instruments.draw_panel(of("panel"), rig, script), rows.draw_wear(of("wear"), script)
    twin = Story(seeds, rig, script, Event(), healthy, well, well_db, panel, {}, wear)
    hottest = {v.PIN_TEMPERATURE: float(np.max(well.pin_degc)), v.BATH_TEMPERATURE: float(np.max(well.bath_degc))}
    chosen = limits.set_limits(of("limits"), rig, twin.read(LIMITS_RATE_HZ)[1], hottest)
    if event == Event():
        return replace(twin, limits=chosen)
    friction = friction_story.with_event(of("scuffing"), healthy, event, t_s, seizing)
    still_on = on & ~(t_s >= event.supply_s)
    course = run(rig, script, friction, t_s, load, still_on, _from_outside(rig, event, well, chosen), warm)
    if not truth.keeps_promise(rig, klass, event, course, chosen):
        return None
    sound_db = sounds.level_db(of("sound"), rig, course, friction, outside)
    return replace(twin, event=event, friction=friction, course=course, sound_db=sound_db, limits=chosen)


def usual_levels(rig: Rig) -> dict[str, float]:
    """Give each channel's healthy level or, for temperatures, a usual change, in its unit."""
    speed_rpm = rig.drive.free_speed_rad_s * 30.0 / np.pi
    levels = (rig.top_load_n, 0.1 * rig.top_load_n, rig.drive.rated_current_a, 10.0, 30.0, 30.0, speed_rpm)
    return dict(zip(ALL_SEVEN, levels, strict=True))


def _from_outside(rig: Rig, event: Event, well: Course, chosen: dict[str, float]) -> Extra:
    t_s, heat = well.t_s, rig.heat
    jam_nm, bath_w, pin = 0.0 * t_s, 0.0 * t_s, 1.0 + 0.0 * t_s
    if np.isfinite(event.jam_s):
        jam_nm = 1.6 * rig.drive.holding_torque_nm * np.clip((t_s - event.jam_s) / event.jam_rise_s, 0.0, 1.0)
    if np.isfinite(event.heat_s):
        k = int(event.heat_s / STEP_S)
        missing_k = chosen[v.PIN_TEMPERATURE] - float(well.pin_degc[k])
        excess_k = float(well.pin_degc[k] - well.bath_degc[k])
        grown = np.clip((t_s - event.heat_s) / 5.0, 0.0, 1.0)
        if event.bath_heated or excess_k < 3.0:
            capacity_j_k = heat.bath_j_k + heat.ring_j_k + heat.pin_j_k
            bath_w = grown * missing_k * (capacity_j_k / event.heat_for_s + 0.5 * heat.bath_w_k)
        else:
            pin = 1.0 - grown * (1.0 - max(excess_k / (excess_k + 1.6 * missing_k), 0.03))
    return Extra(jam_nm, bath_w, pin)


def _record(story: Story, rate_hz: float, channel_set: ChannelSet) -> tuple[Recording, Inside]:
    of, rig, script, event, names = story.seeds.of, story.rig, story.script, story.event, CHANNELS_OF[channel_set]
    fault = rows.draw_fault(of("fault"), story.seeds.klass, script, event, names)
    inside, read = story.read(rate_hz, fault)
    shown, shown_read = (inside, read) if rate_hz == LIMITS_RATE_HZ else story.read(LIMITS_RATE_HZ, fault)
    facts = limits.write_facts(of("facts"), rig, story.panel, script.levels_n, story.limits, channel_set)
    seen = truth.seen_by(event, script, shown.t_s, {name: shown_read[name] for name in names}, story.panel)
    times = truth.read_times(rig, event, story.course, story.limits, names)
    told = truth.write_truth(story.seeds.klass, event, script, times, fault, seen)
    stamped, kept = rows.stamps(story.wear, inside.t_s)
    stamped = np.where(inside.t_s >= script.day_s, stamped + script.day_gap_s, stamped)
    return Recording(stamped[kept], {name: read[name][kept] for name in names}, facts, told), inside
