"""Scuffing trips: which way the evidence is complete, by how much, and against which limit.

Reads the track that speaks for the contact with what else is known of it, gives a rise that takes the permit away. The
six ways stand in `scuffing.py`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scuffwatch.detect.far_above import FarAbove
from scuffwatch.detect.film_speed import FilmSpeed
from scuffwatch.detect.load_motion import LoadMotion
from scuffwatch.detect.mechanics import Mechanics
from scuffwatch.detect.other_kinds import Kind, Seen, agree, is_heard
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.scuffing_says import Beyond, Far, Rise
from scuffwatch.detect.scuffing_warns import Contact, ScuffWarns
from scuffwatch.detect.track import Phase, Track
from scuffwatch.detect.unseen_weights import UnseenWeights
from scuffwatch.detect.unweighed import Unweighed

_HOLD = Phase.HOLD
"""By a name of its own: to look it up in its class every slice takes longer than the comparison."""
_CEILING_BAND = 0.12
_ENOUGH_S, _ADDED_MOST = 1.0 / 24.0, 0.35
"""However high, no rise is enough sooner; and of the sum that is enough, what one slice adds: it may be a spike."""
_STILL_SHARE = 0.5
"""Of a steep rise; what has just swung so far below its level goes up again by itself."""
_SWING_BAND = 0.1
"""A rise counts from so far above the top that a swing as deep as the last one has; natural logarithm."""
_RESTED_S = 0.2
"""So long a new load has been at rest before a rise is held against what y was since."""
BOUNDARY_COEFFICIENT = 0.12
"""Of a healthy boundary film; Zhang, Ueda, Campen, Spikes 2021, Tribology Letters: 0.09 to 0.14."""
LOG_BOUNDARY = math.log(BOUNDARY_COEFFICIENT)
_NOISE_TIMES, _FLOOR_TIMES = 3.5, 2.0
_HIDDEN_TIMES, _HIDDEN_SHARE = 3.0, 0.5
"""A usual drag of so many floors is hidden in them, until friction is so much of a boundary film's, or a torque current
twice as many floors."""
_SLACK_SHARE = 0.6
LIGHTER_SHARE = 0.7
"""Of its level; a load of less has had weights taken off."""
_KEPT_SHARE = 0.95
"""Of the load at the beginning of its level."""
_ABOVE_BELOW = 1.5
_CALM = 1.5
"""Unrest over usual below which a rise may be a film that thins."""
_OVER_FLOOR_LEAST = 0.5
_STEEP_HEAT_TIMES = 2.0
"""Of its limit; a torque current misses much of what the contact drags, and the pin feels it."""
_SLOW_NOISE_TIMES, _KEPT_NOISE_TIMES = 4.0, 2.0
"""A slow rise is at least so many standard deviations of one value: on a light contact friction is mostly noise. Its
mean of 4 s is, beside sound and heating, at least half as many."""


@dataclass(slots=True)
class Hung:
    """What is known of the load that hangs there.

    Attributes:
        level_n: the level it has settled at, N; NaN before the first, or where it is not measured.
        began_n: what that level was when it began, N; NaN likewise.
        heaviest_n: the heaviest level so far, N; NaN likewise.
        was_measured: whether it has been, since it was put on.
    """

    level_n: float = math.nan
    began_n: float = math.nan
    heaviest_n: float = math.nan
    was_measured: bool = False


@dataclass(frozen=True, slots=True)
class Parts:
    """What follows the contact; each is kept up to date by its owner.

    Attributes:
        mechanics, motion, hung: the drag, the load's motion, the load that hangs there.
        weights, unweighed: weights that nobody measured, and what behaves as none.
        far_above: a coefficient no film has.
        warns: bursts and stick-slip.
        film_speed: whether the ring is on its way to another speed.
    """

    mechanics: Mechanics
    motion: LoadMotion
    hung: Hung
    weights: UnseenWeights
    unweighed: Unweighed
    far_above: FarAbove
    warns: ScuffWarns
    film_speed: FilmSpeed


class ScuffTrips:
    """Look for a way to a trip whose evidence is complete.

    Args:
        params: see `ScuffParams`.
        parts: see `Parts`.

    What survives a call: for how long each way has had its evidence.
    """

    def __init__(self, params: ScuffParams, parts: Parts) -> None:
        self._params = params
        self._mechanics, self._motion, self._hung = parts.mechanics, parts.motion, parts.hung
        self._weights, self._unweighed, self._warns = parts.weights, parts.unweighed, parts.warns
        self._far_above, self._film_speed = parts.far_above, parts.film_speed
        self.reset()

    def reset(self) -> None:
        """Begin anew."""
        self._beyond_s = 0.0
        self._mechanics.seldom_load.reset()
        self.forget()

    def forget(self) -> None:
        """Begin anew after a stop or a hole."""
        self._fast_sum = self._steep_sum = self._slow_s = self._high_s = self._climb_s = 0.0

    @property
    def unseen_is_open(self) -> bool:
        """Say whether a level that nobody measured has not yet shown that it stays."""
        return not self._mechanics.has_load and self._weights.is_open

    @property
    def slack(self) -> float:
        """Give what a zero error of the friction cell may add to y at a load larger than the settled one."""
        load_n, now_n, level_n = self._motion.level_n, self._mechanics.load_n, self._hung.level_n
        if now_n > load_n:  # a weight on its way down: friction is ahead of the mean of the load
            load_n = now_n
        ratio = load_n / level_n if level_n > 0.0 else 1.0
        return _SLACK_SHARE * math.log(ratio) if ratio > 1.0 else 0.0

    def judge(self, now: Contact, others: Sequence[Seen], dt_s: float) -> Rise | Beyond | Far | None:
        """Take the next slice; give the way whose evidence is complete, None for none.

        Args:
            now: what speaks for the contact.
            others: the other kinds seen in the last seconds.
            dt_s: length of the slice, s.
        """
        seldom = self._mechanics.seldom_load
        if seldom.comes:
            self._fast_sum = self._steep_sum = 0.0
        found = self._look(now, others, dt_s)
        return found if seldom.counts(found is not None, dt_s) else None

    def _look(self, now: Contact, others: Sequence[Seen], dt_s: float) -> Rise | Beyond | Far | None:
        mechanics, track, unweighed_rise = self._mechanics, now.track, self._weight_limit(now.track)
        # The torque current of an idling motor is mostly its floor's doubt.
        stands_out = now.is_friction or now.drag.drag >= _FLOOR_TIMES * now.drag.floor
        is_thin = now.is_friction and mechanics.has_load and self._is_below_boundary_friction()
        is_thin = is_thin or (self._film_speed.moves and now.is_friction and mechanics.is_boundary_film)
        fast = self._fast(now, unweighed_rise, stands_out, is_thin, dt_s)
        self._beyond_s = self._beyond_s + dt_s if mechanics.friction_is_beyond else 0.0
        # Beyond any weight it need not wait for the level to come to rest.
        settled = 0.0 < unweighed_rise < math.inf or (now.phase is not _HOLD and not self.unseen_is_open)
        slow = self._slow(now, unweighed_rise, settled, stands_out, others, dt_s)
        high = self._high(now, unweighed_rise, settled and stands_out, is_thin, dt_s)
        climbing = self._climbing(now, settled and stands_out, is_thin, dt_s)
        if fast is not None:
            return fast
        if (slow or high or climbing) and not agree(others) and self._is_hidden(now, has_stayed=True):
            slow = high = climbing = None
        # The top of a swing may pass the range of a tight cell; it does not stay there.
        swings = track.fast - track.base < _ABOVE_BELOW * self._warns.bursts.below
        p = self._params
        few = unweighed_rise > 0.0 and not self._weights.has_seen_enough(self._hung.was_measured)
        beyond_s = p.beyond_unseen_s if swings or few else p.beyond_s
        if self._beyond_s >= beyond_s:
            return Beyond(self._beyond_s, beyond_s)
        if slow is None:
            slow = self._unweighed.found(track)
        far = self._far_above
        if now.is_friction and far.found and not (slow or high or climbing):
            return Far(far.coefficient, far.limit, far.least)
        return slow or high or climbing

    def _fast(self, now: Contact, unweighed_rise: float, stands_out: bool, is_thin: bool, dt_s: float) -> Rise | None:
        """Sum what is beyond the limit, and give it where it is enough; of a steep rise less is.

        The value itself, not its mean: summed over time either comes to the same, and the mean comes later. But while a
        weight moves, or may under the noise, a load cell may answer later than the friction cell; and the top of a slow
        swing is over before its mean is there.
        """
        track, holds = now.track, now.phase is _HOLD
        jump, rest_limit = track.jump, self._rest_limit(now)
        limit = self._fast_limit(rest_limit, holds, unweighed_rise)
        moves = holds or (self._mechanics.has_load and self._motion.is_noisy)
        at_once = jump + now.drag.y - track.fast
        counts = jump if moves or self._warns.swings else at_once
        beyond = counts - limit
        if holds and track.rested_s >= _RESTED_S:
            since_rest = track.fast - max(track.rested, track.usual)
            if since_rest - rest_limit > beyond:
                counts, limit, beyond = since_rest, rest_limit, since_rest - rest_limit
        p = self._params
        # Steep is a rise at rest and out of no swing, on a rig whose noise and healthy peaks raise no limit.
        is_still = not moves and limit <= p.jump and self._warns.bursts.below < _STILL_SHARE * p.steep
        steep = at_once - p.steep if is_still and jump > 0.0 else -1.0
        if beyond > 0.0 or steep > 0.0:
            more = self._swings_above - limit
            if more > 0.0:
                limit, beyond = limit + more, beyond - more
            is_unsure = (is_thin and moves) or self._is_hidden(now)
            if not stands_out or is_unsure or self._is_lighter:
                beyond, steep = min(beyond, 0.0), 0.0
            elif beyond > 0.0 and self._mechanics.by_load_n < self._hung.level_n:
                # Of a weight on its way off the rest may drag as before: what has to rise then is the force itself. The
                # level of a noisy cell goes down with it before it is told.
                level_n, began_n = self._hung.level_n, self._hung.began_n
                beyond -= math.log((began_n if began_n > level_n else level_n) / self._mechanics.by_load_n)
        # What passes soon may have been a particle; where a steep rise would trip at once there is time to see it pass.
        enough_s = p.still_sum_s if is_still else p.jump_sum_s
        self._fast_sum = _summed(self._fast_sum, beyond, enough_s, dt_s)
        if self._fast_sum >= 1.0:
            return Rise(now.is_friction, counts, limit)
        if steep <= 0.0 and not self._steep_sum:
            return None
        self._steep_sum = _summed(self._steep_sum, steep, p.steep_sum_s, dt_s)
        above = now.drag.y - track.usual
        is_steep = self._steep_sum >= 1.0 and steep > 0.0 and above >= p.steep_high
        return Rise(now.is_friction, above, p.steep_high) if is_steep else None

    def _slow(
        self,
        now: Contact,
        unweighed_rise: float,
        settled: bool,
        stands_out: bool,
        others: Sequence[Seen],
        dt_s: float,
    ) -> Rise | None:
        """Follow a rise that another kind bears out, and give it where it has lasted."""
        p, track, swings = self._params, now.track, self._warns.swings
        # More friction heats by itself, stick-slip swings, and a slope is unrest: one of them alone is a weak kind.
        restless = track.restless >= p.others.unrest and track.unrest >= p.others.unrest_least
        if swings:  # what has been told of is no second kind
            others, restless = [seen for seen in others if seen.kind is not Kind.VARIABILITY], False
        if not others and not restless:
            self._slow_s = 0.0
            return None
        is_strong = len(others) > 1 or (len(others) == 1 and _is_strong(others[0], now))
        rise = self._over_floor(p.rise if is_strong else p.weak_rise, now)
        lost = self.load_lost
        limit = max(rise, unweighed_rise, _SLOW_NOISE_TIMES * now.drag.noise) + lost
        kept = track.recent - track.usual
        # In stick-slip that has been told a slow swing's top is no rise; what stays is.
        rises = kept if swings else track.rise
        lasts = rises >= limit and track.low_rise >= p.low_rise
        # Sound and heating together outweigh the doubt of an idling motor's torque.
        both = agree(others)
        is_settled = settled and (stands_out or both)
        slow = lasts and is_settled
        self._slow_s = _lasted(self._slow_s, slow, track, dt_s)
        kept_limit = max(p.kept_rise, limit)
        if both:
            kept_limit = max(rise, unweighed_rise, _KEPT_NOISE_TIMES * now.drag.noise) + lost
        if is_settled and not slow and kept >= kept_limit and is_heard(others):
            return Rise(now.is_friction, kept, kept_limit)
        return Rise(now.is_friction, rises, limit) if self._slow_s >= p.rise_s else None

    def _high(self, now: Contact, unweighed_rise: float, steady: bool, is_thin: bool, dt_s: float) -> Rise | None:
        """Follow a drag at twice its usual value, and give it where it has stayed there.

        A film that thins is calm, or swings in stick-slip that has been told, and ends at a boundary film's friction.
        """
        p, track = self._params, now.track
        high_rise = self._over_floor(p.high_rise, now)
        if not steady or not track.rise >= high_rise:
            self._high_s = 0.0
            return None
        limit = max(high_rise, unweighed_rise, _SLOW_NOISE_TIMES * now.drag.noise) + self.load_lost
        is_films = is_thin and track.restless < _CALM
        if self._warns.swings and now.is_friction and self._mechanics.has_load:
            is_films = track.mean < LOG_BOUNDARY
        low_rise = p.high_low_rise * high_rise / p.high_rise
        high = track.rise >= limit and track.low_rise >= low_rise and not is_films
        self._high_s = _lasted(self._high_s, high, track, dt_s)
        return Rise(now.is_friction, track.rise, limit) if self._high_s >= p.high_s else None

    def _climbing(self, now: Contact, steady: bool, is_thin: bool, dt_s: float) -> Rise | None:
        """Follow a drag that climbs on and on at a measured load, steeper than any film in transition."""
        p, track = self._params, now.track
        if not steady or not track.mean - track.recent >= p.climb or not self._mechanics.has_load:
            self._climb_s = 0.0
            return None
        self._climb_s += dt_s
        if self._climb_s < p.climb_s or is_thin or self._warns.swings:
            return None
        limit = max(p.climb_rise, _SLOW_NOISE_TIMES * now.drag.noise) + self.load_lost
        is_high = track.rise >= limit and track.low_rise >= p.low_rise
        return Rise(now.is_friction, track.rise, limit) if is_high else None

    @property
    def _swings_above(self) -> float:
        """Give how far above its level the drag may go by a swing, from how far below it has gone of late.

        As a force it swings as far to either side.
        """
        return math.log(2.0 - math.exp(-self._warns.bursts.below)) + _SWING_BAND

    def _fast_limit(self, rest_limit: float, holds: bool, unweighed_rise: float) -> float:
        """Give the rise that counts for the fast way now: above what counts at rest, and what a weight may do."""
        limit = rest_limit
        if self._hung.was_measured and (holds or not self._mechanics.has_load):
            limit += self._params.jump_in_motion
        if holds:
            limit += self.slack
        return limit if limit > unweighed_rise else unweighed_rise

    def _rest_limit(self, now: Contact) -> float:
        """Give the rise that counts at rest: above healthy peaks, and how restless y is by nature.

        That is as usual on this rig, and at least as its channel's noise makes it.
        """
        track, noise = now.track, 0.7 * now.drag.noise
        if track.usual_unrest > noise:
            noise = track.usual_unrest
        return max(self._params.jump, track.ceiling + _CEILING_BAND, _NOISE_TIMES * noise)

    def _over_floor(self, rise: float, now: Contact) -> float:
        """Give the rise of y that so large a rise of a torque current is: its floor, often as large, does not rise.

        At least half of it: a torque current hidden in its floor would show any rise by a noise.
        """
        if now.is_friction:
            return rise
        with_floor = math.exp(now.track.base) * self._mechanics.by_load_n
        floor_share = min(1.0, now.drag.floor / with_floor) if with_floor > 0.0 else 0.0
        return max(_OVER_FLOOR_LEAST * rise, math.log(math.exp(rise) * (1.0 - floor_share) + floor_share))

    @property
    def load_lost(self) -> float:
        """Give by how much the load has gone down since its level began, natural logarithm; a twentieth is none.

        A cell that drifts away makes the same force a larger share of the load: what has to rise is the force.
        """
        began_n, now_n = self._hung.began_n, self._motion.level_n
        if not now_n < _KEPT_SHARE * began_n:
            return 0.0
        return math.log(began_n / now_n) if now_n > 0.0 else math.inf

    @property
    def _is_lighter(self) -> bool:
        """Say whether weights have been taken off: more force then is a cell whose zero is off."""
        return self._mechanics.load_n < LIGHTER_SHARE * self._hung.level_n

    def _is_below_boundary_friction(self) -> bool:
        """Say whether friction is less than a healthy boundary film's: then a weight may only have thinned the film."""
        load_n, level_n = self._mechanics.load_n, self._hung.level_n
        if level_n > load_n:
            load_n = level_n
        return self._mechanics.friction.drag < BOUNDARY_COEFFICIENT * load_n

    def _is_hidden(self, now: Contact, *, has_stayed: bool = False) -> bool:
        """Say whether the usual drag was hidden in its floor, and is not far enough out of it yet.

        How many times the floor so little is says nothing: a cell's zero may have moved, or a motor idles otherwise.
        That comes slowly: of a torque that came within seconds and has stayed, half as much is enough.
        """
        load_n, hidden = self._mechanics.by_load_n, _HIDDEN_TIMES * now.drag.floor
        if now.is_friction:
            enough = _HIDDEN_SHARE * BOUNDARY_COEFFICIENT * load_n
        else:
            enough = hidden if has_stayed and now.track.jump >= self._params.jump else 2.0 * hidden
        return now.drag.drag <= enough and math.exp(now.track.base) * load_n < hidden

    def _weight_limit(self, track: Track) -> float:
        """Give the rise beyond which it is no weight, where no load is measured; 0 where one is."""
        if self._mechanics.has_load:
            return 0.0
        was_measured = self._hung.was_measured
        limit = self._weights.limit(math.exp(track.base) * self._mechanics.by_load_n, was_measured)
        return limit if limit < math.inf or not was_measured else 0.0


def _is_strong(seen: Seen, now: Contact) -> bool:
    """Say whether a kind stands for two: sound does, and beside a torque current a pin that heats up steeply."""
    if seen.kind is Kind.THERMAL:
        return not now.is_friction and seen.value >= _STEEP_HEAT_TIMES * seen.limit
    return seen.kind is Kind.ACOUSTIC


def _summed(share: float, beyond: float, enough_s: float, dt_s: float) -> float:
    """Add what a slice is beyond a limit, natural logarithm, to the sum over time, as a share of what is enough."""
    added = beyond * dt_s / enough_s
    most = dt_s / _ENOUGH_S
    added = added if added < most else most
    share += added if added < _ADDED_MOST else _ADDED_MOST
    return share if share > 0.0 else 0.0


def _lasted(so_far_s: float, is_so: bool, track: Track, dt_s: float) -> float:
    """Give for how long a rise has lasted; the time in which it goes down again does not count.

    A particle that is ground down goes down all the time, a contact that welds goes on rising or stays.
    """
    if not is_so:
        return 0.0
    return so_far_s + dt_s if track.fast >= track.mean else so_far_s
