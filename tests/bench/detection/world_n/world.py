"""The painted world from outside: seed and class in, recording and truth out.

Reads nothing but its arguments. Last link of the chain.
"""

import math

import numpy as np
from world_b.values import ChannelSet, Inside, Klass, Recording

from world_n.chart import STEP_S, Chart
from world_n.facts import set_ranges, write_facts
from world_n.logger import write_down
from world_n.picture import Charts, Picture, paint, paint_charts
from world_n.plan import draw_scene
from world_n.rig import draw_rig
from world_n.scene import Scene
from world_n.sensors import show
from world_n.stamps import kept_rows, stamp_rows
from world_n.truth import tell

SLOWEST_HZ, FASTEST_HZ = 10.0, 1000.0


def _heat_j(scene: Scene, chart: Chart) -> tuple[float, float]:
    """Give heat put in and heat kept: the heater makes up for what friction does not give."""
    heat, there = scene.rig.heat, chart.t_s < scene.duration_s
    bath, friction_w = chart.bath_degc[there], chart.friction_power_w[there][:-1]
    kept_w = heat.bath_capacity_j_k * np.diff(bath) / STEP_S
    lost_w = heat.bath_loss_w_k * np.maximum(bath[:-1] - heat.ambient_degc, 0.0)
    heater_w = np.maximum(kept_w + lost_w - friction_w, 0.0)
    put_in_j = float(np.sum(friction_w + heater_w) * STEP_S)
    return put_in_j, float(heat.bath_capacity_j_k * (bath[-1] - bath[0]))


def _inside(scene: Scene, chart: Chart, picture: Picture) -> Inside:
    drive = scene.rig.drive
    rad_s = drive.speed_rpm * 2.0 * math.pi / 60.0
    heat_in_j, bath_heat_j = _heat_j(scene, chart)
    return Inside(
        t_s=picture.t_s,
        normal_load_n=picture.load_n,
        friction_force_n=picture.friction_n,
        motor_current_a=picture.current_a,
        ring_speed_rad_s=picture.ring_share * rad_s,
        motor_speed_rad_s=picture.motor_share * rad_s,
        shaft_torque_nm=picture.torque_nm,
        bath_temperature_degc=chart.at(picture.t_s, chart.bath_degc),
        pin_temperature_degc=chart.at(picture.t_s, chart.pin_degc),
        sound_level_db=chart.at(picture.t_s, chart.sound_db),
        on=picture.motion.on,
        heat_in_j=heat_in_j,
        bath_heat_j=bath_heat_j,
        drag_torque_nm=drive.drag_nm,
        ring_radius_m=scene.rig.contact.diameter_mm / 2000.0,
    )


def plan_of(seed: int, klass: Klass, channel_set: ChannelSet | None = None) -> tuple[Scene, Charts]:
    """Give plan and charts behind a recording; for tests of the world itself."""
    scene = draw_scene(seed, klass, draw_rig(seed, klass, channel_set))
    return scene, paint_charts(scene)


def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and the noise-free world behind it.

    Args:
        seed: ≥ 0.
        klass: of the recording.
        rate_hz: 10..1000; plan, rig and truth are the same at any.
        channel_set: None lets the world draw one on which the class can be seen.
    Raises:
        ValueError: seed or rate outside its range.
    """
    if not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
        raise ValueError(f"rate {rate_hz} Hz: must be {SLOWEST_HZ:g}..{FASTEST_HZ:g} Hz")
    scene, charts = plan_of(seed, klass, channel_set)
    t_s = np.arange(int(scene.duration_s * rate_hz)) / rate_hz
    picture = paint(t_s, scene, charts.whole)
    columns = write_down(t_s, show(picture, charts.whole, scene), scene, set_ranges(scene), rate_hz)
    kept = kept_rows(t_s, scene)
    recording = Recording(
        time_s=stamp_rows(t_s, scene)[kept],
        channels={name: column[kept] for name, column in columns.items()},
        rig=write_facts(scene, charts),
        truth=tell(scene, charts),
    )
    return recording, _inside(scene, charts.whole, picture)


def generate(seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None) -> Recording:
    """Give the recording alone; see `simulate`."""
    return simulate(seed, klass, rate_hz, channel_set)[0]
