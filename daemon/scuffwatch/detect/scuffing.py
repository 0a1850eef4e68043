"""Scuffing: the contact begins to weld, told from load steps, running-in, stick-slip, squeal and slow film transitions.

Reads slices and what the motor does, gives SCUFFING_ONSET warnings and trips and STICK_SLIP notices.

Six ways to a trip, each in physical units with stated limits:

- fast: one kind, mechanical. The drag rises above both what is usual and the last seconds, far and at once.
- slow: two kinds. The drag's mean and its lowest are above what is usual, and sound, unrest or heating says so too.
- high: one kind, mechanical, where the drag is at twice its usual value and stays there.
- climbing: one kind, mechanical, at a measured load. The drag climbs for seconds, steeper than any film in transition.
- beyond: a friction cell beyond its range that rose there fast, or whose current bears it out.
- far: a friction coefficient that no boundary film has, and twice what this run has shown, however slowly it came.

Sound, unrest and heating alone never trip. Where no load is measured a weight looks like a rise: there every sharp rise
counts as a load in motion, and the fast way asks for more than twice the largest weight this run has seen. A motor
current without friction force and without load says nothing here.
"""

import math
from collections.abc import Sequence

from scuffwatch.detect.current_dips import CurrentDips
from scuffwatch.detect.far_above import FarAbove
from scuffwatch.detect.film_speed import FilmSpeed
from scuffwatch.detect.load_motion import LoadMotion
from scuffwatch.detect.lying_cells import LyingCells
from scuffwatch.detect.mechanics import Mechanics
from scuffwatch.detect.nearness import Near, Speaking, nearness
from scuffwatch.detect.other_kinds import Kind, OtherKinds, Seen, is_heard
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.scuffing_says import Beyond, rise_finding
from scuffwatch.detect.scuffing_trips import LIGHTER_SHARE, LOG_BOUNDARY, Hung, Parts, ScuffTrips
from scuffwatch.detect.scuffing_warns import Contact, ScuffWarns
from scuffwatch.detect.smooth import Rate
from scuffwatch.detect.start_by_friction import StartByFriction
from scuffwatch.detect.track import LOG_DROP, STEP_CAP, Phase, Track
from scuffwatch.detect.unseen_weights import UnseenWeights
from scuffwatch.detect.unweighed import Unweighed
from scuffwatch.detect.witness import Witness
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import NORMAL_LOAD, RING_SPEED
from scuffwatch.model.finding import Finding, Level

_OFF, _HOLD, _FOLLOW = Phase.OFF, Phase.HOLD, Phase.FOLLOW
"""By names of their own: to look one up in its class every slice takes longer than the comparison."""
_LEAST_MOTION_N, _LEAST_MOTION_SHARE = 0.3, 0.06
"""Less is no motion of a load, nor, on a small rig, is so much of the load below which its contact is unloaded."""
_HOLE_S = 0.5
_LONG_HOLE_S = 10.0
_RAMP = 0.25
_HEAVIEST_SHARE, _BEGAN_S = 0.9, 60.0
"""A level of so much of the heaviest is nearly as heavy: what is usual there is kept too. A load that relaxes goes down
so slowly that what is usual follows it: what it began at is forgotten within so long."""


class ScuffWatch:
    """Follow the contact.

    Args:
        params: see `ScuffParams`.

    What survives a call: what is usual for each variable, timers, what stands.
    """

    def __init__(self, params: ScuffParams) -> None:
        self._params = params
        self._mechanics = Mechanics(params.mechanics)
        self._motion = LoadMotion(least_n=min(_LEAST_MOTION_N, _LEAST_MOTION_SHARE * params.mechanics.load_min_n))
        self._weights = UnseenWeights(params.weight_times, params.weights_least, params.mechanics.friction_zero_n)
        self._unweighed = Unweighed(self._weights, params.no_weight, params.loud_and_hot)
        self._far_above = FarAbove(params.far_above)
        self._hung = Hung()
        self._began_rate = Rate(_BEGAN_S)
        self._friction, self._current = Track(), Track()
        self._film_speed = FilmSpeed()
        self._warns = ScuffWarns(params, self._mechanics.seldom_load)
        parts = Parts(
            mechanics=self._mechanics,
            motion=self._motion,
            hung=self._hung,
            weights=self._weights,
            unweighed=self._unweighed,
            far_above=self._far_above,
            warns=self._warns,
            film_speed=self._film_speed,
        )
        self._trips = ScuffTrips(params, parts)
        self._witness = Witness()
        self._cells = LyingCells()
        self._others = OtherKinds(params.others)
        self._phase, self._is_weights_hold = _OFF, False
        self._settled_s = 0.0
        self._has_stood_out = False
        self._dips = CurrentDips()
        self._epoch: int | None = None
        self._start = StartByFriction()
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands; what is usual for this pair of specimens is kept."""
        self._trip: tuple[Finding, ...] = ()
        self._trips.reset()
        self._warns.reset()
        self._others.reset()
        self._unweighed.reset()
        self._far_above.reset()

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
        in_motion = self._in_motion or self._phase is _HOLD
        mechanics.read(s, running, self._hung.level_n, in_motion, load_moves=self._motion.moving)
        denied, lies = self._cells.load_is_denied, self._cells.update(s, mechanics)
        if self._cells.load_is_denied is not denied:
            self._begin_without_load()
            return lies
        return lies + self._take(s, running)

    def _begin_without_load(self) -> None:
        """Learn anew what is usual: the load was not what it was taken by, or is measured again.

        A load that is denied was there until just now, and friction goes on as before: what is usual stays so.
        """
        if self._mechanics.load_is_denied and self._hung.level_n > 0.0:
            self._rest()
            self._others.recall()
            self._unweighed.weigh(self._friction)
            return
        self._friction, self._current = Track(), Track()
        self._hung.level_n = math.nan
        self._hung.was_measured = self._hung.was_measured and self._mechanics.has_shown_load
        self._mechanics.forget_level()
        self._rest()

    def _take(self, s: Slice, running: bool) -> tuple[Finding, ...]:
        dt_s, mechanics = s.duration_s, self._mechanics
        self._follow_load(s)
        before, phase = self._phase, self._next_phase(s, running)
        if before is _HOLD and phase is _FOLLOW:
            return ()  # this slice's drag was still read against the level that has been left
        self._follow_friction(dt_s, phase)
        self._dips.update(mechanics.current.y, self._current.base, dt_s)
        self._current.update(mechanics.current.y, mechanics.current.fresh and not self._dips.is_silent, dt_s, phase)
        self._follow_rest(phase, dt_s)
        self._others.weigh(s, phase, self._main)
        if phase is _OFF or self._main is not self._friction:
            self._unweighed.reset()
        elif mechanics.has_load:
            self._unweighed.weigh(self._friction)
        else:
            has_swung, was_measured = self._warns.has_swung, self._hung.was_measured
            self._unweighed.update(self._friction, self._others, dt_s, has_swung=has_swung, was_measured=was_measured)
        if phase is _OFF:
            self._far_above.forget()
            return ()
        rests = self._motion.rests and self._settled_s >= self._params.settle_s
        heaviest_n, lost, is_deaf = self._hung.heaviest_n, self._trips.load_lost, self._witness.is_deaf
        is_level = phase is _FOLLOW
        self._far_above.update(mechanics, heaviest_n, lost, dt_s, rests=rests, is_level=is_level, is_deaf=is_deaf)
        return self._judge(s, phase)

    def _follow_friction(self, dt_s: float, phase: Phase) -> None:
        """Follow friction; what stood out of its noise at this load and no longer does is a cell that says nothing."""
        friction, is_hidden = self._mechanics.friction, self._mechanics.friction_is_hidden
        if phase is _FOLLOW and not is_hidden:
            self._has_stood_out = True
        if self._mechanics.friction_leaves:
            self._friction.forget_drop()
        self._friction.update(
            math.nan if is_hidden and self._has_stood_out else friction.y, friction.fresh, dt_s, phase
        )

    @property
    def watches(self) -> bool:
        """Say whether there is a contact to watch: it carries load on a ring that turns, for all that is known."""
        return self._phase is not _OFF

    def nearness(self, s: Slice) -> tuple[Near, ...]:
        """Give how near each kind of evidence is to its limit as of `s`, the last slice; decides nothing."""
        track, warns = self._main, self._warns
        is_current, settled = track is self._current, not self._trips.unseen_is_open
        drag = self._mechanics.current if is_current else self._mechanics.friction
        rises = warns.rises(track or self._friction, drag.noise, has_load=self._mechanics.has_load)
        speaking = Speaking(self._phase, track, is_current, self._hung.was_measured, rises, settled)
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
        self._trips.forget()
        self._warns.forget_timers()

    def _follow_load(self, s: Slice) -> None:
        mechanics, dt_s = self._mechanics, s.duration_s
        load = s.channels.get(NORMAL_LOAD)
        if not mechanics.has_load and mechanics.loaded is not True and self._phase is _OFF:
            self._hung.was_measured = False  # lost before a weight hung there: what comes on now nobody measures
        self._hung.was_measured = self._hung.was_measured or mechanics.has_load
        if not mechanics.has_load and self._phase is _HOLD and self._motion.level_n > 0.0:
            self._hung.level_n = self._motion.level_n  # lost before the new load was a level
        self._motion.update(mechanics.load_n, load is not None and load.fresh, dt_s)
        if self._phase is _HOLD:
            self._look_for_the_heaviest(mechanics.load_n)
        friction = mechanics.friction
        self._weights.update(friction.drag, friction.fresh, dt_s)

    def _look_for_the_heaviest(self, load_n: float) -> None:
        """Recall what was usual under the heaviest load, where weights that were taken off come on again.

        A contact may have scuffed as they went: what was learned without them is not what is usual with them.
        """
        hung = self._hung
        back_n = LIGHTER_SHARE * hung.heaviest_n
        if hung.level_n < back_n <= load_n:
            hung.level_n = hung.heaviest_n
            self._friction.recall()
            self._current.recall()

    @property
    def _in_motion(self) -> bool:
        film = self._film_speed
        if self._mechanics.has_load:
            moves = self._motion.moving or self._mechanics.seldom_load.may_be_early or film.rises
            return moves or (film.moves and self._mechanics.is_boundary_film)
        return self._weights.moving or self._unweighed.is_open or film.rises

    def _rest(self) -> None:
        for part in (self._friction, self._current, self._others):
            part.forget_motion()
        self._phase = _OFF
        self._settled_s = 0.0
        self._start.forget()
        self._trips.forget()
        self._warns.rest()

    def _next_phase(self, s: Slice, running: bool) -> Phase:
        dt_s = s.duration_s
        if running:
            self._film_speed.take(s.channels.get(RING_SPEED), dt_s)
        if not running or not self._mechanics.loaded:
            self._film_speed.forget()
            if self._phase is not _OFF:
                self._rest()
            return self._phase
        if self._phase is _OFF:
            self._begin(self._is_same_load())
            self._phase, self._is_weights_hold = _HOLD, False
        self._settled_s += dt_s
        if self._in_motion:
            self._weights.leave_level()
            if self._phase is _FOLLOW:
                self._phase, self._is_weights_hold = _HOLD, True
            return self._phase
        if self._phase is _HOLD and self._settled_s >= self._params.settle_s:
            self._begin(self._is_same_load() and not self._film_speed.take_change())
            self._phase = _FOLLOW
        if self._phase is _FOLLOW:
            self._accept_level(dt_s)
        return self._phase

    def _accept_level(self, dt_s: float) -> None:
        if self._mechanics.has_load:
            hung, level_n, share = self._hung, self._motion.level_n, self._began_rate.share(dt_s)
            hung.level_n = level_n
            hung.began_n += (level_n - hung.began_n) * share
            if not level_n < _HEAVIEST_SHARE * hung.heaviest_n and not self._friction.is_learning:
                # Down only as slowly as a load relaxes: a noisy cell's level goes down with a lever before it is told.
                more_n = level_n - hung.heaviest_n
                hung.heaviest_n = hung.heaviest_n + more_n * share if more_n < 0.0 else level_n
                self._friction.keep()
                self._current.keep()
        self._weights.stay(dt_s, is_weight=self._mechanics.has_load or not self._hung.was_measured)

    def _is_same_load(self) -> bool:
        if self._cells.load_is_denied:
            return not self._weights.moving
        change = abs(self._motion.level_n - self._hung.level_n)
        return change <= 0.08 * abs(self._hung.level_n) or (
            change != change and self._hung.level_n != self._hung.level_n
        )

    def _begin(self, same_load: bool) -> None:
        self._has_stood_out = False
        if self._motion.has_stepped or not self._motion.level_n < self._hung.began_n:
            self._hung.began_n = self._motion.level_n
        # At a lighter load the cell's zero may be most of what it reads: any level is taken then.
        is_any = not self._hung.was_measured or self._motion.level_n < LIGHTER_SHARE * self._hung.level_n
        for track in (self._friction, self._current):
            if self._has_dropped(track):
                track.hold_level()
                self._has_stood_out = True
                continue
            slack = self._trips.slack + self._floor_slack(track)
            measured = track is self._friction and self._mechanics.has_load
            healthy = LOG_BOUNDARY if measured else -math.inf
            # Of a torque current the floor is another share at each load.
            keeps = track is self._friction and self._mechanics.seldom_load.may_be_late_s > 0.0
            track.begin_level(same_load, unseen=is_any, slack=slack, healthy=healthy, keeps=keeps)
        self._witness.begin_level()
        self._warns.begin_level(same_load, heavier=self._motion.level_n > self._hung.level_n)

    def _has_dropped(self, track: Track) -> bool:
        """Say whether the force is less than a third of what it was under a load that was no heavier: a broken wire."""
        level_n, now_n = self._hung.level_n, self._motion.level_n
        if track is not self._friction or not self._mechanics.has_load or not now_n >= level_n > 0.0:
            return False
        return track.fast - track.base < LOG_DROP - math.log(now_n / level_n)

    def _follow_rest(self, phase: Phase, dt_s: float) -> None:
        """Follow y at a heavier load that is at rest again and not yet taken for a level.

        A lighter load's y is still taken by the heavier one; after a start nothing is at rest.
        """
        mechanics, is_new = self._mechanics, phase is _HOLD and self._is_weights_hold and self._motion.rests
        if is_new and mechanics.load_n > self._hung.level_n:
            self._friction.rest(mechanics.friction.y, mechanics.friction.fresh, dt_s)
            self._current.rest(mechanics.current.y, mechanics.current.fresh and not self._dips.is_silent, dt_s)
        else:
            self._friction.rested_s = self._current.rested_s = 0.0

    @property
    def _main(self) -> Track | None:
        """Give the track that speaks for the contact: friction, else the motor's torque current."""
        mechanics = self._mechanics
        is_shown = mechanics.friction.y == mechanics.friction.y and not mechanics.friction_is_hidden
        if is_shown and self._friction.is_known:
            return self._friction
        if (
            self._hung.was_measured
            and not self._dips.is_silent
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
        if phase is _FOLLOW and mechanics.has_load:
            self._witness.note_level(self._motion.level_n, self._friction, self._current)
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
        drag = mechanics.friction if is_friction else mechanics.current
        steady = phase is _FOLLOW or (not self._hung.was_measured and track.is_known)
        steady = steady and (is_friction or drag.is_above_noise)
        now = Contact(track, drag, phase, steady, self._trips.unseen_is_open, is_friction, mechanics.has_load)
        if not self._params.sees_motion and self._may_have_started(track, s.duration_s):
            return ()
        trip = self._trips.judge(now, others, s.duration_s)
        if trip is not None and not self._is_denied(track, trip.beside or others):
            self._trip = (rise_finding(s.t_rig_s, Level.TRIP, trip, trip.beside or others),)
            return self._trip
        found = self._warns.update(s, now, others)
        # Beside a load that may be late it is a weight more often than the cell, until it has lasted.
        if not is_friction or (mechanics.seldom_load.may_be_late_s and not self._witness.is_lasting):
            return found
        return found + self._cells.judge_witness(s, self._witness, track, self._current)

    def _may_have_started(self, track: Track, dt_s: float) -> bool:
        """Say whether a rise may be a ring's that begins to turn; what it stays at becomes usual."""
        if not self._start.is_start(track, self._mechanics.has_load, dt_s):
            return False
        if self._start.has_become_usual():
            track.begin_level(restart=False, unseen=True)
            self._warns.begin_level(same_load=False, heavier=False)
        self._trips.forget()
        return True

    def _is_denied(self, track: Track, others: Sequence[Seen]) -> bool:
        """Say whether friction alone has risen, while the motor's current could show it and does not.

        Sound or heat bear it out; of a cell long at fault heat alone, as sound comes from anywhere.
        """
        if track is not self._friction or not self._witness.denies:
            return False
        return (
            not any(seen.kind is Kind.THERMAL for seen in others) if self._witness.is_lasting else not is_heard(others)
        )

    @property
    def standing(self) -> tuple[Finding, ...]:
        """Give the trip or warning, while its condition is true; a trip stands until `reset`."""
        return self._trip or self._warns.standing

    def _floor_slack(self, track: Track) -> float:
        """Give what the floor in y may add at a load so much smaller than the settled one."""
        if not self._motion.level_n < self._hung.level_n or not track.is_known:
            return 0.0
        level_n = max(self._motion.level_n, self._params.mechanics.load_min_n)
        drag = self._mechanics.friction if track is self._friction else self._mechanics.current
        return math.log1p(drag.floor / (level_n * math.exp(track.base + STEP_CAP)))
