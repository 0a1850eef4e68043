"""What is done to the rig during a recording: values only, in the order of doing."""

from dataclasses import dataclass, field

from world_b.values import NAN, Kind, Nuisance, Precursor


@dataclass(frozen=True, slots=True)
class LoadChange:
    """The operator brings the load to load_n from t_s on, by hand over ramp_s; bounce is a share of the change."""

    t_s: float
    load_n: float
    ramp_s: float
    bounce: float


@dataclass(slots=True)
class Script:
    """A recording's story, filled while it is drawn.

    Attributes:
        duration_s: of the recording, on a clock without breaks.
        quiet_s: from then on nobody touches anything.
        loads: in order of time.
        switches: (t_s, on), in order of time.
        bumps: (t_s, duration_s, share of load).
        day_s, day_gap_s: when a night begins that the recording leaves out, and how long it is; NaN and 0 without.
        mid_run: whether the recording begins in steady running.
        levels_n: every load in the order it was set.
        nuisances: healthy things, in any order.
    """

    duration_s: float
    quiet_s: float
    loads: list[LoadChange] = field(default_factory=list)
    switches: list[tuple[float, bool]] = field(default_factory=list)
    bumps: list[tuple[float, float, float]] = field(default_factory=list)
    day_s: float = NAN
    day_gap_s: float = 0.0
    mid_run: bool = False
    levels_n: list[float] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)

    def note(self, kind: Kind, t_s: float, duration_s: float = 0.0) -> None:
        """Remember a healthy thing."""
        self.nuisances.append(Nuisance(kind, float(t_s), float(duration_s)))


@dataclass(frozen=True, slots=True)
class Event:
    """What goes wrong, on the clock without breaks; NaN where it does not.

    Attributes:
        precursor, first_s: kind and beginning of the first sign.
        growth: how strong the precursor gets, as a share of friction.
        onset_s, rise_s: the contact begins to scuff, and how long it takes.
        scuffed_coefficient: friction coefficient when scuffed, -.
        ease_s, ease_for_s, ease_share: when scuffing eases, for how long, and by how much.
        seizes: whether friction grows until the ring stands.
        jam_s, jam_rise_s: a torque from outside begins, and how long it takes to its full size.
        heat_s, heat_for_s: abnormal heating begins, and about how long it takes to the limit.
        bath_heated: whether the heater sticks, against a pin that loses its oil.
        supply_s: the motor loses its supply.
    """

    precursor: Precursor = Precursor.NONE
    first_s: float = NAN
    growth: float = 0.0
    onset_s: float = NAN
    rise_s: float = 0.0
    scuffed_coefficient: float = 0.0
    ease_s: float = NAN
    ease_for_s: float = 0.0
    ease_share: float = 0.0
    seizes: bool = False
    jam_s: float = NAN
    jam_rise_s: float = 0.0
    heat_s: float = NAN
    heat_for_s: float = 0.0
    bath_heated: bool = False
    supply_s: float = NAN
