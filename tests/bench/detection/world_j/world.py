"""Makes a recording: draws a rig and a story, runs it well, sets the limits, runs it with its event, reads it.

What does not keep the promise of its class is drawn again, with the next attempt's random numbers.
"""

from dataclasses import dataclass

import numpy as np
from world_b import values as v
from world_b.values import CHANNELS_OF, ChannelSet, Flags, Floats, Inside, Klass, Recording

from . import events, friction_story, instruments, limits, operators, rows, sounds, tachometers, touches, truth, views
from .friction_story import FrictionStory
from .heat import STEP_S, Extra
from .physics import Course, run
from .rigs import Rig, draw_rig
from .scripts import Event, Script

MOST_ATTEMPTS = 400
LIMITS_RATE_HZ = 100.0


@dataclass(frozen=True, slots=True)
class Seeds:
    """Gives independent random numbers for every purpose of an attempt."""

    seed: int
    klass: Klass
    attempt: int

    def of(self, purpose: str) -> np.random.Generator:
        """Give the generator of a purpose; equal purposes give equal numbers."""
        place = list(Klass).index(self.klass)
        return np.random.default_rng([self.seed, place, self.attempt, *purpose.encode()])

    def of_channels(self, purpose: str) -> dict[str, np.random.Generator]:
        """Give one generator for each channel."""
        return {name: self.of(f"{purpose} {name}") for name in CHANNELS_OF[ChannelSet.ALL]}


@dataclass(frozen=True, slots=True)
class Story:
    """An attempt that kept its promise, before any reading with its event in it."""

    seeds: Seeds
    rig: Rig
    script: Script
    event: Event
    friction: FrictionStory
    course: Course
    sound_db: Floats
    panel: instruments.Panel
    counter: tachometers.Counter
    limits: dict[str, float]


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give a recording; see `simulate`."""
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and the noise-free world behind it.

    Args:
        seed: any whole number >= 0; equal arguments give equal bits.
        klass: what happens.
        rate_hz: rows a second, 5 to 2000; does not change what happens.
        channel_set: drawn where None; does not change what happens.
    Raises:
        ValueError: rate out of range.
    """
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate_hz is {rate_hz}, must be 5 to 2000")
    if channel_set is None:
        draw = np.random.default_rng([seed, list(Klass).index(klass), 7])
        channel_set = list(ChannelSet)[int(draw.choice(5, p=[0.5, 0.14, 0.14, 0.11, 0.11]))]
    for attempt in range(MOST_ATTEMPTS):
        story = _attempt(Seeds(seed, klass, attempt), CHANNELS_OF[channel_set])
        if story is not None:
            return _record(story, rate_hz, channel_set)
    raise RuntimeError(f"no recording of {klass} kept its promise in {MOST_ATTEMPTS} attempts, seed {seed}")


def _attempt(seeds: Seeds, channels: tuple[str, ...]) -> Story | None:
    rig = draw_rig(seeds.of("rig"))
    event, duration_s, quiet_s = events.draw_event(seeds.of("event"), seeds.klass)
    script = operators.write_script(
        seeds.of("operator"), seeds.klass, duration_s, quiet_s, rig.top_load_n, rig.drive.start_up_s
    )
    t_s = np.arange(int(duration_s / STEP_S) + 1) * STEP_S
    load = touches.load_n(seeds.of("lever"), script, rig, t_s)
    on = touches.switched_on(script, t_s)
    seizing = _seizing_coefficient(rig, event, float(load[-1]))
    if event.seizes and seizing > 1.6:
        return None
    friction = friction_story.healthy_story(seeds.of("contact"), seeds.klass, script, rig, t_s, load, on)
    outside = sounds.outside_power(seeds.of("hall"), rig, script, t_s)
    panel = instruments.draw_panel(seeds.of("panel"), rig, script)
    counter = tachometers.draw_counter(seeds.of("tachometer"), rig)
    warm = float(seeds.of("warm").uniform(0.6, 1.0))
    nothing = Extra(np.zeros_like(t_s), np.zeros_like(t_s), np.ones_like(t_s))
    well = run(rig, script, friction, t_s, load, on, nothing, warm)
    if not truth.healthy_enough(rig, well):
        return None
    well_db = sounds.level_db(seeds.of("sound"), rig, well, friction, outside)
    row_s = row_times(duration_s, LIMITS_RATE_HZ)
    read = views.readings(
        seeds.of_channels("noise"), panel, counter, well, well_db,
        views.inside_at(rig, well, friction, well_db, row_s), LIMITS_RATE_HZ,
    )  # fmt: skip
    wear = rows.draw_wear(seeds.of("wear"), Script(duration_s, quiet_s))
    rows.mark(wear, row_s, read, usual_levels(rig))
    chosen = limits.set_limits(
        seeds.of("limits"), rig, read, float(np.max(well.pin_degc)), float(np.max(well.bath_degc))
    )
    course, sound_db = well, well_db
    if event != Event():
        friction = friction_story.with_event(seeds.of("scuffing"), friction, event, t_s, seizing)
        extra = _from_outside(rig, event, well, chosen)
        still_on = on & ~(t_s >= event.supply_s)
        course = run(rig, script, friction, t_s, load, still_on, extra, warm)
        sound_db = sounds.level_db(seeds.of("sound"), rig, course, friction, outside)
    times = truth.read_times(rig, event, course, chosen, channels)
    everywhere = truth.read_times(rig, event, course, chosen, CHANNELS_OF[ChannelSet.ALL])
    if not truth.keeps_promise(rig, seeds.klass, event, course, everywhere, chosen):
        return None
    return Story(seeds, rig, script, event, friction, course, sound_db, panel, counter, chosen)


def row_times(duration_s: float, rate_hz: float) -> Floats:
    """Give the times of all rows, s."""
    return np.arange(int(duration_s * rate_hz)) / rate_hz


def usual_levels(rig: Rig) -> dict[str, float]:
    """Give each channel's healthy level or, for temperatures, a usual change, in its unit."""
    return {
        v.NORMAL_LOAD: rig.top_load_n,
        v.FRICTION_FORCE: 0.1 * rig.top_load_n,
        v.MOTOR_CURRENT: rig.drive.rated_current_a,
        v.SOUND_LEVEL: 10.0,
        v.PIN_TEMPERATURE: 30.0,
        v.BATH_TEMPERATURE: 30.0,
        v.RING_SPEED: rig.drive.free_speed_rad_s * 30.0 / np.pi,
    }


def _seizing_coefficient(rig: Rig, event: Event, load_n: float) -> float:
    if not event.seizes or load_n <= 0.0:
        return 0.0
    pull_nm = min(rig.drive.holding_torque_nm, rig.belt_torque_nm if rig.belt else np.inf)
    return max(1.3 * pull_nm / (load_n * rig.radius_m), event.scuffed_coefficient)


def _from_outside(rig: Rig, event: Event, well: Course, chosen: dict[str, float]) -> Extra:
    t_s = well.t_s
    jam, bath_w, pin = np.zeros_like(t_s), np.zeros_like(t_s), np.ones_like(t_s)
    if np.isfinite(event.jam_s):
        full_nm = 1.6 * rig.drive.holding_torque_nm
        jam = full_nm * np.clip((t_s - event.jam_s) / event.jam_rise_s, 0.0, 1.0)
    if np.isfinite(event.heat_s):
        k = int(event.heat_s / STEP_S)
        missing_k = chosen[v.PIN_TEMPERATURE] - float(well.pin_degc[k])
        excess_k = float(well.pin_degc[k] - well.bath_degc[k])
        grown = np.clip((t_s - event.heat_s) / 5.0, 0.0, 1.0)
        heat = rig.heat
        if event.bath_heated or excess_k < 3.0:
            capacity_j_k = heat.bath_j_k + heat.ring_j_k + heat.pin_j_k
            bath_w = grown * missing_k * (capacity_j_k / event.heat_for_s + 0.5 * heat.bath_w_k)
        else:
            pin = 1.0 - grown * (1.0 - max(excess_k / (excess_k + 1.6 * missing_k), 0.03))
    return Extra(jam, bath_w, pin)


def _record(story: Story, rate_hz: float, channel_set: ChannelSet) -> tuple[Recording, Inside]:
    seeds, rig, script, event = story.seeds, story.rig, story.script, story.event
    names = CHANNELS_OF[channel_set]
    fault = rows.draw_fault(seeds.of("fault"), seeds.klass, script, event, names)
    wear = rows.draw_wear(seeds.of("wear"), script)
    row_s, channels, inside = _channels(story, fault, wear, rate_hz, names)
    shown = (row_s, channels)
    if rate_hz != LIMITS_RATE_HZ:
        shown = _channels(story, fault, wear, LIMITS_RATE_HZ, names)[:2]
    facts = limits.write_facts(seeds.of("facts"), rig, story.panel, story.counter, script, story.limits, channel_set)
    warned = tuple(n for n in (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE) if n in facts.limits)
    seen = truth.seen_by(seeds.klass, event, script, *shown, story.panel, warned)
    times = truth.read_times(rig, event, story.course, story.limits, names)
    stamped, kept = rows.stamps(wear, row_s)
    stamped = np.where(row_s >= script.day_s, stamped + script.day_gap_s, stamped)
    recording = Recording(
        time_s=stamped[kept],
        channels={name: values[kept] for name, values in channels.items()},
        rig=facts,
        truth=truth.write_truth(seeds.klass, event, script, times, fault, seen),
    )
    return recording, inside


def _channels(
    story: Story, fault: rows.SensorFault | None, wear: rows.Wear, rate_hz: float, names: tuple[str, ...]
) -> tuple[Floats, dict[str, Floats], Inside]:
    row_s = row_times(story.script.duration_s, rate_hz)
    inside = views.inside_at(story.rig, story.course, story.friction, story.sound_db, row_s)
    rngs = story.seeds.of_channels("noise")
    read = views.readings(rngs, story.panel, story.counter, story.course, story.sound_db, inside, rate_hz)
    usual = usual_levels(story.rig)
    rows.mark(wear, row_s, read, usual)
    if fault is not None:
        chain = story.panel.by_channel[fault.channel]
        read[fault.channel] = rows.spoil(fault, row_s, read[fault.channel], chain, usual[fault.channel])
    return row_s, {name: read[name] for name in names}, inside
