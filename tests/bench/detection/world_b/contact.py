"""Friction ratio of the contact over time: the healthy one with all its unrest, and the damage on top.

Reads a story, load and temperature, gives arrays. Lubricated level: a Stribeck-like share of touching contact.
Stick-slip: cycles of a slider on a soft spring whose static friction grows with the logarithm of the time at rest
(Dieterich, J. Geophys. Res. 77 (1972) 3690; Ruina, J. Geophys. Res. 88 (1983) 10359). Scuffing: a sharp rise that does
not recover (Peng, Spikes, Kadiric, Tribol. Lett. 67 (2019)), preceded or not by hot spots that come and go (Matsuzaki,
Yagi, Sugimura, Tribol. Lett. 66 (2018)).
"""

import numpy as np

from .draws import Draw, lag, slow_unrest, unrest
from .events import Scuff, Story
from .rigs import Contact, Rig
from .spells import Spell
from .values import Floats, Kind, Precursor

HEALTHY_MOST = 0.19
"""Highest slow friction ratio of a healthy contact; above it the wish is bent, not cut."""


def level(rig: Rig, load_n: Floats, warmer_k: Floats) -> Floats:
    """Give the friction ratio of the run-in contact, (n,), from load (N) and warming (K), as `touching_share` does."""
    contact = rig.contact
    over = (np.maximum(load_n, 0.0) / contact.half_load_n) ** contact.half_power
    share = 1.0 - np.exp(-0.693 * over * np.exp(contact.thinning_per_k * warmer_k))
    return contact.mu_film + (contact.mu_boundary - contact.mu_film) * share


def slow_ratio(story: Story, spells: list[Spell], t_s: Floats, since_start_s: Floats) -> Floats:
    """Give the slow factor on the level: running-in, dry starts, film transitions, topped-up oil; (n,) ratio."""
    contact, log = story.rig.contact, np.zeros_like(t_s)
    before_n = story.script.first_load_n
    for move in story.script.moves:
        rise = max(move.to_n - before_n, 0.0) / story.rig.top_load_n
        before_n = move.to_n
        if rise > 0.02:
            first = np.searchsorted(t_s, move.t_s)
            excess = contact.running_in_share * min(1.0, 2.0 * rise)
            log[first:] += excess * np.exp(-(t_s[first:] - move.t_s) / contact.running_in_s)
    log += 0.3 * contact.dry_start_share * np.exp(-since_start_s / contact.dry_start_s)
    for break_s, _ in story.script.breaks:
        first = np.searchsorted(t_s, break_s)
        log[first:] += contact.dry_start_share * np.exp(-(t_s[first:] - break_s - 20.0).clip(0.0) / contact.dry_start_s)
    for spell in spells:
        if spell.kind is Kind.FILM_TRANSITION:
            log += spell.size * _step((t_s - spell.t_s) / spell.duration_s)
        elif spell.kind is Kind.OIL_TOP_UP:
            log -= spell.size * np.exp(-((t_s - spell.t_s - spell.duration_s) ** 2) / (2.0 * spell.duration_s**2))
    return np.exp(log)


def _step(x: Floats) -> Floats:
    y = np.clip(x, 0.0, 1.0)
    return y * y * (3.0 - 2.0 * y)


def bend(mu: Floats) -> Floats:
    """Give mu held softly below `HEALTHY_MOST`; unchanged far below it."""
    return mu / (1.0 + (mu / HEALTHY_MOST) ** 6) ** (1.0 / 6.0)


def fast_ratio(draw: Draw, contact: Contact, t_s: Floats, rate_hz: float) -> Floats:
    """Give the healthy unrest of the friction ratio around 1, (n,)."""
    slow = contact.wander_share * slow_unrest(draw, t_s, contact.wander_s)
    fast = contact.fast_share * unrest(draw, len(t_s), contact.fast_s, rate_hz)
    return np.maximum(1.0 + slow + fast, 0.2)


def add_bursts(ratio: Floats, t_s: Floats, bursts: list[tuple[float, float, float]]) -> None:
    """Multiply short rounded rises (begin s, duration s, size) into a ratio, in place."""
    for begin_s, duration_s, size in bursts:
        first, last = np.searchsorted(t_s, (begin_s, begin_s + duration_s))
        ratio[first:last] *= 1.0 + size * np.sin(np.pi * (t_s[first:last] - begin_s) / duration_s) ** 0.7


def debris_bursts(spells: list[Spell]) -> list[tuple[float, float, float]]:
    """Give the particles among the spells as bursts."""
    return [(s.t_s, s.duration_s, s.size) for s in spells if s.kind is Kind.DEBRIS]


def precursor_ratio(draw: Draw, story: Story, t_s: Floats, turns: Floats) -> Floats:
    """Give what the contact shows before it scuffs, as a factor around 1.

    Args:
        draw: a stream of its own.
        story: with a scuffing; without a precursor the answer is 1 throughout.
        t_s: (n,) s.
        turns: (n,) turns of the ring.
    Returns:
        (n,) ratio; 1 outside the precursor.
    """
    ratio = np.ones_like(t_s)
    if story.scuff is None or story.precursor is Precursor.NONE:
        return ratio
    begin_s, onset_s = story.precursor_s, story.scuff.onset_s
    first, last = np.searchsorted(t_s, (begin_s, onset_s))
    part = (t_s[first:last] - begin_s) / (onset_s - begin_s)
    if story.precursor is Precursor.BURSTS:
        add_bursts(ratio, t_s, burst_train(draw, begin_s, onset_s))
    elif story.precursor is Precursor.MICRO_SCUFF:
        length_s = min(draw.within(0.5, 3.0), 0.6 * (onset_s - begin_s))
        add_bursts(ratio, t_s, [(begin_s, length_s, draw.within(0.4, 1.3))])
        ratio[first:last] *= 1.0 + draw.within(0.0, 0.12) * part
    elif story.precursor is Precursor.ONCE_PER_TURN:
        patch = np.maximum(np.cos(2.0 * np.pi * (turns[first:last] - draw.within(0.0, 1.0))), 0.0) ** 6
        ratio[first:last] *= 1.0 + draw.within(0.2, 0.6) * np.sqrt(part) * patch
    else:
        coarse = slow_unrest(draw, t_s, draw.log_within(0.5, 4.0))[first:last]
        ratio[first:last] *= 1.0 + part * (draw.within(0.08, 0.3) + draw.within(0.03, 0.1) * coarse)
    return ratio


def burst_train(draw: Draw, begin_s: float, onset_s: float) -> list[tuple[float, float, float]]:
    """Give bursts whose rate and size grow towards the onset; the first begins at begin_s."""
    bursts, t_s = [], begin_s
    length_s = onset_s - begin_s
    while t_s < onset_s - 0.05:
        part = (t_s - begin_s) / length_s
        bursts.append((t_s, min(draw.log_within(0.05, 0.8), onset_s - t_s), draw.within(0.1, 0.3 + 0.4 * part)))
        t_s += draw.rng.exponential(max(length_s / 8.0, 0.8) * (1.15 - part)) + 0.1
    return bursts


def growth(scuff: Scuff, t_s: Floats) -> Floats:
    """Give how far the damage has gone, 0 before the onset to 1, (n,); friction is ratio to this power."""
    x = np.maximum(t_s - scuff.onset_s, 0.0) / scuff.rise_s
    # The scale is such that friction reaches three times its level after one rise_s, where it reaches it at all.
    goal = float(min(np.log(3.0) / np.log(scuff.ratio), 0.95))
    if scuff.shape == "saturating":
        return np.asarray(1.0 - np.exp(x * np.log(1.0 - goal)))
    if scuff.shape == "late":
        return np.asarray(np.minimum(goal * x**2, 1.0))
    if scuff.shape == "steps":
        stairs = np.minimum(np.floor(3.0 * x) / 3.0 + _step(3.0 * (3.0 * x - np.floor(3.0 * x))) / 3.0, 1.0 / goal)
        return np.asarray(np.minimum(goal * stairs, 1.0))
    return _step(x * _step_reach(goal))


def _step_reach(goal: float) -> float:
    grid = np.linspace(0.0, 1.0, 401)
    return float(np.interp(goal, _step(grid), grid))


def scuffed_ratio(draw: Draw, scuff: Scuff, t_s: Floats, rate_hz: float) -> Floats:
    """Give the factor of the damage on friction, with its chatter, (n,)."""
    ratio = np.ones_like(t_s)
    first = int(np.searchsorted(t_s, scuff.onset_s))
    done = growth(scuff, t_s[first:])
    chatter = 1.0 + scuff.chatter_share * np.sqrt(done) * unrest(draw, len(done), scuff.chatter_s, rate_hz)
    ratio[first:] = scuff.ratio**done * np.clip(chatter, 0.3, 2.0)
    return ratio


def stick_slip_wave(draw: Draw, spell: Spell, t_s: Floats) -> tuple[slice, Floats]:
    """Give where a spell of stick-slip lies and friction there, over its mean, cycle by cycle.

    Args:
        draw: a stream of its own.
        spell: `size` is the drop from peak to trough over the mean.
        t_s: (n,) s.
    Returns:
        The slice of t_s, and (k,) ratio around 1.
    """
    period_s, ageing_s = 1.0 / spell.hz, draw.log_within(0.01, 0.3) / spell.hz
    slip_s = min(0.25 * period_s, draw.log_within(0.006, 0.05))
    grown = np.log1p(period_s / ageing_s)
    knots_s, knots = [spell.t_s], [1.0]
    trough, rested_s, now_s = 1.0 - 0.5 * spell.size, period_s, spell.t_s
    end_s, mean_shift = spell.t_s + spell.duration_s, draw.within(-0.04, 0.1)
    jitter = draw.log_within(0.02, 0.25)
    while now_s < end_s:
        peak = 1.0 + 0.5 * spell.size * np.log1p(rested_s / ageing_s) / grown * (1.0 + jitter * draw.normal())
        rested_s = max(period_s * (peak - trough) / spell.size, 0.2 * period_s)
        trough = 1.0 - 0.5 * spell.size * (1.0 + 0.5 * jitter * draw.normal())
        knots_s += [now_s + rested_s, now_s + rested_s + slip_s]
        knots += [peak, trough]
        now_s += rested_s + slip_s
    first, last = np.searchsorted(t_s, (spell.t_s, end_s))
    wave = np.interp(t_s[first:last], knots_s, knots)
    edge = np.minimum(1.0, np.minimum(t_s[first:last] - spell.t_s, end_s - t_s[first:last]) / max(0.5, period_s))
    return slice(int(first), int(last)), 1.0 + (wave - 1.0 + mean_shift) * edge


def swing_of(wave: Floats, hz: float, rate_hz: float) -> Floats:
    """Give how a soft drive gives way to stick-slip: the wave without its mean over a few cycles, (k,)."""
    return wave - lag(wave, 1.5 / hz, rate_hz)
