"""Sound level and pin temperature against what is usual for them: the acoustic and the thermal kind of evidence.

Reads one channel slice by slice, gives how far it is from usual.
"""

import math
from collections import deque

from scuffwatch.detect.smooth import Rate, Usual

_SOUND_FAST_S, _SOUND_USUAL_S = 0.25, 30.0
_SOUND_KNOWN_S = 3.0
_LOUD_DB = 3.0
_TICK_S = 0.2
_RATE_S, _USUAL_RATE_S = 2.0, 30.0


class SoundRise:
    """Follow the sound level, dB; two-sided, against itself.

    Attributes:
        rise_db: 0.25 s mean less what is usual; NaN before 3 s have been learned, or without the channel.
        sigma_db: usual distance from usual.
    """

    def __init__(self) -> None:
        self._fast = math.nan
        self._rate = Rate(_SOUND_FAST_S)
        self._usual = Usual(_SOUND_USUAL_S, wary=True)
        self._spread = Usual(_SOUND_USUAL_S, wary=True)
        self._before = (math.nan, 0.0), (math.nan, 0.0)
        self.rise_db = math.nan

    def forget_motion(self) -> None:
        """Begin anew after a stop: the motor's own sound comes and goes with it."""
        self._fast = math.nan
        if self._usual.learned_s:
            self._before = (self._usual.value, self._usual.learned_s), (self._spread.value, self._spread.learned_s)
        self._usual.forget()
        self._spread.forget()
        self.rise_db = math.nan

    def recall(self) -> None:
        """Take what was usual before the last stop: it was none."""
        usual, spread = self._before
        self._usual.seed(*usual)
        self._spread.seed(*spread)

    def forget_means(self) -> None:
        """Begin anew after a hole; what is usual stays."""
        self._fast = math.nan

    @property
    def sigma_db(self) -> float:
        """Give the usual mean distance from usual, dB."""
        return self._spread.value

    def update(self, level_db: float, dt_s: float, learning: bool) -> None:
        """Take the slice's level; NaN where there is none."""
        if level_db != level_db:
            self.rise_db = math.nan
            return
        if self._fast != self._fast:
            self._fast = level_db
        self._fast += (level_db - self._fast) * self._rate.share(dt_s)
        usual = self._usual
        away = self._fast - usual.value
        if learning or not abs(away) > _LOUD_DB:
            usual.learn(self._fast, dt_s)
            self._spread.learn(abs(away) if away == away else 0.0, dt_s)
        else:
            usual.learn(self._fast, dt_s, 4.0)
        self.rise_db = self._fast - usual.value if usual.learned_s >= _SOUND_KNOWN_S else math.nan


class HeatRise:
    """Follow a temperature's rate, K/s, against what is usual.

    Attributes:
        excess_k_s: rate over 2 s less what is usual; NaN before it is known.
        next_s: node time before which a value is passed over, s.
    """

    def __init__(self) -> None:
        self._values: deque[tuple[float, float]] = deque()
        self._usual = Usual(_USUAL_RATE_S, wary=True)
        self.next_s = -math.inf
        self.excess_k_s = math.nan

    def forget_motion(self) -> None:
        """Begin anew after a stop."""
        self._values.clear()
        self.excess_k_s = math.nan

    def forget_means(self) -> None:
        """Begin anew after a hole; as after a stop."""
        self.forget_motion()

    def update(self, degc: float, t_s: float) -> None:
        """Take the slice's temperature; NaN where there is none."""
        if t_s < self.next_s:
            return
        self.next_s = t_s + _TICK_S - 1e-6
        if degc != degc:
            self.forget_motion()
            return
        values = self._values
        values.append((t_s, degc))
        while values[0][0] < t_s - _RATE_S - 1e-6:
            values.popleft()
        span_s = t_s - values[0][0]
        if span_s < 0.8 * _RATE_S:
            return
        rate_k_s = (degc - values[0][1]) / span_s
        usual = self._usual.value if self._usual.value == self._usual.value else rate_k_s
        self.excess_k_s = rate_k_s - usual
        self._usual.learn(rate_k_s, _TICK_S, 4.0 if self.excess_k_s > 0.3 else 1.0)
