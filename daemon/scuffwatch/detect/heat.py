"""Heat to come: a temperature that will pass its limit if it goes on rising as it does.

Reads slices, gives a warning with the time left. The limit itself is a `HardLimit`. Specimens warm up after every start
and every weight, fast at first and ever slower; such a rise is told from one that goes on by how its rate has changed.
"""

import math
from collections import deque
from dataclasses import dataclass
from operator import mul

from scuffwatch.detect.interference import JUMP_K
from scuffwatch.detect.words import number, quantity, words_of
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import Quality, unit_of
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level

_TICK_S = 0.1
_HOLE_S = 0.5
_RATES_EVERY_S, _RATES_S = 1.0, 20.0
"""The rate is compared with its highest of the last 20 s: a specimen that warms up takes tens of seconds and more."""
_BEGUN_SHARE = 0.5
"""A rate of which less than this was there at some moment of the last 20 s has only just begun, or begun anew."""
_HELD_K_S, _HELD_K = 0.03, 2.0
"""A temperature that changes by less has been held; what is no warmer than that by more is on its way back to it."""
_SETTLED_S = 60.0
"""A temperature that was held for so long, or held at all after a rise, is not on its first way up any more."""
_SPEEDS_UP, _STILL_SHARE = 1.1, 0.9
"""A third of the window that rises by more than so many times the one before speeds up; one with no less than the
second share has not slowed down."""
_SLOWED_SHARE = 0.7
"""Of the rate in the window before; a rise of which more is left has not slowed down for certain."""
_TRIP_RISE_SHARE, _NEAR_RISE_SHARE, _VERY_NEAR_K = 0.25, 0.1, 1.0
"""So near to the limit a quarter of the rise that counts far from it will do, and within a kelvin a tenth."""
_EARLIER_S, _HIGHER_K = 20, 0.25
"""A temperature that is no higher by the second than it has been, the first and longer ago, has come back there and no
farther: a thermostat's swing, or noise."""
_MINUTE_S, _MINUTE_RISE_K = 60, 1.5
"""What has risen by so much in a minute, in its second half as in its first, goes on."""
_ALIKE_SHARE = 0.4
"""Of the second half's rise; what rose by less in the first has begun since."""


@dataclass(frozen=True, slots=True)
class HeatParams:
    """One temperature to look ahead on.

    Attributes:
        channel: name of a temperature.
        limit_degc: the trip limit that it must not reach.
        window_s: length of the fit; nothing is said before it is full.
        horizon_s: a warning where the limit is nearer than this and the rise goes on as it does, or slows down too
            little; it has cleared beyond twice of it. On the first way up, by heater or friction, nobody knows yet
            where it is to end: there the warning waits for `trip_horizon_s`.
        min_rise_k: rise over the window below which it is noise or wander, K. 0.5 °C steps and a wander of 0.2-0.8 °C
            are usual.
        on_delay_s: how long the forecast must hold, without a break.
        trip_horizon_s, trip_band_k: a trip where the limit is nearer than this in time and in temperature: the sensor
            lags behind what it measures. Nearer than this in time a rise is warned of that has only just begun.
        trip_slow_horizon_s: instead of `trip_horizon_s` on a rise that has gone on for a minute without slowing down:
            where it is slow, a kelvin of the sensor's error is many seconds.
        trip_lag_s: a trip as well where the limit is nearer than this in time, however many kelvins those are, on a
            rise that has gone on over the whole window without slowing down.
    """

    channel: str
    limit_degc: float
    window_s: float = 10.0
    horizon_s: float = 60.0
    min_rise_k: float = 3.0
    on_delay_s: float = 1.0
    trip_horizon_s: float = 20.0
    trip_slow_horizon_s: float = 40.0
    trip_band_k: float = 5.0
    trip_lag_s: float = 8.0


class HeatForecast:
    """Fit a straight line through the last seconds, at 10 values a second, and say when it meets the limit.

    Least squares over evenly spaced values. A hole of more than half a second, a BAD value or a restart of the node
    empties the window: no rate is known across it.

    Args:
        params: see `HeatParams`.

    What survives a call: the window, the rates of the last 20 s, how many fits in a row agreed, the warmest temperature
    that has been held, the highest of more than 20 s ago, whether this is still the first way up, and what stands.

    Attributes:
        standing: the finding, while its condition is true.
    """

    def __init__(self, params: HeatParams) -> None:
        self._params = params
        self._n = max(3, round(params.window_s / _TICK_S))
        self._weights = [k - (self._n - 1) / 2 for k in range(self._n)]
        self._spread = math.fsum(w * w for w in self._weights)
        self._values: deque[float] = deque(maxlen=self._n)
        self._rates_k_s: deque[float] = deque(maxlen=round(_RATES_S / _RATES_EVERY_S) + 1)
        self._minute_degc: deque[float] = deque(maxlen=_MINUTE_S + 1)
        self._fits = 0
        self._jumped = False
        self._held_degc = self._earlier_degc = -math.inf
        self._first_way, self._has_risen, self._held_s = True, False, 0.0
        self._epoch = self._tick = 0
        self._duration_s, self._stride = 0.0, 1
        self.reset()

    def reset(self) -> None:
        """Let nothing stand; the window is kept, it is only what was measured."""
        self._ahead = self._near = self._clear = 0
        self.standing: tuple[Finding, ...] = ()

    def update(self, s: Slice) -> tuple[Finding, ...]:
        """Take the next slice, give the warning where it became true in it."""
        if s.duration_s != self._duration_s:
            self._duration_s = s.duration_s
            self._stride = max(1, round(_TICK_S / s.duration_s))
        stride = self._stride
        tick = (s.index + 1) // stride
        if tick == self._tick and s.epoch == self._epoch:
            return ()
        missed_s = (tick - self._tick - 1) * stride * s.duration_s
        if s.epoch != self._epoch or not 0.0 <= missed_s <= _HOLE_S:
            self._forget()
        self._epoch, self._tick = s.epoch, tick
        channel = s.channels.get(self._params.channel)
        if channel is None or channel.quality is Quality.BAD:
            self._forget()
            return ()
        self._values.append(self._believed(channel.mean))
        return self._judge(s, stride * s.duration_s) if len(self._values) == self._n else ()

    def _believed(self, degc: float) -> float:
        """Give the value, or once the last one where it has jumped: electrical, if the next one is back."""
        jumps = bool(self._values) and not -JUMP_K <= degc - self._values[-1] <= JUMP_K
        self._jumped = jumps and not self._jumped
        return self._values[-1] if self._jumped else degc

    def _forget(self) -> None:
        self._values.clear()
        self._rates_k_s.clear()
        self._minute_degc.clear()
        self._fits = 0

    def _goes_on(self, rate_k_s: float, now_degc: float) -> bool:
        """Say whether the rise will reach the limit if it goes on slowing down as it has since its fastest in 20 s."""
        rates_k_s = self._rates_k_s
        if len(rates_k_s) < (rates_k_s.maxlen or 0) or min(rates_k_s) < _BEGUN_SHARE * rate_k_s:
            return False
        peak_k_s = max(rates_k_s)
        if peak_k_s <= rate_k_s:
            return True
        since_peak_s = max(1, len(rates_k_s) - 1 - rates_k_s.index(peak_k_s)) * _RATES_EVERY_S
        memory_s = since_peak_s / math.log(peak_k_s / rate_k_s)
        return now_degc + rate_k_s * memory_s >= self._params.limit_degc

    def _still(self, rate_k_s: float, spacing_s: float) -> float:
        """Give how much of a rate over the window the last third of it still has: 0 to 1."""
        third = max(1, self._n // 3)
        lately_k_s = (self._values[-1] - self._values[-1 - third]) / (third * spacing_s)
        return min(1.0, max(0.0, lately_k_s / rate_k_s)) if rate_k_s > 0.0 else 0.0

    def _gets_there(self, rate_k_s: float, now_degc: float) -> bool:
        """Say whether a rise will reach the limit if it goes on slowing down as it has from third to third.

        An exponential approach loses the same share of its rate in each third of the window; what is left of it is the
        rate now times its time constant. Derived here.
        """
        p, values, third = self._params, self._values, self._n // 3
        last_k, middle_k = values[-1] - values[-1 - third], values[-1 - third] - values[-1 - 2 * third]
        if last_k <= 0.0:
            return False
        shows = self._fills_window(rate_k_s) or p.limit_degc - now_degc <= p.trip_band_k
        if last_k > _SPEEDS_UP * middle_k:  # it speeds up, or has begun since and shows nothing yet
            return shows
        kept = last_k / middle_k
        if kept >= _STILL_SHARE:
            return True
        if not shows:  # it has begun since and slows down already: more than shows
            return False
        left_k = last_k * math.sqrt(kept) / -math.log(kept)
        return values[-1] + left_k >= p.limit_degc

    def _gets_there_slowly(self, rate_k_s: float, now_degc: float) -> bool:
        """Say the same of a rise too small to be told from third to third: from the window before this one."""
        before = round(self._params.window_s / _RATES_EVERY_S) + 1
        if len(self._rates_k_s) < before:
            return True
        kept = rate_k_s / max(self._rates_k_s[-before], 1e-9)
        if not 0.0 < kept <= _SLOWED_SHARE:
            return True
        left_k = rate_k_s * math.sqrt(kept) * self._params.window_s / -math.log(kept)
        return now_degc + left_k >= self._params.limit_degc

    def _fills_window(self, rate_k_s: float) -> bool:
        """Say whether it rose in the first third of the window already: what has begun since shows no slowing down."""
        first_k = self._values[self._n // 3] - self._values[0]
        return first_k * 3.0 >= _BEGUN_SHARE * rate_k_s * self._params.window_s

    def _is_unbroken(self, rate_k_s: float, spacing_s: float) -> bool:
        """Say whether a rise has gone on over the whole window without slowing down."""
        p = self._params
        return (
            self._fills_window(rate_k_s)
            and rate_k_s * p.window_s >= p.min_rise_k
            and self._still(rate_k_s, spacing_s) >= _STILL_SHARE
        )

    def _judge(self, s: Slice, spacing_s: float) -> tuple[Finding, ...]:
        p, values = self._params, self._values
        rate_k_s = math.fsum(map(mul, self._weights, values)) / self._spread / spacing_s
        now_degc = math.fsum(values) / self._n + rate_k_s * self._weights[-1] * spacing_s
        rising = rate_k_s * p.window_s >= p.min_rise_k and now_degc < p.limit_degc
        left_s = (p.limit_degc - now_degc) / rate_k_s if rising else math.inf
        needed = max(1, round(p.on_delay_s / spacing_s))
        if self._fits % max(1, round(_RATES_EVERY_S / spacing_s)) == 0:
            self._rates_k_s.append(rate_k_s)
            self._minute_degc.append(now_degc)
            if len(self._minute_degc) > _EARLIER_S:
                self._earlier_degc = max(self._earlier_degc, self._minute_degc[-1 - _EARLIER_S])
        self._fits += 1
        is_higher = now_degc > self._earlier_degc + _HIGHER_K
        soon = (left_s <= p.trip_horizon_s and is_higher and self._gets_there(rate_k_s, now_degc)) or (
            left_s <= p.horizon_s
            and not self._first_way
            and now_degc > self._held_degc + _HELD_K
            and self._goes_on(rate_k_s, now_degc)
        )
        self._has_risen = self._has_risen or rising
        if -_HELD_K_S < rate_k_s < _HELD_K_S:
            self._hold(now_degc, spacing_s)
        self._ahead = self._ahead + 1 if soon else 0
        self._near = self._near + 1 if is_higher and self._is_near(now_degc, rate_k_s, spacing_s) else 0
        # A slow rise that is near counts as none for a warning, and must not clear the trip it is.
        clear = not self._near and left_s > 2.0 * p.horizon_s and now_degc < p.limit_degc
        self._clear = self._clear + 1 if clear else 0
        if self._clear >= needed:
            self.standing = ()
        stands = self.standing[0].level if self.standing else Level.NOTICE
        if self._near >= needed and stands is not Level.TRIP:
            left_s = (p.limit_degc - now_degc) / rate_k_s
            self.standing = (self._finding(s, now_degc, rate_k_s, left_s, Level.TRIP),)
        elif self._ahead >= needed and not self.standing:
            self.standing = (self._finding(s, now_degc, rate_k_s, left_s, Level.WARN),)
        else:
            return ()
        return self.standing

    def _hold(self, now_degc: float, spacing_s: float) -> None:
        """Take a temperature that changes no more: the first way up ends there, and so far it may come back."""
        self._held_s += spacing_s
        self._first_way = self._first_way and not self._has_risen and self._held_s < _SETTLED_S
        if self._held_degc < now_degc < self._params.limit_degc - self._params.trip_band_k:
            self._held_degc = now_degc

    def _is_near(self, now_degc: float, rate_k_s: float, spacing_s: float) -> bool:
        """Say whether the limit is so near, in kelvin and in seconds, that the true temperature may be there."""
        p = self._params
        left_k = p.limit_degc - now_degc
        if 0.0 < left_k <= rate_k_s * p.trip_lag_s and self._is_unbroken(rate_k_s, spacing_s):
            return True
        minutes_k_s = self._minutes_rate_k_s
        if 0.0 < left_k <= min(p.trip_band_k, minutes_k_s * p.trip_slow_horizon_s):
            return rate_k_s >= _STILL_SHARE * minutes_k_s
        gets_there = self._gets_there if rate_k_s * p.window_s >= p.min_rise_k else self._gets_there_slowly
        if not gets_there(rate_k_s, now_degc):
            return False
        least_k = (_TRIP_RISE_SHARE if left_k > _VERY_NEAR_K else _NEAR_RISE_SHARE) * p.min_rise_k
        return 0.0 < left_k <= min(p.trip_band_k, rate_k_s * p.trip_horizon_s) and rate_k_s * p.window_s >= least_k

    @property
    def _minutes_rate_k_s(self) -> float:
        """Give the rate of a rise that has gone on for a minute without slowing down; 0 where there is none."""
        minute = self._minute_degc
        if len(minute) <= _MINUTE_S:
            return 0.0
        half = _MINUTE_S // 2
        first_k, last_k = minute[half] - minute[0], minute[-1] - minute[half]
        goes_on = first_k >= _ALIKE_SHARE * last_k and last_k >= _STILL_SHARE * first_k
        goes_on = goes_on and first_k + last_k >= _MINUTE_RISE_K
        return last_k / half if goes_on else 0.0

    def _finding(self, s: Slice, now_degc: float, rate_k_s: float, left_s: float, level: Level) -> Finding:
        p = self._params
        horizon_s = p.horizon_s
        if level is Level.TRIP:
            horizon_s = p.trip_horizon_s if left_s <= p.trip_horizon_s else p.trip_slow_horizon_s
        says = (
            f"Overheat ahead: {words_of(p.channel)} {quantity(p.channel, now_degc)}, rising {number(rate_k_s, 2)} K/s, "
            f"reaches {quantity(p.channel, p.limit_degc)} in {number(left_s, 0)} s."
        )
        evidence = (
            Evidence(p.channel, now_degc, p.limit_degc, unit_of(p.channel)),
            Evidence("time_to_limit_s", left_s, horizon_s, "s"),
        )
        return Finding(FindingKind.OVERHEAT, level, s.t_rig_s, (p.channel,), evidence, says)
