"""Warnings before scuffing, and the notice of stick-slip: bursts, slow rises, unrest.

Reads what speaks for the contact slice by slice, gives findings that ask for a look and take nothing away.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from scuffwatch.detect.bursts import Bursts
from scuffwatch.detect.drag import Drag
from scuffwatch.detect.once_per_turn import OncePerTurn
from scuffwatch.detect.other_kinds import Kind, Seen
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.scuffing_says import (
    Rise,
    bursts_finding,
    once_per_turn_finding,
    rise_finding,
    stick_slip_finding,
)
from scuffwatch.detect.seldom_load import SeldomLoad
from scuffwatch.detect.slow_unrest import SlowUnrest
from scuffwatch.detect.track import Phase, Track
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import RING_SPEED, Quality
from scuffwatch.model.finding import Finding, Level

_FOLLOW, _GOOD = Phase.FOLLOW, Quality.GOOD
_SWING_AGAIN = 1.5
_NOISE_TIMES, _LONE_NOISE_TIMES = 2.0, 4.0
"""A rise is at least so many standard deviations of one value, with a second kind and without: a coarse converter's
steps are its noise."""
_SWING_TIMES, _SWING_LEAST, _SWING_RISE, _SWING_S, _SWING_APART_S = 3.0, 0.06, 0.2, 2.0, 60.0


class Contact(NamedTuple):
    """What speaks for the contact in one slice.

    Attributes:
        track, drag: the variable followed in time, and its last value.
        phase: of the load and the motor.
        steady: whether bursts can be told from weights.
        unseen_is_open: whether a level that nobody measured has not yet shown that it stays.
        is_friction: whether friction speaks, else the motor's torque current.
        has_load: whether the load is measured now.
    """

    track: Track
    drag: Drag
    phase: Phase
    steady: bool
    unseen_is_open: bool
    is_friction: bool
    has_load: bool


class ScuffWarns:
    """Follow what comes before scuffing.

    Args:
        params: see `ScuffParams`.
        seldom_load: kept up to date by its owner.

    What survives a call: bursts, unrest, timers, how far a rise has been warned of, what stands.

    Attributes:
        standing: the warning, while its condition is true.
        bursts: see `Bursts`.
        slow_unrest: see `SlowUnrest`.
        once_per_turn: see `OncePerTurn`.
        has_swung: whether stick-slip has ever been told.
    """

    def __init__(self, params: ScuffParams, seldom_load: SeldomLoad) -> None:
        self._params, self._seldom_load = params, seldom_load
        self.has_swung = False
        self.bursts, self.slow_unrest = Bursts(params.bursts), SlowUnrest()
        self.once_per_turn = OncePerTurn(params.once_per_turn)
        self._speaks: Track | None = None
        self._had_load = False
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands; what is usual is kept."""
        self.standing: tuple[Finding, ...] = ()
        self.bursts.rate.forget()
        self._since_warn_s = self._since_stick_slip_s = math.inf
        self._swing_s = self._warned_rise = self._warned_swing = 0.0
        self.forget_timers()

    def forget_timers(self) -> None:
        """Begin anew after a stop or a hole."""
        self._warn_s = 0.0
        self.once_per_turn.forget_motion()

    def rest(self) -> None:
        """Begin anew after a stop, however long it lasts: bursts from before it do not count with those after."""
        self.bursts.rate.forget()
        self.forget_timers()

    def begin_level(self, same_load: bool, heavier: bool) -> None:
        """Say that the load has gone to another level, or that the motor has started again at the old one."""
        if heavier:
            self.bursts.rise_level()
        elif not same_load:
            self.bursts.forget()
        if not same_load:
            self.slow_unrest.forget()
            self.once_per_turn.begin_level()
            self._warned_rise = self._warned_swing = 0.0

    def update(self, s: Slice, now: Contact, others: Sequence[Seen]) -> tuple[Finding, ...]:
        """Take the next slice; give findings that became true in it."""
        p, dt_s = self._params, s.duration_s
        self._follow(s, now)
        slow = self._slow_warning(now, others) if now.phase is _FOLLOW else None
        if not self._seldom_load.counts_for_warning(slow is not None, dt_s):
            slow = None
        self._warn_s = self._warn_s + dt_s if slow is not None else 0.0
        # A particle that passes is above usual for a second or two, warm and restless.
        enough_s = p.warn_s if slow is not None and _sounds(others) else p.warn_alone_s
        bursting = self.bursts.rate.are_too_many
        turning = self._is_turning
        if turning:
            self._warned_swing = max(self._warned_swing, self.once_per_turn.swing)
        found: tuple[Finding, ...] = ()
        if not bursting and not turning and (slow is None or self._warn_s < enough_s):
            self._since_warn_s += dt_s
            if self._since_warn_s >= p.warn_clear_s:
                self.standing = ()
        else:
            self._since_warn_s = 0.0
            if slow is not None:
                self._warned_rise = max(self._warned_rise, slow.rise)
            if not self.standing:
                found = self.standing = (self._finding(s, now, slow, others),)
        return found + self._judge_swing(s, now)

    @property
    def _is_turning(self) -> bool:
        """Say whether a swing once a turn is to be warned of; at one load again only where it has grown by half."""
        once = self.once_per_turn
        if not once.is_too_much or (self.swings and not once.has_grown):
            return False
        return bool(self.standing) or once.swing >= _SWING_AGAIN * self._warned_swing

    def _finding(self, s: Slice, now: Contact, slow: Rise | None, others: Sequence[Seen]) -> Finding:
        if self.bursts.rate.are_too_many:
            burst = Rise(now.is_friction, self.bursts.height, self._params.bursts.height)
            return bursts_finding(s.t_rig_s, self.bursts.rate, burst, others)
        if slow is None:
            speaks = Rise(now.is_friction, now.track.rise, math.nan)
            return once_per_turn_finding(s.t_rig_s, self.once_per_turn, speaks, others)
        return rise_finding(s.t_rig_s, Level.WARN, slow, others)

    def _follow(self, s: Slice, now: Contact) -> None:
        dt_s = s.duration_s
        if now.track is not self._speaks:
            self._speaks = now.track
            self.bursts.forget()
            self.slow_unrest.forget()
            self.once_per_turn.forget()
        if now.has_load is not self._had_load:  # a swing of the load is in the drag, and in what it is taken by or not
            self._had_load = now.has_load
            self.slow_unrest.forget()
            self.once_per_turn.forget()
        drag, track = now.drag, now.track
        if not now.steady:
            self.bursts.forget_motion()
        elif drag.fresh:
            self.bursts.update(drag.y, dt_s)
        if now.phase is _FOLLOW and drag.fresh and drag.y == drag.y:
            self.slow_unrest.update(drag.y, dt_s)
            speed = s.channels.get(RING_SPEED)
            turns_hz = speed.mean / 60.0 if speed is not None and speed.quality is _GOOD else math.nan
            self.once_per_turn.update(drag.y - track.mean, track.unrest, drag, turns_hz, dt_s)

    @property
    def swings(self) -> bool:
        """Say whether stick-slip has been told: unrest is its own then and says nothing of scuffing."""
        return self._since_stick_slip_s < _SWING_APART_S

    def _slow_warning(self, now: Contact, others: Sequence[Seen]) -> Rise | None:
        """Give what rises slowly: with a second kind above usual, or crept up since the level was learned."""
        p, track = self._params, now.track
        more = self._again_from
        if track.crept < p.crept_little and track.rise < p.warn_rise:
            return None
        swings = self.swings
        kinds = {seen.kind for seen in others} - ({Kind.VARIABILITY} if swings else set())
        limit = max(p.rise if kinds == {Kind.THERMAL} else p.warn_rise, _NOISE_TIMES * now.drag.noise)
        near = not now.unseen_is_open and track.rise >= max(limit, more) and track.low_rise >= p.warn_low_rise
        if near and kinds:
            return Rise(now.is_friction, track.rise, limit)
        limit = max(p.lone_rise, _LONE_NOISE_TIMES * now.drag.noise)
        near = not now.unseen_is_open and track.rise >= max(limit, more) and track.low_rise >= p.lone_low_rise
        if near and now.is_friction and not swings and track.jitter_ratio < p.lone_unrest:
            return Rise(now.is_friction, track.rise, limit)
        if not now.has_load:  # what nobody measured has been put on since the level was learned
            return None
        # Sound comes from elsewhere too, more friction heats by itself, and stick-slip may begin: of a slow rise none
        # says anything alone.
        by_itself = self._swings_by_itself(track)
        limit = max(p.crept if swings else self._crept_limit, by_itself)
        restless = len(kinds) > 1 or (self.slow_unrest.ratio >= p.crept_unrest and not swings)
        if track.crept >= max(limit, more) and restless and (track.low_rise > 0.0 or limit < p.crept):
            return Rise(now.is_friction, track.crept, limit)
        return None

    @property
    def _crept_limit(self) -> float:
        """Give the rise since the level was learned that is a warning: the less, the more it wanders beside it."""
        p, wanders = self._params, self.slow_unrest.ratio
        share = (wanders - p.crept_unrest) / (p.crept_wanders - p.crept_unrest)
        share = min(max(share, 0.0), 1.0) if share == share else 0.0
        return math.exp(math.log(p.crept) + (math.log(p.crept_little) - math.log(p.crept)) * share)

    def _swings_by_itself(self, track: Track) -> float:
        """Give a rise that the drag may show by how it swings, natural logarithm: what creeps up is more."""
        usual = track.usual_unrest
        return self._params.crept_swings * (usual if usual > track.unrest else track.unrest)

    @property
    def _again_from(self) -> float:
        """The rise a next warning waits for; natural logarithm."""
        return self._warned_rise + self._params.warn_again if not self.standing else 0.0

    def rises(self, track: Track, noise: float, *, has_load: bool) -> list[tuple[float, float]]:
        """Give how far a track is above usual, and the rise it would be warned at, a pair a way; natural logarithms.

        Args:
            track: that speaks for the contact.
            noise: standard deviation of one of its values; NaN where it is not known.
            has_load: whether the load is measured; else nothing is known to have crept up.
        """
        p, wanders = self._params, self.slow_unrest.ratio
        more = self._again_from
        found = [(track.rise, max(p.warn_rise, _NOISE_TIMES * noise if noise == noise else 0.0, more))]
        if has_load and wanders >= p.crept_unrest:
            found.append((track.crept, max(self._crept_limit, self._swings_by_itself(track), more)))
        return found

    def _judge_swing(self, s: Slice, now: Contact) -> tuple[Finding, ...]:
        track = now.track
        restless = track.restless >= _SWING_TIMES and track.unrest >= _SWING_LEAST
        swings = restless and now.phase is _FOLLOW and track.rise < _SWING_RISE and not self.once_per_turn.may_be
        self._swing_s = self._swing_s + s.duration_s if swings else 0.0
        if not (restless and now.phase is _FOLLOW and self.swings):  # while it goes on it stays told
            self._since_stick_slip_s += s.duration_s
        if self._swing_s < _SWING_S or self._since_stick_slip_s < _SWING_APART_S:
            return ()
        self._since_stick_slip_s = 0.0
        self.has_swung = True
        return (stick_slip_finding(s.t_rig_s, track.restless, _SWING_TIMES),)


def _sounds(others: Sequence[Seen]) -> bool:
    """Say whether sound has changed too: more drag heats by itself, and is restless where it comes and goes."""
    return any(seen.kind is Kind.ACOUSTIC for seen in others)
