"""Any table of numbers is judged to its end: rubbish in channels, stamps and lengths raises nothing.

Made up here; no source.
"""

import math
import random

import pytest

from scuffwatch.service.replay import TableReplay, load_replay_settings

pytestmark = pytest.mark.slow

HIGH = {
    "normal_load_n": 300.0,
    "friction_force_n": 60.0,
    "motor_current_a": 4.0,
    "sound_level_db": 80.0,
    "pin_temperature_degc": 60.0,
    "bath_temperature_degc": 50.0,
    "ring_speed_rpm": 200.0,
}
RIG = "[rig]\nring_diameter_mm = 40.0\nring_speed_rpm = 200.0\n[motor]\nno_load_current_a = 1.0\n"
ROWS = 2_500


@pytest.mark.parametrize("seed", range(24))
def test_rubbish_is_judged_to_its_end(seed: int) -> None:
    draw = random.Random(seed)
    names = [name for name in HIGH if draw.random() < 0.75] or ["motor_current_a"]
    replay = TableReplay(tuple(names), load_replay_settings(RIG if draw.random() < 0.7 else ""))
    spacing_s, noise = draw.choice((0.01, 0.01, 0.1, 0.001)), draw.choice((0.0, 0.001, 0.05, 0.3))
    now, goal, t_s = dict.fromkeys(names, 0.0), dict.fromkeys(names, 0.0), 0.0
    refused = 0
    for _ in range(ROWS):
        if draw.random() < 0.004:
            name = draw.choice(names)
            high = HIGH[name]
            goal[name] = draw.choice((0.0, high, -0.05 * high, 3.0 * high, 0.02 * high, 1e9, -1e9, 1e-12))
        if draw.random() < 0.002:
            goal = {name: HIGH[name] for name in names}
        row = []
        for name in names:
            now[name] += (goal[name] - now[name]) * draw.choice((0.01, 0.2, 1.0))
            value = now[name] + draw.gauss(0.0, 1.0) * noise * HIGH[name]
            row.append(draw.choice((math.nan, 1e30, -1e30, 0.0)) if draw.random() < 0.002 else value)
        step_s = spacing_s if draw.random() > 0.002 else draw.choice((0.0, 0.3, 0.6, 2.0, 20.0))
        t_s, refused = t_s + step_s, refused + (step_s == 0.0)
        replay.take(t_s, row)
    replay.finish()
    assert replay.summary().rows_refused == refused
