"""Temperatures of bath and pin, two bodies on a grid of 2 Hz.

Reads friction power, gives temperatures. The balance is exact by construction: what goes in is kept or lost.
"""

from dataclasses import dataclass

import numpy as np

from .draws import Draw
from .events import Story
from .rigs import Rig
from .values import Flags, Floats

GRID_S = 0.5


@dataclass(frozen=True, slots=True)
class Warmth:
    """Temperatures on the coarse grid, and the balance of the bath.

    Attributes:
        t_s: (m,) s.
        bath_degc, pin_degc: (m,).
        heat_in_j: friction and heater work.
        bath_heat_j: kept by the bath, over all spans between days.
    """

    t_s: Floats
    bath_degc: Floats
    pin_degc: Floats
    heat_in_j: float
    bath_heat_j: float


@dataclass(frozen=True, slots=True)
class Weather:
    """What the room and the clock do to a rig: ambient degC at the start, slope K/h, and where heating begins."""

    ambient_degc: float
    drift_k_h: float
    preheated: bool


def draw_weather(draw: Draw) -> Weather:
    """Give the room of one recording."""
    return Weather(draw.within(15.0, 28.0), draw.within(-0.8, 0.8), draw.chance(0.7))


def march(story: Story, weather: Weather, power_w: Floats) -> Warmth:
    """Give temperatures under a friction power.

    Args:
        story: its rig, breaks and abnormal heating.
        weather: of the room.
        power_w: (m,) friction power on the coarse grid, W.
    Returns:
        (m,) temperatures and the balance.
    """
    rig, heat = story.rig, story.rig.heat
    count = len(power_w)
    t_s: Floats = np.arange(count, dtype=np.float64) * GRID_S
    ambient: Floats = weather.ambient_degc + np.clip(weather.drift_k_h * t_s / 3600.0, -3.0, 3.0)
    loss: Floats = np.full(count, heat.loss_w_k)
    stuck: Flags = np.zeros(count, dtype=np.bool_)
    if story.overheat is not None and story.overheat.cause == "fan":
        loss[t_s >= story.overheat.t_s] *= story.overheat.factor
    if story.overheat is not None and story.overheat.cause == "heater":
        stuck[t_s >= story.overheat.t_s] = True
        loss[t_s >= story.overheat.t_s] *= 0.4
    bath, heater_w, kept_j = _bath(story, weather, power_w, (ambient, loss, stuck))
    pin = np.asarray(bath + _pin_above(rig, _pin_power(story, power_w, t_s)), dtype=np.float64)
    return Warmth(t_s, bath, pin, float(np.sum(power_w) + heater_w) * GRID_S, kept_j)


def _bath(
    story: Story, weather: Weather, power_w: Floats, given: tuple[Floats, Floats, Flags]
) -> tuple[Floats, float, float]:
    rig, heat = story.rig, story.rig.heat
    ambient, loss, stuck = (array.tolist() for array in given)
    cold = {int(t_s / GRID_S) for t_s, _ in story.script.breaks}
    heated = np.isfinite(heat.set_degc)
    begin = heat.set_degc if heated and weather.preheated else ambient[0]
    if story.script.first_on:
        begin = max(begin, ambient[0] + 0.8 * float(power_w[0]) / heat.loss_w_k)
    bath, temperature, heating, heater_w, kept_j = [], begin, False, 0.0, 0.0
    for k, power in enumerate(power_w.tolist()):
        if k in cold:
            kept_j += rig.heat.bath_j_k * (temperature - begin)
            temperature = begin = heat.set_degc if heated and weather.preheated else ambient[k]
        if heated:
            heating = stuck[k] or temperature < heat.set_degc - (0.0 if heating else 1.0)
        extra = heat.heater_w if heating else 0.0
        bath.append(temperature)
        heater_w += extra
        temperature += GRID_S * (power + extra - loss[k] * (temperature - ambient[k])) / heat.bath_j_k
    return np.array(bath), heater_w, kept_j + heat.bath_j_k * (temperature - begin)


def _pin_power(story: Story, power_w: Floats, t_s: Floats) -> Floats:
    over = story.overheat
    if over is None or over.cause != "starved":
        return power_w
    return np.where(t_s >= over.t_s, power_w * (1.0 + (over.factor - 1.0) * _soft(t_s - over.t_s, 40.0)), power_w)


def _soft(since_s: Floats, tau_s: float) -> Floats:
    return 1.0 - np.exp(-np.maximum(since_s, 0.0) / tau_s)


def _pin_above(rig: Rig, power_w: Floats) -> Floats:
    keep = float(np.exp(-GRID_S / rig.heat.pin_s))
    above, value = [], float(power_w[0]) * rig.heat.pin_k_w
    for power in power_w.tolist():
        value = keep * value + (1.0 - keep) * power * rig.heat.pin_k_w
        above.append(value)
    return np.array(above)
