"""One recording from one seed: rig, story, contact, drive, heat, sound, sensors, damage, truth.

Reads a seed, a class and a rate, gives a `Recording` and the noise-free world behind it.
"""

from dataclasses import dataclass

import numpy as np

from . import contact, damage, foresight, heat, loads, sensors, sound
from .draws import Draw
from .events import Story
from .rig_draws import draw_rig
from .rigs import Rig
from .spells import Spell, draw_spells
from .stories import channels_for, tell
from .truth import read_truth
from .turning import Load, Turning, turn
from .values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    ChannelSet,
    Fault,
    Flags,
    Floats,
    Inside,
    Kind,
    Klass,
    Nuisance,
    Recording,
)

MOST_TRIES = 60


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give one recording.

    Args:
        seed: >= 0; equal arguments give equal recordings, bit for bit. The rig and what happens do not depend on the
            rate.
        klass: what kind of recording.
        rate_hz: rows a second, 5 to 2000.
        channel_set: asked of the rig; drawn where none is asked, or where the class cannot do with the one asked.
    Returns:
        The recording.
    Raises:
        ValueError: the rate is outside the range above.
    """
    return simulate(seed, klass, rate_hz, channel_set)[0]


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give one recording as `generate`, and the noise-free world behind it."""
    if not 5.0 <= rate_hz <= 2000.0:
        raise ValueError(f"rate_hz is {rate_hz}, must be 5 to 2000")
    for attempt in range(MOST_TRIES):
        world = _World(seed, klass, rate_hz, attempt, channel_set)
        if world.suits():
            made = world.make()
            if made is not None:
                return made
    raise RuntimeError(f"no suitable rig in {MOST_TRIES} draws for {klass.value}, seed {seed}")


@dataclass(frozen=True, slots=True)
class _Grid:
    t_s: Floats
    on: Flags
    load_n: Floats
    since_start_s: Floats


class _World:
    """One try at one recording."""

    def __init__(self, seed: int, klass: Klass, rate_hz: float, attempt: int, channel_set: ChannelSet | None) -> None:
        self.key = (seed, list(Klass).index(klass), attempt)
        self.seed, self.klass, self.rate_hz = seed, klass, rate_hz
        self.wanted = channel_set if attempt < MOST_TRIES // 2 else None
        self.rig = draw_rig(self.stream(0), klass, self.wanted)

    def stream(self, number: int) -> Draw:
        return Draw(*self.key, number)

    def suits(self) -> bool:
        """Tell whether the rig has the channels its class needs."""
        has = CHANNELS_OF[self.rig.channel_set]
        if self.klass is Klass.OVERHEAT:
            return PIN_TEMPERATURE in has
        if self.klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
            return True
        channels = channels_for(list(Fault)[self.seed % 7], self.rig)
        return bool(channels) and (self.klass is Klass.SENSOR_FAULT or len(has) > 1)

    def make(self) -> tuple[Recording, Inside] | None:
        """Give the recording, or nothing where what was meant to happen did not."""
        story = tell(self.klass, self.seed, self.stream(1), self.rig)
        weather = heat.draw_weather(self.stream(2))
        if not foresight.as_meant(story):
            return None
        first_warmth = foresight.foresee(story, weather)
        if first_warmth is None:
            return None
        spells = draw_spells(self.stream(3), story)
        story.dips = [(s.t_s, s.duration_s) for s in spells if s.kind is Kind.BRIEF_DIP]
        grid = self._grid(story)
        friction_n, waves = self._friction(story, spells, grid, first_warmth)
        drag = 1.0 + self.rig.grease_share * np.exp(-foresight.age(story, grid.t_s) / self.rig.grease_s)
        load = Load(grid.t_s, foresight.supplied(story, grid.t_s, grid.on), friction_n, drag)
        turning = turn(story, load, self.rate_hz)
        _give_way(self.stream(9), self.rig, turning, waves, self.rate_hz)
        return self._measure(story, spells, grid, turning, (weather, waves))

    def _grid(self, story: Story) -> _Grid:
        t_s = np.arange(int(story.duration_s * self.rate_hz)) / self.rate_hz
        on = loads.motor_on(story.script, t_s)
        return _Grid(t_s, on, loads.load_waveform(story.script, t_s), loads.running_for_s(t_s, on, 600.0))

    def _friction(
        self, story: Story, spells: list[Spell], grid: _Grid, warmth: heat.Warmth
    ) -> tuple[Floats, list[tuple[slice, Floats, float]]]:
        """Give the friction force the contact would take at set speed, N, and the waves of stick-slip in it."""
        coarse_s = np.arange(0.0, story.duration_s + 0.2, 0.1)
        on = loads.motor_on(story.script, coarse_s)
        warmer_k = np.interp(coarse_s, warmth.t_s, warmth.bath_degc) - warmth.bath_degc[0]
        mu = contact.level(self.rig, loads.load_levels(story.script, coarse_s), warmer_k)
        mu *= contact.slow_ratio(story, spells, coarse_s, loads.running_for_s(coarse_s, on, 600.0))
        turns = np.cumsum(np.where(grid.on, self.rig.drive.set_rad_s, 0.0)) / (self.rate_hz * 2.0 * np.pi)
        force = np.interp(grid.t_s, coarse_s, contact.bend(mu)) * grid.load_n
        force *= 1.0 + self.rig.contact.runout_share * np.sin(2.0 * np.pi * turns)
        force *= contact.fast_ratio(self.stream(4), self.rig.contact, grid.t_s, self.rate_hz)
        contact.add_bursts(force, grid.t_s, contact.debris_bursts(spells))
        waves = []
        for number, spell in enumerate(s for s in spells if s.kind is Kind.STICK_SLIP):
            span, wave = contact.stick_slip_wave(self.stream(100 + number), spell, grid.t_s)
            wave = np.where(grid.on[span], wave, 1.0)
            force[span] *= wave
            waves.append((span, wave, spell.hz))
        for spell in spells:
            if spell.kind is Kind.SQUEAL:
                self._squeal(force, grid.t_s, spell)
        force *= contact.precursor_ratio(self.stream(5), story, grid.t_s, turns)
        if story.scuff is not None:
            force *= contact.scuffed_ratio(self.stream(6), story.scuff, grid.t_s, self.rate_hz)
        return np.maximum(force, 0.0), waves

    def _squeal(self, force: Floats, t_s: Floats, spell: Spell) -> None:
        draw = Draw(*self.key, 7, int(spell.t_s * 10.0))
        first, last = np.searchsorted(t_s, (spell.t_s, spell.t_s + spell.duration_s))
        since_s = t_s[first:last] - spell.t_s
        tone = np.sin(2.0 * np.pi * draw.within(900.0, 6000.0) * since_s)
        edge = np.minimum(1.0, np.minimum(since_s, spell.duration_s - since_s) / 0.2)
        force[first:last] *= 1.0 + edge * (draw.within(-0.05, 0.06) + draw.within(0.0, 0.08) * tone)

    def _measure(
        self,
        story: Story,
        spells: list[Spell],
        grid: _Grid,
        turning: Turning,
        given: tuple[heat.Weather, list[tuple[slice, Floats, float]]],
    ) -> tuple[Recording, Inside] | None:
        weather, waves = given
        power_w = turning.friction_n * turning.ring_rad_s * self.rig.ring_radius_m
        warmth = heat.march(story, weather, foresight.coarse_mean(power_w, grid.t_s))
        slips = sound.slips(grid.on, [(span, wave) for span, wave, _ in waves], len(grid.t_s))
        heard = sound.Heard(slips, spells)
        course = sensors.Course(
            t_s=grid.t_s,
            load_n=grid.load_n,
            turning=turning,
            sound_power=sound.sound_power(self.stream(8), story, grid.t_s, turning, heard),
            bath_degc=np.interp(grid.t_s, warmth.t_s, warmth.bath_degc),
            pin_degc=np.interp(grid.t_s, warmth.t_s, warmth.pin_degc),
        )
        facts = sensors.facts_of(self.stream(10), self.rig, tuple(story.script.loads_n))
        channels = sensors.read_channels(self.stream(11), story, course, self.rate_hz)
        found = self._spoil(story, spells, grid.t_s, channels)
        truth = read_truth(story, course, facts, channels, self.rate_hz)
        if truth is None:
            return None
        stamps, left, broken = damage.stamp(self.stream(13), story, grid.t_s)
        nuisances = sorted([*found, *broken], key=lambda n: n.t_s)
        recording = Recording(
            time_s=stamps[left],
            channels={name: read[left] for name, read in channels.items()},
            rig=facts,
            truth=truth.stamped(story, nuisances),
        )
        return recording, _inside(self.rig, course, warmth, foresight.supplied(story, grid.t_s, grid.on))

    def _spoil(self, story: Story, spells: list[Spell], t_s: Floats, channels: dict[str, Floats]) -> list[Nuisance]:
        draw, ranges = self.stream(12), sensors.ranges_of(self.rig)
        found = [*story.script.nuisances, *(spell.nuisance for spell in spells), *_standing(self.rig, t_s, channels)]
        found += damage.add_spikes(draw, self.rig, t_s, channels)
        for name, read in channels.items():
            read[:] = sensors.railed(read, ranges[name])
        if story.fault is not None:
            damage.apply_fault(draw, story.fault, self.rig, t_s, channels)
            if story.fault.fault in (Fault.DRIFT, Fault.SIGN_FLIP):
                name = story.fault.channel
                channels[name][:] = sensors.railed(channels[name], ranges[name])
        found += damage.drop_samples(draw, t_s, channels)
        end_s = float(t_s[-1])
        return [n for n in found if n.t_s < end_s]


def _give_way(draw: Draw, rig: Rig, turning: Turning, waves: list[tuple[slice, Floats, float]], rate_hz: float) -> None:
    """Let a soft drive swing with stick-slip: slower while the contact sticks."""
    softness = draw.log_within(0.01, 0.5)
    for span, wave, hz in waves:
        swing = contact.swing_of(wave, hz, rate_hz)
        slower = np.clip(1.0 - softness * swing, 0.6, 1.5)
        turning.ring_rad_s[span] *= slower
        turning.motor_rad_s[span] *= 1.0 + (slower - 1.0) * (0.5 if rig.drive.belt else 1.0)


def _standing(rig: Rig, t_s: Floats, channels: dict[str, Floats]) -> list[Nuisance]:
    """Give what lasts the whole recording, as nuisances."""
    whole_s, found = float(t_s[-1]), []
    if FRICTION_FORCE in channels and rig.sensing.hum_n > 0.0:
        found.append(Nuisance(Kind.MAINS_HUM, 0.0, whole_s))
    if PIN_TEMPERATURE in channels and rig.sensing.couple_step_k == 0.5:
        found.append(Nuisance(Kind.COARSE_TEMPERATURE, 0.0, whole_s))
    high = sensors.ranges_of(rig)[MOTOR_CURRENT][1]
    beyond = np.flatnonzero(channels[MOTOR_CURRENT] > high)
    if len(beyond):
        found.append(Nuisance(Kind.CURRENT_RAIL, float(t_s[beyond[0]])))
    return found


def _inside(rig: Rig, course: sensors.Course, warmth: heat.Warmth, on: Flags) -> Inside:
    turning = course.turning
    return Inside(
        t_s=course.t_s,
        normal_load_n=course.load_n,
        friction_force_n=turning.friction_n,
        motor_current_a=turning.current_a,
        ring_speed_rad_s=turning.ring_rad_s,
        motor_speed_rad_s=turning.motor_rad_s,
        shaft_torque_nm=turning.torque_nm,
        bath_temperature_degc=course.bath_degc,
        pin_temperature_degc=course.pin_degc,
        sound_level_db=10.0 * np.log10(course.sound_power),
        on=on,
        heat_in_j=warmth.heat_in_j,
        bath_heat_j=warmth.bath_heat_j,
        drag_torque_nm=rig.drive.drag_nm,
        ring_radius_m=rig.ring_radius_m,
    )
