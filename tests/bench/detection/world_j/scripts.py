"""What is done to a rig during a recording, and what goes wrong, and when: values, and their draw from a class."""

from dataclasses import dataclass, field

import numpy as np
from world_b.values import NAN, SCUFFINGS, Kind, Klass, Nuisance, Precursor

from .draws import log_uniform

LONG = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)


@dataclass(frozen=True, slots=True)
class LoadChange:
    """The operator brings the load to load_n from t_s on, by hand over ramp_s; bounce is a share of the change."""

    t_s: float
    load_n: float
    ramp_s: float
    bounce: float


@dataclass(slots=True)
class Script:
    """A recording's story, filled while it is drawn."""

    duration_s: float  # of the recording, on a clock without breaks
    quiet_s: float  # from then on nobody touches anything
    loads: list[LoadChange] = field(default_factory=list)  # in order of time
    switches: list[tuple[float, bool]] = field(default_factory=list)  # (t_s, on), in order of time
    bumps: list[tuple[float, float, float]] = field(default_factory=list)  # (t_s, duration_s, share of load)
    day_s: float = NAN  # when a night begins that the recording leaves out, and how long it is; NaN and 0 without
    day_gap_s: float = 0.0
    mid_run: bool = False  # whether the recording begins in steady running
    levels_n: list[float] = field(default_factory=list)  # every load in the order it was set
    nuisances: list[Nuisance] = field(default_factory=list)  # healthy things, in any order

    def note(self, kind: Kind, t_s: float, duration_s: float = 0.0) -> None:
        """Remember a healthy thing."""
        self.nuisances.append(Nuisance(kind, float(t_s), float(duration_s)))


@dataclass(frozen=True, slots=True)
class Event:
    """What goes wrong, on the clock without breaks; NaN where it does not."""

    precursor: Precursor = Precursor.NONE  # kind and beginning of the first sign
    first_s: float = NAN
    growth: float = 0.0  # how strong the precursor gets, as a share of friction
    onset_s: float = NAN  # the contact begins to scuff, and how long it takes
    rise_s: float = 0.0
    scuffed_coefficient: float = 0.0  # friction coefficient when scuffed, -
    ease_s: float = NAN  # when scuffing eases, for how long, and by how much
    ease_for_s: float = 0.0
    ease_share: float = 0.0
    seizes: bool = False  # whether friction grows until the ring stands
    jam_s: float = NAN  # a torque from outside begins, and how long it takes to its full size
    jam_rise_s: float = 0.0
    heat_s: float = NAN  # abnormal heating begins, and about how long it takes to the limit
    heat_for_s: float = 0.0
    bath_heated: bool = False  # whether the heater sticks, against a pin that loses its oil
    supply_s: float = NAN  # the motor loses its supply

    @property
    def trouble_s(self) -> float:
        """When scuffing, seizure or jam begins."""
        return self.jam_s if self.onset_s != self.onset_s else self.onset_s

    @property
    def sign_s(self) -> float:
        """When the first sign of anything shows."""
        return next((s for s in (self.first_s, self.jam_s, self.supply_s, self.heat_s) if s == s), NAN)


def draw_event(rng: np.random.Generator, klass: Klass) -> tuple[Event, float, float]:
    """Give the event, the recording's length in s, and from when nobody touches the rig, in s."""
    duration_s = float(rng.uniform(2400.0, 3600.0) if klass is Klass.ENDURANCE else rng.uniform(370.0, 900.0))
    after_s, before_s = float(rng.uniform(15.0, 70.0)), float(rng.uniform(10.0, 40.0))
    event, moment_s = Event(), duration_s - after_s
    if klass in SCUFFINGS or klass is Klass.SEIZURE:
        event = _scuffing(rng, klass, moment_s)
    elif klass is Klass.JAM:
        event = Event(jam_s=moment_s, jam_rise_s=log_uniform(rng, 0.02, 2.0))
    elif klass is Klass.OVERHEAT:
        heat_for_s = log_uniform(rng, 50.0, 220.0)
        heat_s = moment_s - 1.25 * heat_for_s
        event = Event(heat_s=heat_s, heat_for_s=heat_for_s, bath_heated=bool(rng.random() < 0.6))
    elif klass is Klass.SUPPLY_LOST:
        event = Event(supply_s=moment_s)
    return event, duration_s, duration_s if event == Event() else event.sign_s - before_s


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
        ease_s=onset_s + rise_s + float(rng.uniform(3.0, 15.0)) if eases else NAN,
        ease_for_s=float(rng.uniform(2.0, 15.0)),
        ease_share=float(rng.uniform(0.3, 0.75)),
        seizes=klass is Klass.SEIZURE,
    )


def _precursor(rng: np.random.Generator, klass: Klass) -> tuple[float, Precursor]:
    spans_s = {Klass.SCUFFING_LONG: (21.0, 220.0), Klass.SCUFFING_SHORT: (2.0, 18.0)}
    if klass in spans_s:
        return log_uniform(rng, *spans_s[klass]), LONG[int(rng.integers(4))]
    if klass is Klass.SCUFFING_SUDDEN or rng.random() < 0.4:
        return 0.0, Precursor.NONE
    return log_uniform(rng, 3.0, 120.0), LONG[int(rng.integers(4))]
