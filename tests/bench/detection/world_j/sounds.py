"""What is heard in the hall. Reads a course, gives sound level at the microphone and, by its meter, at the rows."""

import numpy as np
from world_b.values import Floats, Kind

from .draws import log_uniform
from .filters import lag, smooth_step, wander
from .friction_story import FrictionStory
from .physics import Course
from .rigs import Rig
from .scripts import Script


def level_db(rng: np.random.Generator, rig: Rig, course: Course, story: FrictionStory, outside: Floats) -> Floats:
    """Give the sound level before the meter, dB, on the clock of the physics; outside is the power of others."""
    hall, t_s = rig.hall, course.t_s
    step_s = float(t_s[1] - t_s[0])
    speed = np.clip(course.ring_rad_s / rig.drive.free_speed_rad_s, 0.0, 1.5)
    turning = np.clip(course.motor_rad_s / rig.drive.free_speed_rad_s, 0.0, 1.5)
    power = np.clip(course.friction_n, 0.0, None) / (0.1 * rig.top_load_n) * speed
    unrest_db = 1.2 * wander(rng, t_s.size, step_s, 0.05) + 0.8 * wander(rng, t_s.size, step_s, 8.0)
    scrape_db = hall.scuffing_db * story.scrape_share * np.clip(speed * 3.0, 0.0, 1.0)
    contact_db = hall.ambient_db + hall.contact_db + unrest_db + scrape_db + story.squeal_db
    contact = 10.0 ** (contact_db / 10.0) * power**hall.contact_exponent
    hum = np.where(course.on, 10.0 ** ((hall.ambient_db + hall.motor_db - 8.0) / 10.0), 0.0)
    drive = hum + 10.0 ** ((hall.ambient_db + hall.motor_db) / 10.0) * turning**2.5
    straight = contact + drive + outside
    late = lag(straight, step_s, hall.reverberation_s / (6.0 * np.log(10.0)))
    return 10.0 * np.log10(np.clip(hall.direct_share * straight + (1.0 - hall.direct_share) * late, 1e-3, None))


def outside_power(rng: np.random.Generator, rig: Rig, script: Script, t_s: Floats) -> Floats:
    """Give the sound power of the room and of others in it, (n,), and note them in the script."""
    ambient_db, end_s = rig.hall.ambient_db, script.duration_s
    level = np.full(t_s.size, ambient_db) + float(rng.uniform(0.3, 1.2)) * wander(rng, t_s.size, float(t_s[1]), 5.0)
    power, loud = 10.0 ** (level / 10.0), 10.0 ** (ambient_db / 10.0)
    for begin_s in rng.uniform(5.0, end_s, int(rng.poisson(0.6 * end_s / 600.0))):
        late_s = np.clip(t_s - begin_s, 0.0, None)
        power += (t_s >= begin_s) * loud * 10.0 ** rng.uniform(1.0, 3.0) * np.exp(-late_s / rng.uniform(0.03, 0.15))
        script.note(Kind.DOOR_SLAM, begin_s, 0.5)
    for kind, chance, longest_s in ((Kind.NEIGHBOUR, 0.25, 300.0), (Kind.VOICES, 0.35, 60.0)):
        if rng.random() < chance:
            begin_s, length_s = float(rng.uniform(0.0, 0.9)) * end_s, log_uniform(rng, 5.0, longest_s)
            heard = smooth_step(t_s, begin_s, 1.0) - smooth_step(t_s, begin_s + length_s, 1.5)
            if kind is Kind.VOICES:
                heard *= np.clip(wander(rng, t_s.size, float(t_s[1]), 0.2), 0.0, 2.0)
            power += heard * loud * 10.0 ** float(rng.uniform(0.2, 1.3))
            script.note(kind, begin_s, length_s)
    return power


def metered_db(true_db: Floats, step_s: float, meter_s: float) -> Floats:
    """Give the level a meter shows, dB: exponential average of sound power.

    Source: IEC 61672-1, time weightings F (0.125 s) and S (1 s).
    """
    return 10.0 * np.log10(np.clip(lag(10.0 ** (true_db / 10.0), step_s, meter_s), 1e-3, None))
