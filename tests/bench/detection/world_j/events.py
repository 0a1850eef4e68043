"""Draws what goes wrong, and when. Reads the class and random draws, gives an `Event` and the recording's length."""

import numpy as np
from world_b.values import SCUFFINGS, Klass, Precursor

from .draws import log_uniform
from .scripts import Event

LONG = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)


def draw_event(rng: np.random.Generator, klass: Klass) -> tuple[Event, float, float]:
    """Give the event, the recording's length in s, and from when nobody touches the rig, in s."""
    duration_s = float(rng.uniform(2400.0, 3600.0) if klass is Klass.ENDURANCE else rng.uniform(370.0, 900.0))
    after_s = float(rng.uniform(15.0, 70.0))
    before_s = float(rng.uniform(10.0, 40.0))
    moment_s = duration_s - after_s
    if klass in SCUFFINGS or klass is Klass.SEIZURE:
        event = _scuffing(rng, klass, moment_s)
        return event, duration_s, event.first_s - before_s
    if klass is Klass.JAM:
        return Event(jam_s=moment_s, jam_rise_s=log_uniform(rng, 0.02, 2.0)), duration_s, moment_s - before_s
    if klass is Klass.OVERHEAT:
        heat_for_s = log_uniform(rng, 50.0, 220.0)
        heat_s = duration_s - 1.25 * heat_for_s - after_s
        return (
            Event(heat_s=heat_s, heat_for_s=heat_for_s, bath_heated=bool(rng.random() < 0.6)),
            duration_s,
            heat_s - 10.0,
        )
    if klass is Klass.SUPPLY_LOST:
        return Event(supply_s=moment_s), duration_s, moment_s - before_s
    return Event(), duration_s, duration_s


def _scuffing(rng: np.random.Generator, klass: Klass, onset_s: float) -> Event:
    lead_s, precursor = _precursor(rng, klass)
    eases = klass is not Klass.SEIZURE and rng.random() < 0.35
    rise_s = log_uniform(rng, 0.5, 12.0) if klass is Klass.SEIZURE else log_uniform(rng, 0.05, 6.0)
    return Event(
        precursor=precursor,
        first_s=onset_s - lead_s,
        growth=log_uniform(rng, 0.12, 0.6),
        onset_s=onset_s,
        rise_s=rise_s,
        scuffed_coefficient=float(rng.uniform(0.2, 0.6)),
        ease_s=onset_s + rise_s + float(rng.uniform(3.0, 15.0)) if eases else float("nan"),
        ease_for_s=float(rng.uniform(2.0, 15.0)),
        ease_share=float(rng.uniform(0.3, 0.75)),
        seizes=klass is Klass.SEIZURE,
    )


def _precursor(rng: np.random.Generator, klass: Klass) -> tuple[float, Precursor]:
    if klass is Klass.SCUFFING_LONG:
        return log_uniform(rng, 21.0, 220.0), LONG[int(rng.integers(4))]
    if klass is Klass.SCUFFING_SHORT:
        return log_uniform(rng, 2.0, 18.0), LONG[int(rng.integers(4))]
    if klass is Klass.SCUFFING_SUDDEN or rng.random() < 0.4:
        return 0.0, Precursor.NONE
    return log_uniform(rng, 3.0, 120.0), LONG[int(rng.integers(4))]
