"""What is done to a rig over its recording, as arrays on the two grids; an event is a difference here and nowhere else.

Reads nothing, gives the mutable arrays that `hands`, `motor_hands`, `contact_nuisances`, `room` and `events` fill
and `turning` reads.
"""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import Floats

from .drives import DT_S

SLOW = 20
SLOW_S = SLOW * DT_S


@dataclass(slots=True)
class Acts:
    """Fine arrays are (n,) float64 every `DT_S`, slow ones (n / SLOW,) every `SLOW_S`.

    Attributes:
        load_n: set by lever and weights, with their ringing.
        supply: of the motor, relative to nominal; 0 is off or lost.
        grip: multiplies contact friction.
        patch: extra grip on the hot patch that passes once a turn.
        patch_turn: the part of a turn it takes.
        jam_nm: from outside the contact.
        unrest: multiplies the fast unrest of friction.
        clang_db: of the contact, above what its friction power would make.
        tone_db: level of a squeal by itself; very low without.
        room_db: level of all that is not the rig.
        film: slow factor on boundary friction.
        heat_w: put into the bath beside friction and thermostat.
        cold_j: taken out of the bath at once, by oil topped up.
        cooling: factor on heat lost by the bath.
        pin_heat: factor on the pin's rise above the bath.
        heater_stuck: the thermostat's contact is welded.
        night: a night passes here.
    """

    load_n: Floats
    supply: Floats
    grip: Floats
    patch: Floats
    patch_turn: Floats
    jam_nm: Floats
    unrest: Floats
    clang_db: Floats
    tone_db: Floats
    room_db: Floats
    film: Floats
    heat_w: Floats
    cold_j: Floats
    cooling: Floats
    pin_heat: Floats
    heater_stuck: Floats
    night: Floats

    def copy(self) -> "Acts":
        """Give acts that can be changed without changing these."""
        return replace(self, **{name: getattr(self, name).copy() for name in self.__dataclass_fields__})

    @property
    def t_s(self) -> Floats:
        """Give the times of the fine grid, s."""
        return np.arange(len(self.load_n)) * DT_S


def nothing_done(duration_s: float) -> Acts:
    """Give acts of a rig that stands with its pin lifted, of at least `duration_s`."""
    slow = int(np.ceil(duration_s / SLOW_S))
    fine = slow * SLOW
    return Acts(
        **{name: np.zeros(fine) for name in ("load_n", "supply", "patch", "jam_nm", "clang_db")},
        **{name: np.ones(fine) for name in ("grip", "unrest")},
        patch_turn=np.full(fine, 0.1),
        tone_db=np.full(fine, -60.0),
        room_db=np.zeros(fine),
        **{name: np.ones(slow) for name in ("film", "cooling", "pin_heat")},
        **{name: np.zeros(slow) for name in ("heat_w", "cold_j", "heater_stuck", "night")},
    )
