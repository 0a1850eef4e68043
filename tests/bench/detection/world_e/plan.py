"""A plan: what people do at the rig and what goes wrong, before any physics.

Reads nothing. Every time is on the inner clock, which has no breaks; a load at a negative time hung there before.
"""

from dataclasses import dataclass

from world_b.values import NAN, Fault, Kind, Nuisance, Precursor

ON_LEVER = (Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.TAKEN_OFF_AGAIN, Kind.LIFTED)
"""Ways to change a load that are nuisances; an ordinary one has none."""
LASTS_S = {Kind.SET_DOWN_TWICE: 4.0, Kind.HARD_SET_DOWN: 4.0, Kind.TAKEN_OFF_AGAIN: 20.0, Kind.LIFTED: 12.0}
"""Until the load hangs still; plausible, invented."""


@dataclass(frozen=True, slots=True)
class Load:
    """One load set on the pin.

    Attributes:
        t_s: the hand begins.
        load_n: afterwards.
        manner: one of `ON_LEVER`; None where it is set down as it should be.
    """

    t_s: float
    load_n: float
    manner: Kind | None = None

    @property
    def settled_s(self) -> float:
        """Give when the load hangs still."""
        return self.t_s + (3.0 if self.manner is None else LASTS_S[self.manner])


@dataclass(frozen=True, slots=True)
class Event:
    """What goes wrong; NaN where a thing does not happen.

    Attributes:
        first_s: first sign; from here on nobody touches the lever.
        onset_s: the contact begins to scuff.
        growth_s: from the onset until most of the contact is scuffed.
        weld: the scuffed contact grows together until the motor cannot turn it.
        jam_s, supply_s, heating_s: a torque from outside, the supply lost, the abnormal heating.
        precursor: between first sign and onset.
        end_s: of what is of interest; the recording goes on a little.
    """

    first_s: float
    end_s: float
    onset_s: float = NAN
    growth_s: float = NAN
    weld: bool = False
    jam_s: float = NAN
    supply_s: float = NAN
    heating_s: float = NAN
    precursor: Precursor = Precursor.NONE


@dataclass(frozen=True, slots=True)
class Broken:
    """A sensor that goes wrong for good."""

    t_s: float
    fault: Fault
    channel: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One recording as planned.

    Attributes:
        duration_s: of the inner clock.
        loads: in order of time.
        switches: (t_s, on) of the motor, in order of time; before the first it is off.
        nuisances: every healthy thing; those of a load stand here too.
        event, broken: what goes wrong, if anything.
        night_s: where the stamps jump by a night; NaN if they do not.
    """

    duration_s: float
    loads: tuple[Load, ...]
    switches: tuple[tuple[float, bool], ...]
    nuisances: tuple[Nuisance, ...] = ()
    event: Event | None = None
    broken: Broken | None = None
    night_s: float = NAN

    def of(self, kind: Kind) -> list[Nuisance]:
        """Give the nuisances of one kind."""
        return [nuisance for nuisance in self.nuisances if nuisance.kind is kind]
