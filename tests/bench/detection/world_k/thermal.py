"""Heat: pin tip, ring and bath, each a lump, tied to one another and to the room. Plain Euler steps of a block."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HeatDesign:
    """Lumps and paths.

    Attributes:
        room_degc: what everything cools to.
        pin_share: part of the friction heat that enters the pin.
        pin_j_k, ring_j_k, bath_j_k: heat capacities.
        pin_w_k, ring_w_k: from pin and ring into the bath.
        room_w_k: from the bath to the room.
        heater_w: most the bath heater gives; 0 without one.
        heater_set_degc, heater_band_k: proportional control.
    """

    room_degc: float
    pin_share: float
    pin_j_k: float
    ring_j_k: float
    bath_j_k: float
    pin_w_k: float
    ring_w_k: float
    room_w_k: float
    heater_w: float
    heater_set_degc: float
    heater_band_k: float


DRY_RATIO = 0.08
"""Heat path of pin and ring to a bath that has been taken away, over that to oil; a guess."""

BOILING_K = 80.0
"""A pin this far above the bath gives off twice its share: oil film boils off, steel tints (a guess)."""


class Heat:
    """Temperatures in degC and the two accounts in J."""

    def __init__(self, design: HeatDesign, bath_degc: float, above_k: float) -> None:
        self.design = design
        self.bath_degc = bath_degc
        self.pin_degc = bath_degc + above_k
        self.ring_degc = bath_degc + 0.5 * above_k
        self.heat_in_j = 0.0
        self.bath_heat_j = 0.0
        self.lost_j = 0.0
        self.room_ratio = 1.0

    def step(self, friction_w: float, dry: bool, runaway_w: float, step_s: float) -> None:
        """Move on by one block; `runaway_w` is heat from a heater that nobody asked for."""
        design = self.design
        heater_w = runaway_w
        if design.heater_w > 0.0 and not dry:
            asked = (design.heater_set_degc - self.bath_degc) / design.heater_band_k + 0.5
            heater_w += design.heater_w * min(max(asked, 0.0), 1.0)
        path = DRY_RATIO if dry else 1.0
        above_k = self.pin_degc - self.bath_degc
        boiling = 1.0 + (min(above_k, 400.0) / BOILING_K) ** 2 if above_k > 0.0 else 1.0
        pin_w = path * boiling * design.pin_w_k * above_k
        ring_w = path * design.ring_w_k * (self.ring_degc - self.bath_degc)
        out_w = self.room_ratio * design.room_w_k * (self.bath_degc - design.room_degc)
        self.pin_degc += (design.pin_share * friction_w - pin_w) * step_s / design.pin_j_k
        self.ring_degc += ((1.0 - design.pin_share) * friction_w - ring_w) * step_s / design.ring_j_k
        kept_w = heater_w + pin_w + ring_w - out_w
        self.bath_degc += kept_w * step_s / design.bath_j_k
        self.heat_in_j += (friction_w + heater_w) * step_s
        self.bath_heat_j += kept_w * step_s
        self.lost_j += out_w * step_s

    def stored_j(self) -> float:
        """Give the heat in pin and ring above the room, in J."""
        design = self.design
        pin_j = design.pin_j_k * (self.pin_degc - design.room_degc)
        return pin_j + design.ring_j_k * (self.ring_degc - design.room_degc)

    def fill_up(self, part: float, oil_degc: float) -> None:
        """Mix in fresh oil, `part` of the bath's heat capacity, and let as much flow off."""
        change_k = part * (oil_degc - self.bath_degc)
        self.bath_degc += change_k
        self.bath_heat_j += self.design.bath_j_k * change_k
        self.lost_j -= self.design.bath_j_k * change_k

    def overnight(self) -> None:
        """Cool to the room, as over a day."""
        self.bath_heat_j += self.design.bath_j_k * (self.design.room_degc - self.bath_degc)
        self.lost_j += self.design.bath_j_k * (self.bath_degc - self.design.room_degc) + self.stored_j()
        self.bath_degc = self.pin_degc = self.ring_degc = self.design.room_degc
