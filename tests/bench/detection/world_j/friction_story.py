"""How friction changes by the contact itself. Reads rig, script and event, gives arrays, notes what is healthy."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from world_b.values import NAN, Flags, Floats, Kind, Klass, Precursor

from .draws import log_uniform
from .filters import smooth_step, wander
from .rigs import Contact, Rig
from .scripts import Event, Script

Episodes = Iterator[tuple[Flags, Floats]]


@dataclass(frozen=True, slots=True)
class FrictionStory:
    """What multiplies or replaces the friction coefficient, each (n,)."""

    factor: Floats  # on the healthy coefficient, -
    severity: Floats  # 0 healthy, 1 scuffed
    scuffed_coefficient: Floats  # towards which severity leads, -
    patch_share: Floats  # height of the hot patch that passes once a turn, as a share of force
    squeal_db: Floats  # what the contact adds to its sound beyond its power
    scrape_share: Floats  # how scuffed it sounds, 0 to 1
    oil_s: float  # when oil is topped up
    oil_k: float  # what that does to the bath


def healthy_story(
    rng: np.random.Generator, klass: Klass, script: Script, rig: Rig, t_s: Floats, load_n: Floats, on: Flags
) -> FrictionStory:
    """Give a contact that stays well."""
    contact, step_s = rig.contact, float(t_s[1] - t_s[0])
    running_s = np.cumsum(on & (load_n > 0.02 * rig.top_load_n)) * step_s
    age_s = float(rng.uniform(100.0, 1000.0)) if script.mid_run else float(rng.uniform(0.0, 300.0))
    factor = 1.0 - contact.build_up_share * (1.0 - np.exp(-(running_s + age_s) / contact.build_up_s))
    factor *= 1.0 + _run_in(contact, script, t_s)
    factor *= 1.0 + contact.wander_share * wander(rng, t_s.size, step_s, contact.wander_s)
    factor *= 1.0 + contact.flutter_share * wander(rng, t_s.size, step_s, contact.flutter_s)
    factor *= _film_transitions(rng, script, t_s)
    factor *= 1.0 + _particles(rng, script, t_s)
    factor *= 1.0 + _stick_slip(rng, klass, script, t_s)
    zeros, squeal_db, oil_s, oil_k = np.zeros_like(t_s), np.zeros_like(t_s), NAN, 0.0
    for part, envelope in _episodes(rng, script, t_s, klass is Klass.SQUEAL, Kind.SQUEAL):
        squeal_db[part] = float(rng.uniform(6.0, 24.0)) * envelope
    if rng.random() < 0.07:
        oil_s, oil_k = float(rng.uniform(0.3, 0.8)) * script.quiet_s, -float(rng.uniform(1.0, 6.0))
        script.note(Kind.OIL_TOP_UP, oil_s)
    return FrictionStory(factor, zeros, zeros + 0.1, zeros, squeal_db, zeros, oil_s, oil_k)


def with_event(
    rng: np.random.Generator, story: FrictionStory, event: Event, t_s: Floats, seizing_coefficient: float
) -> FrictionStory:
    """Give the story with precursor and scuffing in it; seizing_coefficient is what stops this rig's ring."""
    if not np.isfinite(event.onset_s):
        return story
    step_s = float(t_s[1] - t_s[0])
    extra, patch = _precursor(rng, event, t_s)
    rise = np.clip((t_s - event.onset_s) / event.rise_s, 0.0, None)
    target = seizing_coefficient if event.seizes else event.scuffed_coefficient
    if event.seizes:
        severity = np.expm1(2.0 * np.clip(rise, 0.0, 1.3)) / np.expm1(2.0)
    else:
        severity = np.clip(rise, 0.0, 1.0) ** float(rng.uniform(0.6, 2.0))
    if np.isfinite(event.ease_s):
        down = smooth_step(t_s, event.ease_s, 1.5) - smooth_step(t_s, event.ease_s + event.ease_for_s, 0.6)
        severity = severity * (1.0 - event.ease_share * down)
    unrest = 0.1 * wander(rng, t_s.size, step_s, 0.25) + 0.07 * wander(rng, t_s.size, step_s, 3.0)
    scuffed = np.clip(target * (1.0 + unrest), 0.75 * target, None)
    scrape = np.clip(severity + np.clip(extra, 0.0, 0.5), 0.0, 1.0)
    changed = {"severity": severity, "scuffed_coefficient": scuffed, "patch_share": patch, "scrape_share": scrape}
    return replace(story, factor=story.factor * (1.0 + extra), **changed)


def _precursor(rng: np.random.Generator, event: Event, t_s: Floats) -> tuple[Floats, Floats]:
    extra, patch = np.zeros_like(t_s), np.zeros_like(t_s)
    if event.precursor is Precursor.NONE:
        return extra, patch
    lead_s = event.onset_s - event.first_s
    grown = np.clip((t_s - event.first_s) / lead_s, 0.0, 1.0)
    begun = (t_s >= event.first_s).astype(np.float64)
    if event.precursor is Precursor.ONCE_PER_TURN:
        patch = begun * event.growth * (0.35 + 0.65 * grown) * np.clip((t_s - event.first_s) / 1.0, 0.0, 1.0)
    elif event.precursor is Precursor.CREEP:
        unrest = 0.12 * wander(rng, t_s.size, float(t_s[1] - t_s[0]), 0.3)
        extra = np.clip(event.growth * grown**1.3 * (1.0 + unrest) + grown * 0.5 * event.growth * unrest, 0.0, None)
    elif event.precursor is Precursor.MICRO_SCUFF:
        heal_s = min(float(rng.uniform(3.0, 15.0)), lead_s / 4.0)
        late_s = np.clip(t_s - event.first_s, 0.0, None)
        extra = (
            begun * (event.growth + 0.4) * np.clip(late_s / min(0.4, lead_s / 8.0), 0.0, 1.0) * np.exp(-late_s / heal_s)
        )
    else:
        now_s, pause_s = event.first_s, float(np.clip(lead_s / 10.0, 0.4, 12.0))
        while now_s < event.onset_s:
            length_s, height = log_uniform(rng, 0.08, 0.8), event.growth * float(rng.uniform(0.5, 1.0))
            inside = (t_s >= now_s) & (t_s < now_s + length_s)
            swell = np.sin(np.pi * (t_s[inside] - now_s) / length_s) ** 0.5
            extra[inside] = height * swell * (0.6 + 0.4 * grown[inside])
            now_s += length_s + float(rng.exponential(pause_s))
            pause_s *= 0.93
    return extra, patch


def _run_in(contact: Contact, script: Script, t_s: Floats) -> Floats:
    extra, highest_n = np.zeros_like(t_s), 0.0
    for change in script.loads:
        if change.load_n > highest_n * 1.02:
            fresh = np.log2(min(change.load_n / highest_n, 2.0)) if highest_n > 0.0 else 0.6
            if change.t_s > -50.0:
                late_s = t_s - change.t_s
                extra += np.where(late_s > 0.0, contact.run_in_share * fresh * np.exp(-late_s / contact.run_in_s), 0.0)
            highest_n = change.load_n
    return np.clip(extra, 0.0, 0.35)


def _film_transitions(rng: np.random.Generator, script: Script, t_s: Floats) -> Floats:
    factor = np.ones_like(t_s)
    if rng.random() < 0.25 and script.quiet_s > 150.0:
        length_s = min(log_uniform(rng, 40.0, 400.0), 0.5 * script.quiet_s)
        begin_s = float(rng.uniform(0.2 * script.quiet_s, script.quiet_s - length_s))
        size = float(rng.uniform(0.08, 0.3)) * (1.0 if rng.random() < 0.5 else -1.0)
        factor += size * smooth_step(t_s, begin_s, length_s)
        script.note(Kind.FILM_TRANSITION, begin_s, length_s)
    return factor


def _particles(rng: np.random.Generator, script: Script, t_s: Floats) -> Floats:
    extra = np.zeros_like(t_s)
    many = log_uniform(rng, 0.3, 4.0) * script.quiet_s / 600.0 if rng.random() < 0.5 else 0.0
    for begin_s in np.sort(rng.uniform(20.0, max(script.quiet_s, 21.0), int(rng.poisson(many)))):
        height = log_uniform(rng, 0.04, 0.7)
        length_s = log_uniform(rng, 0.03, 1.5 if height < 0.3 else 0.3)
        late_s = t_s - begin_s
        passing = (late_s >= 0.0) & (late_s < 4.0 * length_s)
        extra[passing] += height * np.exp(-late_s[passing] / length_s)
        script.note(Kind.DEBRIS, begin_s, 2.0 * length_s)
    return extra


def _episodes(rng: np.random.Generator, script: Script, t_s: Floats, often: bool, kind: Kind) -> Episodes:
    """Give rows and envelope (0 to 1) of each episode, and note it."""
    now_s, done = float(rng.uniform(0.1, 0.5)) * script.quiet_s, not often and rng.random() > 0.06
    while now_s < script.quiet_s - 12.0 and not done:
        length_s = min(log_uniform(rng, 3.0, 80.0), script.quiet_s - now_s - 5.0)
        part = (t_s >= now_s) & (t_s < now_s + length_s)
        late_s = t_s[part] - now_s
        yield part, np.clip(np.minimum(late_s, length_s - late_s) / 0.5, 0.0, 1.0)
        script.note(kind, now_s, length_s)
        now_s += length_s + float(rng.uniform(10.0, 120.0))
        done = not often


def _stick_slip(rng: np.random.Generator, klass: Klass, script: Script, t_s: Floats) -> Floats:
    swing, step_s = np.zeros_like(t_s), float(t_s[1] - t_s[0])
    for part, envelope in _episodes(rng, script, t_s, klass is Klass.STICK_SLIP, Kind.STICK_SLIP):
        turns = np.cumsum(1.0 + 0.15 * wander(rng, envelope.size, step_s, 0.3)) * step_s
        phase = turns * log_uniform(rng, 2.0, 18.0) % 1.0
        saw = np.where(phase < 0.85, phase / 0.85, (1.0 - phase) / 0.15) - 0.5
        swing[part] = float(rng.uniform(0.12, 0.55)) * saw * envelope
    return swing
