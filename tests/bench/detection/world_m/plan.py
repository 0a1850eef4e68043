"""Values of a plan: what the technician does, what goes wrong, and what merely happens beside it.

Reads `world_b.values`. Every time is in s on the clock without breaks; `Plan.stamp_s` gives that of the stamps.
"""

from dataclasses import dataclass, replace

from world_b.values import NAN, Kind, Klass, Nuisance, Precursor

MECHANICAL = frozenset(
    {
        Kind.SET_DOWN_TWICE,
        Kind.HARD_SET_DOWN,
        Kind.TAKEN_OFF_AGAIN,
        Kind.LIFTED,
        Kind.BUMP,
        Kind.PAUSE,
        Kind.RESTART_BEFORE_REST,
        Kind.INCHING,
        Kind.DAY_BETWEEN,
        Kind.FILM_TRANSITION,
        Kind.DEBRIS,
        Kind.STICK_SLIP,
        Kind.SQUEAL,
        Kind.OIL_TOP_UP,
        Kind.BRIEF_DIP,
        Kind.BACKWARD_STAMPS,
        Kind.HOLES,
    }
)
"""Kinds that want room of their own."""


@dataclass(frozen=True, slots=True)
class LoadMove:
    """One move of the load.

    Attributes:
        t_s: when it begins.
        load_n: where it goes.
        hard: dropped on.
    """

    t_s: float
    load_n: float
    hard: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """A recording before its physics.

    Attributes:
        klass: what is recorded.
        duration_s: on the clock without breaks.
        first_load_n: already on at 0.
        moves: of the load, in order.
        loads_n: as written down.
        motor_on_s: first switched on; 0 and running where the recording begins in mid run.
        mid_run: whether it does.
        event_s: scuffing, seizure, jam, heating or loss of supply begins; NaN for none.
        precursor, precursor_s: and when it begins; NaN for none.
        fault_s: a sensor goes wrong; NaN for none.
        day_gap_s: of stamps missing within the nuisance DAY_BETWEEN.
        nuisances: every healthy thing, in order of time.
    """

    klass: Klass
    duration_s: float
    first_load_n: float
    moves: tuple[LoadMove, ...]
    loads_n: tuple[float, ...]
    motor_on_s: float
    mid_run: bool
    event_s: float = NAN
    precursor: Precursor = Precursor.NONE
    precursor_s: float = NAN
    fault_s: float = NAN
    day_gap_s: float = 0.0
    nuisances: tuple[Nuisance, ...] = ()

    def of(self, kind: Kind) -> list[Nuisance]:
        """Give the nuisances of one kind, in order of time."""
        return [n for n in self.nuisances if n.kind is kind]

    def cut(self, duration_s: float) -> "Plan":
        """Give the plan ended then."""
        kept = [n for n in self.nuisances if n.t_s < duration_s]
        shorter = [replace(n, duration_s=min(n.duration_s, duration_s - n.t_s)) for n in kept]
        return replace(self, duration_s=duration_s, nuisances=tuple(shorter))

    @property
    def night_s(self) -> float:
        """When the stamps jump to the next day, on the clock without breaks; NaN where they do not."""
        nights = self.of(Kind.DAY_BETWEEN)
        return float(round(nights[0].t_s + 0.5 * nights[0].duration_s)) if nights else NAN

    def stamp_s(self, t_s: float) -> float:
        """Give the stamp of a time on the clock without breaks; NaN stays NaN."""
        return t_s + self.day_gap_s if t_s >= self.night_s else t_s

    def load_at(self, t_s: float) -> float:
        """Give the load last asked for at a time, in N."""
        load_n = self.first_load_n
        for move in self.moves:
            if move.t_s <= t_s:
                load_n = move.load_n
        return load_n
