"""Scuffing: the contact begins to weld, told from load steps, running-in, stick-slip, squeal and slow film transitions.

Reads slices and what the motor does, gives SCUFFING_ONSET warnings and trips and STICK_SLIP notices.

Four ways to a trip, each in physical units with stated limits:

- fast: one kind, mechanical. The drag rises above both what is usual and the last seconds, far and at once.
- slow: two kinds. The drag's mean and its lowest are above what is usual, and sound, unrest or heating says so too.
- high: one kind, mechanical, where the drag is at twice its usual value and stays there.
- beyond: a friction cell beyond its range that rose there fast, or whose current bears it out.

Sound, unrest and heating alone never trip. Where no load is measured a weight looks like a rise: there every sharp rise
counts as a load in motion, and the fast way asks for more than twice the largest weight this run has seen. A motor
current without friction force and without load says nothing here.
"""

import math
from collections.abc import Sequence

from scuffwatch.detect.load_motion import LoadMotion
from scuffwatch.detect.lying_cells import LyingCells
from scuffwatch.detect.mechanics import Drag, Mechanics
from scuffwatch.detect.nearness import Near, Speaking, nearness
from scuffwatch.detect.other_kinds import Kind, OtherKinds, Seen
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.scuffing_says import Beyond, Rise, rise_finding
from scuffwatch.detect.scuffing_warns import Contact, ScuffWarns
from scuffwatch.detect.track import STEP_CAP, Phase, Track
from scuffwatch.detect.unseen_weights import NoWeight, UnseenWeights
from scuffwatch.detect.witness import Witness
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import NORMAL_LOAD
from scuffwatch.model.finding import Finding, Level

_OFF, _HOLD, _FOLLOW = Phase.OFF, Phase.HOLD, Phase.FOLLOW
"""By names of their own: to look one up in its class every slice takes longer than the comparison."""
_HOLE_S = 0.5
_LONG_HOLE_S = 10.0
_RAMP = 0.25
_DIP, _DIP_MOST_S, _AFTER_DIP_S = 0.7, 5.0, 1.5
"""A torque current that has fallen to half was switched, or dipped, and surges then: it says nothing for so long. What
lasts longer is another level."""
_CEILING_BAND = 0.12
_SUMMED_MOST = 0.6
_RESTED_S = 0.2
"""So long a new load has been at rest before a rise is held against what y was since."""
_BOUNDARY_COEFFICIENT = 0.12
_LOG_BOUNDARY = math.log(_BOUNDARY_COEFFICIENT)
"""Of a healthy boundary film; Zhang, Ueda, Campen, Spikes 2021, Tribology Letters: 0.09 to 0.14."""
_NOISE_TIMES, _FLOOR_TIMES = 3.5, 2.0
_SLACK_SHARE = 0.6
_ABOVE_BELOW = 1.5
_CALM = 1.5
"""Unrest over usual below which a rise may be a film that thins."""
_SLOW_NOISE_TIMES = 4.0
"""A slow rise is at least so many standard deviations of one value: on a light contact friction is mostly noise."""


class ScuffWatch:
    """Follow the contact.

    Args:
        params: see `ScuffParams`.

    What survives a call: what is usual for each variable, timers, what stands.
    """

    def __init__(self, params: ScuffParams) -> None:
        self._params = params
        self._mechanics = Mechanics(params.mechanics)
        self._motion = LoadMotion()
        self._weights = UnseenWeights(params.weight_times, params.weights_least)
        self._no_weight = NoWeight(params.no_weight)
        self._load_seen = False
        self._friction, self._current = Track(), Track()
        self._warns = ScuffWarns(params)
        self._witness = Witness()
        self._cells = LyingCells()
        self._others = OtherKinds(params.others)
        self._phase, self._is_weights_hold = _OFF, False
        self._settled_s = 0.0
        self._dip_s, self._since_dip_s = 0.0, math.inf
        self._level_n = math.nan
        self._epoch: int | None = None
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands; what is usual for this pair of specimens is kept."""
        self._trip: tuple[Finding, ...] = ()
        self._fast_sum_s = self._slow_s = self._high_s = self._beyond_s = 0.0
        self._warns.reset()
        self._others.reset()
        self._no_weight.reset()

    def update(self, s: Slice, running: bool) -> tuple[Finding, ...]:
        """Take the next slice.

        Args:
            s: slice with whatever is fitted of load, friction, current, sound and pin temperature.
            running: whether the motor runs at speed, or is not known to do otherwise.
        Returns:
            Findings that became true in it.
        """
        mechanics = self._mechanics
        if s.gap_before_s > _LONG_HOLE_S or s.epoch != self._epoch:
            self._epoch = s.epoch
            self._forget_motion()
        elif s.gap_before_s > _HOLE_S:
            self._pass_hole()
        mechanics.read(s, running, self._level_n, self._in_motion or self._phase is _HOLD)
        denied, lies = self._cells.load_is_denied, self._cells.update(s, mechanics)
        if self._cells.load_is_denied is not denied:
            self._begin_without_load()
            return lies
        return lies + self._take(s, running)

    def _begin_without_load(self) -> None:
        """Learn anew what is usual: the load was not what it was taken by, or is measured again."""
        self._friction, self._current = Track(), Track()
        self._level_n = math.nan
        self._mechanics.forget_level()
        self._rest()

    def _take(self, s: Slice, running: bool) -> tuple[Finding, ...]:
        dt_s, mechanics = s.duration_s, self._mechanics
        self._follow_load(s)
        before, phase = self._phase, self._next_phase(running, dt_s)
        if before is _HOLD and phase is _FOLLOW:
            return ()  # this slice's drag was still read against the level that has been left
        self._friction.update(mechanics.friction.y, mechanics.friction.fresh, dt_s, phase)
        self._follow_dip(mechanics.current.y, dt_s)
        self._current.update(mechanics.current.y, mechanics.current.fresh and not self._dips, dt_s, phase)
        self._follow_rest(phase, dt_s)
        self._others.weigh(s, phase, self._main)
        if phase is _OFF or mechanics.has_load or self._main is not self._friction:
            self._no_weight.reset()
        else:
            self._no_weight.update(self._friction, [seen.kind for seen in self._others.seen], dt_s)
        if phase is _OFF:
            return ()
        return self._judge(s, phase)

    def nearness(self, s: Slice) -> tuple[Near, ...]:
        """Give how near each kind of evidence is to its limit as of `s`, the last slice; decides nothing."""
        track, warns = self._main, self._warns
        is_current, settled = track is self._current, not self._unseen_is_open
        rises = warns.rises(track or self._friction)
        speaking = Speaking(self._phase, track, is_current, self._load_seen, rises, settled)
        return nearness(s, speaking, warns.bursts, warns.once_per_turn, self._others.now(self._phase, track))

    # --- phase --------------------------------------------------------------------------------------------

    def _forget_motion(self) -> None:
        self._motion.forget()
        self._weights.forget()
        self._rest()

    def _pass_hole(self) -> None:
        """A hole of seconds: rates across it are unknown, what is usual is not."""
        self._motion.forget()
        self._weights.forget()
        for part in (self._friction, self._current, self._others):
            part.forget_means()
        self._fast_sum_s = self._slow_s = self._high_s = 0.0
        self._warns.forget_timers()

    def _follow_load(self, s: Slice) -> None:
        mechanics, dt_s = self._mechanics, s.duration_s
        load = s.channels.get(NORMAL_LOAD)
        if not mechanics.has_load and mechanics.loaded is not True and self._phase is _OFF:
            self._load_seen = False  # lost before a weight hung there: what comes on now nobody measures
        self._load_seen = self._load_seen or mechanics.has_load
        self._motion.update(mechanics.load_n, load is not None and load.fresh, dt_s)
        friction = mechanics.friction
        self._weights.update(friction.drag, friction.fresh, dt_s)

    @property
    def _in_motion(self) -> bool:
        if self._mechanics.has_load:
            return self._motion.moving
        return self._weights.moving or self._no_weight.is_open

    def _rest(self) -> None:
        for part in (self._friction, self._current, self._others):
            part.forget_motion()
        self._phase = _OFF
        self._settled_s = 0.0
        self._fast_sum_s = self._slow_s = self._high_s = 0.0
        self._warns.rest()

    def _next_phase(self, running: bool, dt_s: float) -> Phase:
        if not running or not self._mechanics.loaded:
            if self._phase is not _OFF:
                self._rest()
            return self._phase
        if self._phase is _OFF:
            self._begin(self._is_same_load())
            self._phase, self._is_weights_hold = _HOLD, False
        self._settled_s += dt_s
        if self._in_motion:
            if self._phase is _FOLLOW:
                self._phase, self._is_weights_hold = _HOLD, True
                self._weights.leave_level()
            return self._phase
        if self._phase is _HOLD and self._settled_s >= self._params.settle_s:
            self._begin(self._is_same_load())
            self._phase = _FOLLOW
        if self._phase is _FOLLOW:
            self._accept_level(dt_s)
        return self._phase

    def _accept_level(self, dt_s: float) -> None:
        if self._mechanics.has_load:
            self._level_n = self._motion.level_n
        self._weights.stay(dt_s, is_weight=self._mechanics.has_load or not self._load_seen)

    def _is_same_load(self) -> bool:
        change = abs(self._motion.level_n - self._level_n)
        return change <= 0.08 * abs(self._level_n) or (change != change and self._level_n != self._level_n)

    def _begin(self, same_load: bool) -> None:
        for track in (self._friction, self._current):
            slack = self._slack() + self._floor_slack(track)
            measured = track is self._friction and self._mechanics.has_load
            healthy = _LOG_BOUNDARY if measured else -math.inf
            track.begin_level(same_load, unseen=not self._load_seen, slack=slack, healthy=healthy)
        self._witness.begin_level()
        self._warns.begin_level(same_load, heavier=self._motion.level_n > self._level_n)

    def _follow_rest(self, phase: Phase, dt_s: float) -> None:
        """Follow y at a heavier load that is at rest again and not yet taken for a level.

        A lighter load's y is still taken by the heavier one; after a start nothing is at rest.
        """
        mechanics, is_new = self._mechanics, phase is _HOLD and self._is_weights_hold and self._motion.rests
        if is_new and mechanics.load_n > self._level_n:
            self._friction.rest(mechanics.friction.y, mechanics.friction.fresh, dt_s)
            self._current.rest(mechanics.current.y, mechanics.current.fresh and not self._dips, dt_s)
        else:
            self._friction.rested_s = self._current.rested_s = 0.0

    def _follow_dip(self, y: float, dt_s: float) -> None:
        """Follow a torque current that falls away at an unchanged load."""
        if y < self._current.base - _DIP:
            self._dip_s += dt_s
            self._since_dip_s = 0.0
        else:
            self._since_dip_s += dt_s
            if self._since_dip_s >= _AFTER_DIP_S:
                self._dip_s = 0.0

    @property
    def _dips(self) -> bool:
        return self._since_dip_s < _AFTER_DIP_S and self._dip_s <= _DIP_MOST_S

    @property
    def _main(self) -> Track | None:
        """Give the track that speaks for the contact: friction, else the motor's torque current."""
        mechanics = self._mechanics
        is_shown = mechanics.friction.y == mechanics.friction.y and not mechanics.friction_is_hidden
        if is_shown and self._friction.is_known:
            return self._friction
        if (
            self._load_seen
            and not self._dips
            and mechanics.friction_is_quiet
            and mechanics.current.y == mechanics.current.y
            and self._current.is_known
        ):
            return self._current
        return None

    # --- judgement ----------------------------------------------------------------------------------------

    def _judge(self, s: Slice, phase: Phase) -> tuple[Finding, ...]:
        track, mechanics = self._main, self._mechanics
        is_out = mechanics.friction_is_out
        if phase is _FOLLOW or is_out:
            self._witness.update(self._friction, self._current, mechanics.current, is_out, s.duration_s)
        if self._witness.borne_out_s >= self._params.borne_out_s and not self._trip:
            out = Beyond(self._witness.borne_out_s, self._params.borne_out_s, math.exp(self._current.rise))
            self._trip = (rise_finding(s.t_rig_s, Level.TRIP, out, self._others.seen),)
            return self._trip
        is_friction = track is self._friction
        if not is_friction or not mechanics.friction_is_beyond:
            mechanics.ramping = track is not None and track.jump > _RAMP
        if track is None or self._trip:
            return ()
        others = self._others.seen
        trip = self._judge_trip(track, phase, others, s.duration_s)
        if trip is not None and not self._is_denied(track, others):
            self._trip = (rise_finding(s.t_rig_s, Level.TRIP, trip, others),)
            return self._trip
        drag = self._drag_of(track)
        steady = phase is _FOLLOW or (not self._load_seen and track.is_known)
        steady = steady and (is_friction or drag.is_above_noise)
        now = Contact(track, drag, phase, steady, self._unseen_is_open, is_friction, mechanics.has_load)
        found = self._warns.update(s, now, others)
        return found + self._cells.judge_witness(s, self._witness, track, self._current) if is_friction else found

    def _is_denied(self, track: Track, others: Sequence[Seen]) -> bool:
        """Say whether friction alone has risen, while the motor's current could show it and does not."""
        return track is self._friction and self._witness.denies and not _is_heard(others)

    @property
    def standing(self) -> tuple[Finding, ...]:
        """Give the trip or warning, while its condition is true; a trip stands until `reset`."""
        return self._trip or self._warns.standing

    def _judge_trip(self, track: Track, phase: Phase, others: Sequence[Seen], dt_s: float) -> Rise | Beyond | None:
        """Give the way to a trip whose evidence is complete, with its value and the limit it had; None for none."""
        p, mechanics, unweighed_rise = self._params, self._mechanics, self._weight_limit(track)
        jump, limit = track.jump, self._fast_limit(track, phase, unweighed_rise)
        stands_out, holds = self._stands_out(track), phase is _HOLD
        # The value itself, not its mean: summed over time either comes to the same, and the mean comes later. But while
        # a weight moves, or may under the noise, a load cell may answer later than the friction cell; and the top of a
        # slow swing is over before its mean is there.
        moves = holds or (mechanics.has_load and self._motion.is_noisy)
        by_mean = moves or self._warns.swings
        beyond = (jump if by_mean else jump + self._drag_of(track).y - track.fast) - limit
        if holds and track.rested_s >= _RESTED_S:
            since_rest, rest_limit = track.fast - max(track.rested, track.base), self._rest_limit(track)
            if since_rest - rest_limit > beyond:
                jump, limit, beyond = since_rest, rest_limit, since_rest - rest_limit
        if beyond > 0.0 and (not stands_out or (moves and self._is_below_boundary_friction(track))):
            beyond = 0.0
        sum_s = self._fast_sum_s + (beyond if beyond < _SUMMED_MOST else _SUMMED_MOST) * dt_s
        self._fast_sum_s = sum_s if sum_s > 0.0 else 0.0
        self._beyond_s = self._beyond_s + dt_s if mechanics.friction_is_beyond else 0.0
        # Beyond any weight it need not wait for the level to come to rest.
        settled = 0.0 < unweighed_rise < math.inf or (not holds and not self._unseen_is_open)
        steady = settled and stands_out
        # More friction heats by itself, and stick-slip swings: one of the two alone is a weak second kind.
        slow, slow_limit = False, math.inf
        if others:
            rise = p.rise if len(others) > 1 or others[0].kind is Kind.ACOUSTIC else p.weak_rise
            slow_limit = max(rise, unweighed_rise, _SLOW_NOISE_TIMES * self._drag_of(track).noise)
            # Sound, heating and unrest together outweigh the doubt of an idling motor's torque.
            slow = steady or (settled and len(others) == len(Kind))
            kept = track.recent - track.base
            # In stick-slip that has been told a slow swing's top is no rise; what stays is.
            slow = slow and (kept if self._warns.swings else track.rise) >= slow_limit and track.low_rise >= p.low_rise
            if steady and not slow and kept >= max(p.kept_rise, slow_limit) and _is_heard(others):
                return Rise(track is self._friction, kept, max(p.kept_rise, slow_limit))
        high_limit = p.high_rise if p.high_rise > unweighed_rise else unweighed_rise
        self._slow_s = self._slow_s + dt_s if slow else 0.0
        high = steady and track.rise >= high_limit and track.low_rise >= p.high_low_rise
        # A film that thins is calm, and ends at a boundary film's friction.
        high = high and (track.restless >= _CALM or not self._is_below_boundary_friction(track))
        self._high_s = self._high_s + dt_s if high else 0.0
        is_friction = track is self._friction
        if self._fast_sum_s >= p.jump_sum_s:
            return Rise(is_friction, jump, limit)
        # The top of a swing may pass the range of a tight cell; it does not stay there.
        swings = track.fast - track.base < _ABOVE_BELOW * self._warns.bursts.below
        beyond_s = p.beyond_unseen_s if swings or unweighed_rise == math.inf else p.beyond_s
        if self._beyond_s >= beyond_s:
            return Beyond(self._beyond_s, beyond_s)
        if self._slow_s >= p.rise_s:
            return Rise(is_friction, track.rise, slow_limit)
        if self._no_weight.found:
            return Rise(is_friction, track.rise, p.no_weight.rise)
        return Rise(is_friction, track.rise, high_limit) if self._high_s >= p.high_s else None

    def _fast_limit(self, track: Track, phase: Phase, unweighed_rise: float) -> float:
        """Give the rise that counts for the fast way now: above healthy peaks, noise, and what a weight may do."""
        p, limit, holds = self._params, self._rest_limit(track), phase is _HOLD
        if self._load_seen and (holds or not self._mechanics.has_load):
            limit += p.jump_in_motion
        if holds:
            limit += self._slack()
        return limit if limit > unweighed_rise else unweighed_rise

    def _rest_limit(self, track: Track) -> float:
        """Give the rise that counts at rest: above healthy peaks and noise."""
        return max(self._params.jump, track.ceiling + _CEILING_BAND, _NOISE_TIMES * self._noise_of(track))

    def _stands_out(self, track: Track) -> bool:
        """Say whether the drag is more than its floor's doubt: the torque current of an idling motor is mostly that."""
        torque = self._mechanics.current
        return track is self._friction or torque.drag >= _FLOOR_TIMES * torque.floor

    def _is_below_boundary_friction(self, track: Track) -> bool:
        """Say whether friction is less than a healthy boundary film's: then a weight may only have thinned the film."""
        mechanics = self._mechanics
        if track is not self._friction or not mechanics.has_load:
            return False
        load_n = max(mechanics.load_n, self._level_n) if self._level_n == self._level_n else mechanics.load_n
        return mechanics.friction.drag < _BOUNDARY_COEFFICIENT * load_n

    def _noise_of(self, track: Track) -> float:
        """Give how restless y is by nature: as usual on this rig, and at least as its channel's noise makes it."""
        noise, usual = 0.7 * self._drag_of(track).noise, track.usual_unrest
        return usual if usual > noise else noise

    def _drag_of(self, track: Track) -> Drag:
        return self._mechanics.friction if track is self._friction else self._mechanics.current

    @property
    def _unseen_is_open(self) -> bool:
        """Say whether a level that nobody measured has not yet shown that it stays."""
        return not self._mechanics.has_load and self._weights.is_open

    def _slack(self) -> float:
        """Give what a zero error of the friction cell may add to y at a load larger than the settled one."""
        load_n, now_n = self._motion.level_n, self._mechanics.load_n
        if now_n > load_n:  # a weight on its way down: friction is ahead of the mean of the load
            load_n = now_n
        ratio = load_n / self._level_n if self._level_n > 0.0 else 1.0
        return _SLACK_SHARE * math.log(ratio) if ratio > 1.0 else 0.0

    def _floor_slack(self, track: Track) -> float:
        """Give what the floor in y may add at a load so much smaller than the settled one."""
        if not self._motion.level_n < self._level_n or not track.is_known:
            return 0.0
        level_n = max(self._motion.level_n, self._params.mechanics.load_min_n)
        return math.log1p(self._drag_of(track).floor / (level_n * math.exp(track.base + STEP_CAP)))

    def _weight_limit(self, track: Track) -> float:
        """Give the rise beyond which it is no weight, where no load is measured; 0 where one is."""
        if self._mechanics.has_load:
            return 0.0
        limit = self._weights.limit(math.exp(track.base) * self._mechanics.by_load_n, self._load_seen)
        return limit if limit < math.inf or not self._load_seen else 0.0


def _is_heard(others: Sequence[Seen]) -> bool:
    """Say whether sound or heating has been seen, which is more than the swing of the drag itself."""
    return any(seen.kind is not Kind.VARIABILITY for seen in others)
