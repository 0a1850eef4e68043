"""A rig: sizes, contact, drive, heat, room, sensors and the habits of its operator.

Reads nothing; these are the values everything else obeys. `rig_draws` fills them.
"""

from dataclasses import dataclass

import numpy as np

from .drives import Drive
from .values import ChannelSet, Tachometer


@dataclass(frozen=True, slots=True)
class Contact:
    """Friction of the healthy contact.

    Attributes:
        mu_boundary, mu_film: ratio with and without touching; boundary friction of antiwear films is 0.09 to 0.14
            (Zhang, Ueda, Campen, Spikes, Tribol. Lett. 69 (2021)), taken a little wider here.
        half_load_n, half_power: load at which half the contact touches, and how sharply.
        thinning_per_k: how fast warming moves that load.
        running_in_share, running_in_s: excess after a rise of load, and its decay.
        wander_share, wander_s: slow unrest.
        fast_share, fast_s: fast unrest.
        runout_share: once-a-turn swing of the load.
        static_ratio: breakaway over sliding friction.
        held_share: friction left on the cell at rest.
        dry_start_share, dry_start_s: excess after hours at rest.
    """

    mu_boundary: float
    mu_film: float
    half_load_n: float
    half_power: float
    thinning_per_k: float
    running_in_share: float
    running_in_s: float
    wander_share: float
    wander_s: float
    fast_share: float
    fast_s: float
    runout_share: float
    static_ratio: float
    held_share: float
    dry_start_share: float
    dry_start_s: float


@dataclass(frozen=True, slots=True)
class Heat:
    """Bath and pin as two bodies.

    Attributes:
        bath_j_k: heat to warm the bath by 1 K.
        loss_w_k: to the room, fan running.
        pin_k_w: pin above bath for each watt of friction.
        pin_s: lag of the pin.
        set_degc: of the bath heater; NaN without one.
        heater_w: its power.
        limit_bath_degc, limit_pin_degc: what the technician would set.
    """

    bath_j_k: float
    loss_w_k: float
    pin_k_w: float
    pin_s: float
    set_degc: float
    heater_w: float
    limit_bath_degc: float
    limit_pin_degc: float


@dataclass(frozen=True, slots=True)
class Room:
    """Sound. Levels in dB at the microphone; the friction part follows friction power to `friction_power`."""

    ambient_db: float
    motor_db: float
    friction_db: float
    friction_power: float
    scuff_db: float
    unrest_db: float
    weighting_s: float
    offset_db: float
    refresh_s: float


@dataclass(frozen=True, slots=True)
class Sensing:
    """How the quantities are measured. Noise is the standard deviation of one sample at 100 Hz."""

    cell_range_n: float
    cell_noise_n: float
    cell_lag_s: float
    cell_two_sided: bool
    arm_hz: float
    arm_share: float
    hum_n: float
    cell_drift_n_h: float
    load_range_n: float
    load_noise_n: float
    load_lag_s: float
    current_range_a: float
    current_noise_a: float
    current_ripple_share: float
    current_lag_s: float
    no_load_error: float
    couple_lag_s: float
    couple_step_k: float
    couple_refresh_s: float
    couple_gaps: bool
    couple_noise_k: float
    couple_wander_k: float
    tachometer: Tachometer
    pulses_per_turn: int
    gate_s: float
    tachometer_on_motor: bool
    bits: int


@dataclass(frozen=True, slots=True)
class Habits:
    """How the operator handles weights and switch.

    Attributes:
        change: `add` a piece, `lift` the lever, or `stop` the motor for each change of load.
        hand_s: time the hand gives the weight.
        bounce_share, bounce_hz, bounce_decay_s: of the lever, relative to the step.
        clumsy: scales the odds of mishaps.
        hanger_share: empty hanger, share of the top load.
    """

    change: str
    hand_s: float
    bounce_share: float
    bounce_hz: float
    bounce_decay_s: float
    clumsy: float
    hanger_share: float


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig, whole."""

    ring_diameter_mm: float
    ring_speed_rpm: float
    loads_n: tuple[float, ...]
    channel_set: ChannelSet
    contact: Contact
    drive: Drive
    grease_share: float
    grease_s: float
    heat: Heat
    room: Room
    sensing: Sensing
    habits: Habits

    @property
    def ring_radius_m(self) -> float:
        """Give the radius of the track, m."""
        return self.ring_diameter_mm / 2000.0

    @property
    def speed_m_s(self) -> float:
        """Give the sliding speed at set speed, m/s."""
        return self.drive.set_rad_s * self.ring_radius_m

    @property
    def top_load_n(self) -> float:
        """Give the heaviest planned load, N."""
        return max(self.loads_n)

    @property
    def top_mu(self) -> float:
        """Give the warm healthy friction ratio at the top load."""
        return self.mu_at(self.top_load_n)

    def mu_at(self, load_n: float) -> float:
        """Give the warm healthy friction ratio at a load."""
        share = touching_share(self.contact, load_n, 20.0)
        return self.contact.mu_film + (self.contact.mu_boundary - self.contact.mu_film) * share


def touching_share(contact: Contact, load_n: float, warmer_k: float) -> float:
    """Give the share of the contact that touches, 0 to 1, at a load and so much above the starting temperature."""
    over = (max(load_n, 0.0) / contact.half_load_n) ** contact.half_power
    return float(1.0 - np.exp(-0.693 * over * np.exp(contact.thinning_per_k * warmer_k)))
