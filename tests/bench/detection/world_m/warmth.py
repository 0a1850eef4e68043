"""Heat of pin and bath: two stores, a thermostat, and the two ways in which they overheat.

Reads `world_m.design`, `world_m.plan`. Advanced once a block of the physics.
"""

from dataclasses import dataclass, field
from math import exp, isnan

from world_b.values import Klass

from world_m.design import Design
from world_m.grid import BLOCK_S
from world_m.plan import Plan
from world_m.streams import Stream, between, happens, log_between


@dataclass(frozen=True, slots=True)
class Heating:
    """An overheat.

    Attributes:
        begin_s: its cause sets in; NaN for none.
        reach_s: about how long after that the limits are passed.
        over_k: by how much they would be passed in the end.
        pin_only: cooling of the pin holder lost, rather than a bath heater stuck full on.
    """

    begin_s: float
    reach_s: float
    over_k: float
    pin_only: bool


def draw_heating(rng: Stream, plan: Plan) -> Heating:
    """Draw how a recording overheats; never, unless it is of that class."""
    begin_s = plan.event_s if plan.klass is Klass.OVERHEAT else float("nan")
    return Heating(begin_s, log_between(rng, 50.0, 280.0), between(rng, 4.0, 15.0), happens(rng, 0.3))


@dataclass(slots=True)
class Warmth:
    """Both temperatures and the book of the heat.

    Attributes:
        bath_degc, pin_degc: now.
        friction_j, heater_j, lost_j: put in by friction, put in by heater, given to the room.
        abnormal: whether the cause of an overheat acts, one flag a block.
    """

    design: Design
    heating: Heating
    bath_degc: float
    pin_degc: float
    heater_on: bool = True
    stuck_w: float = 0.0
    pin_w_k: float = 0.0
    friction_j: float = 0.0
    heater_j: float = 0.0
    lost_j: float = 0.0
    abnormal: list[bool] = field(default_factory=list)

    def advance(self, t_s: float, friction_w: float) -> None:
        """Advance by a block in which friction put in that power."""
        thermal = self.design.thermal
        acts = not isnan(self.heating.begin_s) and t_s >= self.heating.begin_s
        if acts and not any(self.abnormal[-1:]):
            self._break_down(friction_w)
        self.abnormal.append(acts)
        heater_w = self.stuck_w if self.stuck_w > 0.0 else self._thermostat_w()
        to_bath_w = (self.pin_w_k or thermal.pin_to_bath_w_k) * (self.pin_degc - self.bath_degc)
        to_room_w = thermal.bath_to_room_w_k * (self.bath_degc - thermal.ambient_degc)
        into_pin_w = thermal.pin_share * friction_w
        self.pin_degc += (into_pin_w - to_bath_w) / thermal.pin_j_k * BLOCK_S
        self.bath_degc += (friction_w - into_pin_w + heater_w + to_bath_w - to_room_w) / thermal.bath_j_k * BLOCK_S
        self.friction_j += friction_w * BLOCK_S
        self.heater_j += heater_w * BLOCK_S
        self.lost_j += to_room_w * BLOCK_S

    def top_up(self, share: float) -> None:
        """Replace a share of the bath's heat by that of fresh oil at room temperature."""
        thermal = self.design.thermal
        drop_k = share * (self.bath_degc - thermal.ambient_degc)
        self.bath_degc -= drop_k
        self.lost_j += drop_k * thermal.bath_j_k

    def rest(self, gap_s: float) -> None:
        """Cool over a gap in the recording, heater off."""
        thermal = self.design.thermal
        before_k = self.bath_degc - thermal.ambient_degc
        after_k = before_k * exp(-gap_s * thermal.bath_to_room_w_k / thermal.bath_j_k)
        pin_k = self.pin_degc - thermal.ambient_degc - after_k
        self.bath_degc = self.pin_degc = thermal.ambient_degc + after_k
        self.lost_j += (before_k - after_k) * thermal.bath_j_k + pin_k * thermal.pin_j_k

    def _thermostat_w(self) -> float:
        thermal = self.design.thermal
        below_k = thermal.set_degc - self.bath_degc
        self.heater_on = below_k > 0.0 if abs(below_k) > thermal.band_k else self.heater_on
        return thermal.heater_w if self.heater_on else 0.0

    def _break_down(self, friction_w: float) -> None:
        """Size the breakdown so that the limits are passed about reach_s later, if friction stays as it is."""
        thermal, heating = self.design.thermal, self.heating
        to_pin_k = thermal.pin_limit_degc + heating.over_k - self.bath_degc
        into_pin_w = thermal.pin_share * friction_w
        if heating.pin_only and into_pin_w > 1.3 * thermal.pin_j_k * to_pin_k / heating.reach_s:
            self.pin_w_k = 0.1 * into_pin_w / to_pin_k
            return
        excess_k = into_pin_w / thermal.pin_to_bath_w_k
        target = max(thermal.bath_limit_degc, thermal.pin_limit_degc - 0.8 * excess_k) + heating.over_k
        keep_w = thermal.bath_to_room_w_k * (target - thermal.ambient_degc)
        lift_w = thermal.bath_j_k * (target - self.bath_degc) / heating.reach_s
        self.stuck_w = max(keep_w + lift_w - friction_w, 1.2 * keep_w)


def start(rng: Stream, plan: Plan, design: Design, heating: Heating) -> Warmth:
    """Give both temperatures at the beginning: of the room, of the thermostat, or warm from running before."""
    thermal = design.thermal
    heated = thermal.set_degc > thermal.ambient_degc
    bath = thermal.ambient_degc + between(rng, -0.5, 2.0)
    if heated and (plan.mid_run or happens(rng, 0.75)):
        bath = thermal.set_degc + between(rng, -1.0, 1.0) * thermal.band_k
    elif plan.mid_run or happens(rng, 0.2):
        bath += between(rng, 1.0, 8.0)
    return Warmth(design, heating, bath, bath + (between(rng, 0.0, 2.0) if plan.mid_run else 0.0))
