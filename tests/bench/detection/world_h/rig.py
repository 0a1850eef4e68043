"""What a rig is made of: contact, oil, warmth, lever and motor, all as seen at the ring.

Reads nothing, gives frozen values that `rig_draw` fills and `turning` obeys.
"""

import math
from dataclasses import dataclass

from world_b.values import DriveKind


@dataclass(frozen=True, slots=True)
class Oil:
    """A lubricant, by its viscosity.

    Attributes:
        vogel_b_k, vogel_c_k: of ln(viscosity) = a + b / (temperature + c), in K and degC.
        reference_degc: where the relative viscosity is 1.
    """

    vogel_b_k: float
    vogel_c_k: float
    reference_degc: float

    def viscosity_ratio(self, temperature_degc: float) -> float:
        """Give the viscosity relative to that at the reference temperature, > 0."""
        warm = self.vogel_b_k / (max(temperature_degc, -20.0) + self.vogel_c_k)
        return math.exp(warm - self.vogel_b_k / (self.reference_degc + self.vogel_c_k))


@dataclass(frozen=True, slots=True)
class Contact:
    """Pin on ring.

    Attributes:
        mu_boundary: where asperities carry all, run in.
        mu_fluid: of the sheared film at reference speed, viscosity and load.
        stribeck: how far the reference point lies towards the film; 1 is half way.
        stribeck_power, load_power: steepness of the transition, and how load counts in it.
        run_in_gain, run_in_m: extra boundary friction of a fresh track, and the sliding that wears it off.
        film_gain, film_s: change of boundary friction by a grown tribofilm, and how long it takes, warm.
        static_gain: of friction at rest over that at a crawl.
        wear_gain: relative growth of the film's share over an hour, by the scar that spreads the load.
        ripple_ratio, second_ratio: of friction once and twice a turn.
        wander_ratio: of friction over seconds to minutes, rms.
        unrest_ratio: of friction above some Hz, rms.
    """

    mu_boundary: float
    mu_fluid: float
    stribeck: float
    stribeck_power: float
    load_power: float
    run_in_gain: float
    run_in_m: float
    film_gain: float
    film_s: float
    static_gain: float
    wear_gain: float
    ripple_ratio: float
    second_ratio: float
    wander_ratio: float
    unrest_ratio: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Where heat goes.

    Attributes:
        bath_j_k, bath_w_k: kept by and lost from oil, ring and housing.
        pin_k_w, pin_s: of the pin above the bath by friction power, and its own time constant.
        ambient_degc: of the room.
        heater_w: 0 without one.
        set_degc, hysteresis_k: of its thermostat; a hysteresis of 0 is a proportional controller.
        stirring_w: put into the oil by the ring at set speed.
    """

    bath_j_k: float
    bath_w_k: float
    pin_k_w: float
    pin_s: float
    ambient_degc: float
    heater_w: float
    set_degc: float
    hysteresis_k: float
    stirring_w: float


@dataclass(frozen=True, slots=True)
class Lever:
    """The lever and its weights.

    Attributes:
        top_load_n: the greatest load planned.
        own_hz, damping: of its ringing under the top load.
        pull_in: load gained by friction force, N/N, where friction passes beside the pivot.
        eccentric_ratio: of load once a turn, by a ring out of true.
    """

    top_load_n: float
    own_hz: float
    damping: float
    pull_in: float
    eccentric_ratio: float


@dataclass(frozen=True, slots=True)
class Motor:
    """The drive, all at the ring.

    Attributes:
        kind: see `DriveKind`.
        rated_nm, stall_nm: the latter the most it gives (breakdown torque of an induction motor).
        rated_a, idle_a: motor current at rated torque and without any.
        locked_a: of an induction motor on the mains.
        breakdown_slip: of an induction motor on the mains; the rated slip of one on an inverter.
        ramp_s: of the set speed after switching on; 0 without a ramp.
        band_hz, integral_s: of a speed controller.
        inertia_kgm2, ring_share: all that turns, and the ring's part of it.
        drag_nm, drag_viscous: of seals and bearings, warm, at set speed, and the oil's share of it.
        belt_nm: torque at which the belt slips; infinite without one.
        warm_up: relative fall of a winding's stall torque when it is hot.
    """

    kind: DriveKind
    rated_nm: float
    stall_nm: float
    rated_a: float
    idle_a: float
    locked_a: float
    breakdown_slip: float
    ramp_s: float
    band_hz: float
    integral_s: float
    inertia_kgm2: float
    ring_share: float
    drag_nm: float
    drag_viscous: float
    belt_nm: float
    warm_up: float


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig.

    Attributes:
        ring_radius_m, set_rad_s: of ring and its set speed.
        oil, contact, warmth, lever, motor: see there.
    """

    ring_radius_m: float
    set_rad_s: float
    oil: Oil
    contact: Contact
    warmth: Warmth
    lever: Lever
    motor: Motor

    @property
    def set_m_s(self) -> float:
        """Give the sliding speed at set speed, m/s."""
        return self.ring_radius_m * self.set_rad_s
