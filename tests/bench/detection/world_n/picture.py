"""A painted scene at any times: the fast courses at the contact and drive, read against the slow chart.

Reads times, a `Scene` and its `Chart`, gives a `Picture`; what the sensors make of it is in `sensors`.
"""

from dataclasses import dataclass

from world_b.values import Floats

from world_n.chart import Chart, paint_chart
from world_n.contact import paint_contact
from world_n.current import paint_current, paint_torque
from world_n.motion import Motion, paint_motion
from world_n.scene import Scene
from world_n.warmth import Limits, set_limits


@dataclass(frozen=True, slots=True)
class Picture:
    """(n,) each, free of noise: N, A, N m, shares of the set speed with friction's droop in them."""

    t_s: Floats
    motion: Motion
    load_n: Floats
    friction_n: Floats
    current_a: Floats
    torque_nm: Floats
    ring_share: Floats
    motor_share: Floats


@dataclass(frozen=True, slots=True)
class Charts:
    """The same plan painted whole, without the event but with the damage ahead of it, and healthy."""

    whole: Chart
    before: Chart
    healthy: Chart
    limits: Limits


def paint_charts(scene: Scene) -> Charts:
    """Paint the three charts of a plan; they are the same one where nothing happens."""
    healthy = paint_chart(scene, False, False, None, None)
    limits = set_limits(scene, healthy.pin_degc, healthy.bath_degc)
    if scene.event is None:
        return Charts(healthy, healthy, healthy, limits)
    before = paint_chart(scene, False, True, healthy, limits)
    return Charts(paint_chart(scene, True, True, healthy, limits), before, healthy, limits)


def paint(t_s: Floats, scene: Scene, chart: Chart, strike: bool = True, warn: bool = True) -> Picture:
    """Paint the fast courses.

    Args:
        t_s: (n,) s, within the recording.
        scene: the plan.
        chart: of the same plan; gives the turns of the ring and the droop.
        strike, warn: whether the event, and the damage ahead of it, happen.
    """
    motion = paint_motion(t_s, scene, strike)
    rubbing = paint_contact(t_s, scene, motion, chart.at(t_s, chart.ring_turns), strike, warn)
    moving = 1.0 - chart.at(t_s, chart.droop)
    return Picture(
        t_s=t_s,
        motion=motion,
        load_n=rubbing.load_n,
        friction_n=rubbing.friction_n,
        current_a=paint_current(t_s, scene, motion, rubbing),
        torque_nm=paint_torque(t_s, scene, motion, rubbing),
        ring_share=motion.ring * moving,
        motor_share=motion.motor * moving,
    )
