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
