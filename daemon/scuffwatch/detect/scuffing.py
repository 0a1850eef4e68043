"""Scuffing: the contact begins to weld, told from load steps, running-in, stick-slip, squeal and slow film transitions.

Reads slices and what the motor does, gives SCUFFING_ONSET warnings and trips and STICK_SLIP notices.

Three ways to a trip, each in physical units with stated limits:

- fast: one kind, mechanical. The drag rises above both what is usual and the last seconds, far and at once.
- slow: two kinds. The drag's mean and its lowest are above what is usual, and sound, unrest or heating says so too.
- high: one kind, mechanical, where the drag is at twice its usual value and stays there.

Sound, unrest and heating alone never trip. Where no load is measured a weight looks like a rise: there every sharp rise
counts as a load in motion, and the fast way asks for more than twice the largest weight this run has seen. A motor
current without friction force and without load says nothing here.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.level_rise import HeatRise, SoundRise
from scuffwatch.detect.load_motion import LoadMotion
from scuffwatch.detect.mechanics import Mechanics, MechanicsParams
from scuffwatch.detect.scuffing_says import Kind, make_finding, make_stick_slip
from scuffwatch.detect.track import Phase, Track
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import NORMAL_LOAD, PIN_TEMPERATURE, SOUND_LEVEL, Quality
from scuffwatch.model.finding import Finding, Level

_HOLE_S = 0.5
_LONG_HOLE_S = 10.0
_UNSEEN_SHARE = 0.12
_ACCEPT_S = 3.0
"""A level that has been followed for so long was a weight's."""
_RAMP = 0.25
_NOISE_TIMES = 3.5
_SLACK_SHARE = 0.6
_BURST_APART_S = 0.5
_UNSEEN_UNREST = 4.0


@dataclass(frozen=True, slots=True)
class ScuffParams:
    """Limits of the scuffing detector. Rises are natural logarithms: 0.30 is a factor of 1.35.

    Attributes:
        mechanics: what is known of the rig.
        jump, jump_sum_s: the fast way: rise that counts, and the rise beyond it summed over time, s.
        jump_in_motion: added while the load is in motion, or where no load is measured.
        weight_times: where no load is measured, rise of the drag over the largest step that was a weight.
        unseen_s: where no load is measured, a far and restless rise with two further kinds for so long, s.
        weights_least: so many such steps must have been seen.
        beyond_s: a friction force that rose fast and has been beyond its range for so long, s.
        rise, low_rise, rise_s: the slow way: mean and lowest above usual, and for how long, s.
        high_rise, high_low_rise, high_s: the high way.
        sound_db, sound_sigmas: the acoustic kind, dB and multiples of the usual spread.
        unrest, unrest_least: the variability kind, ratio to usual, and its least size.
        heating_k_s: the thermal kind, K/s above usual.
        together_s: a kind counts so long after it was last seen, s.
        settle_s: after a start nothing is learned for so long, s.
        warn_rise, warn_low_rise, warn_s: a warning with a second kind.
        crept, crept_unrest: a warning by slow rise since the level was learned, with another kind or so much unrest.
        burst, burst_count, burst_fade_s: rise of a burst, how many make a warning, and how fast they fade, s.
        warn_clear_s: a warning clears so long after its last evidence, s.
    """

    mechanics: MechanicsParams = MechanicsParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    jump: float = 0.42
    jump_sum_s: float = 0.025
    jump_in_motion: float = 0.35
    weight_times: float = 2.5
    weights_least: int = 2
    unseen_s: float = 1.5
    beyond_s: float = 0.05
    rise: float = 0.30
    low_rise: float = 0.18
    rise_s: float = 0.3
    high_rise: float = 0.69
    high_low_rise: float = 0.5
    high_s: float = 0.3
    sound_db: float = 4.0
    sound_sigmas: float = 5.0
    unrest: float = 2.5
    unrest_least: float = 0.03
    heating_k_s: float = 0.4
    together_s: float = 2.0
    settle_s: float = 1.5
    warn_rise: float = 0.2
    warn_low_rise: float = 0.1
    warn_s: float = 0.5
    crept: float = 0.25
    crept_unrest: float = 1.5
    burst: float = 0.12
    burst_count: float = 2.5
    burst_fade_s: float = 20.0
    warn_clear_s: float = 10.0


class ScuffWatch:
    """Follow the contact.

    Args:
        params: see `ScuffParams`.

    What survives a call: what is usual for each variable, timers, what stands.

    Attributes:
        standing: the trip or warning, while its condition is true; a trip stands until `reset`.
        nearness: how near the strongest way to a trip is, 0 to 1 and above.
    """

    def __init__(self, params: ScuffParams) -> None:
        self._params = params
        self._mechanics = Mechanics(params.mechanics)
        self._motion = LoadMotion()
        self._unseen_motion = LoadMotion(_UNSEEN_SHARE, 0.0)
        self._unseen_level = 0.0
        self._largest_step = 0.0
        self._weights = 0
        self._follow_s = 0.0
        self._load_seen = False
        self._friction, self._current = Track(), Track()
        self._sound, self._heat = SoundRise(), HeatRise()
        self._phase = Phase.OFF
        self._settled_s = 0.0
        self._level_n = math.nan
        self._epoch: int | None = None
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands; what is usual for this pair of specimens is kept."""
        self.standing: tuple[Finding, ...] = ()
        self.nearness = 0.0
        self._fast_sum_s = self._slow_s = self._high_s = self._warn_s = self._beyond_s = 0.0
        self._bursts = 0.0
        self._burst_s = self._unseen_s = 0.0
        self._since_burst_s = math.inf
        self._since_warn_s = math.inf
        self._since_stick_slip_s = math.inf
        self._swing_s = 0.0
        self._seen_s = dict.fromkeys((Kind.ACOUSTIC, Kind.VARIABILITY, Kind.THERMAL), math.inf)
        self._values = dict.fromkeys((Kind.ACOUSTIC, Kind.VARIABILITY, Kind.THERMAL), math.nan)

    def update(self, s: Slice, running: bool) -> tuple[Finding, ...]:
        """Take the next slice.

        Args:
            s: slice with whatever is fitted of load, friction, current, sound and pin temperature.
            running: whether the motor runs at speed, or is not known to do otherwise.
        Returns:
            Findings that became true in it.
        """
        dt_s = s.duration_s
        if s.gap_before_s > _LONG_HOLE_S or s.epoch != self._epoch:
            self._epoch = s.epoch
            self._forget_motion()
        elif s.gap_before_s > _HOLE_S:
            self._pass_hole()
        self._mechanics.read(s, running, self._level_n, self._in_motion)
        self._follow_load(s)
        before, phase = self._phase, self._next_phase(running, dt_s)
        if before is Phase.HOLD and phase is Phase.FOLLOW:
            return ()  # this slice's drag was still read against the level that has been left
        for track, drag in ((self._friction, self._mechanics.friction), (self._current, self._mechanics.current)):
            track.update(drag.y, drag.fresh, dt_s, phase)
        self._weigh_others(s, phase)
        if phase is Phase.OFF:
            return ()
        return self._judge(s, phase)

    # --- phase --------------------------------------------------------------------------------------------

    def _forget_motion(self) -> None:
        self._motion.forget()
        self._unseen_motion.forget()
        self._rest()

    def _pass_hole(self) -> None:
        """A hole of seconds: rates across it are unknown, what is usual is not."""
        self._motion.forget()
        self._unseen_motion.forget()
        for part in (self._friction, self._current, self._sound, self._heat):
            part.forget_means()
        self._fast_sum_s = self._slow_s = self._high_s = self._warn_s = 0.0

    def _follow_load(self, s: Slice) -> None:
        mechanics, dt_s = self._mechanics, s.duration_s
        load = s.channels.get(NORMAL_LOAD)
        self._load_seen = self._load_seen or mechanics.has_load
        self._motion.update(mechanics.load_n, load is not None and load.fresh, dt_s)
        friction = mechanics.friction
        self._unseen_motion.update(math.nan if mechanics.has_load else friction.drag, friction.fresh, dt_s)

    @property
    def _in_motion(self) -> bool:
        return self._motion.moving if self._mechanics.has_load else self._unseen_motion.moving

    def _rest(self) -> None:
        for part in (self._friction, self._current, self._sound, self._heat):
            part.forget_motion()
        self._phase = Phase.OFF
        self._settled_s = 0.0
        self._fast_sum_s = self._slow_s = self._high_s = self._warn_s = 0.0

    def _next_phase(self, running: bool, dt_s: float) -> Phase:
        if not running or not self._mechanics.loaded:
            if self._phase is not Phase.OFF:
                self._rest()
            return self._phase
        if self._phase is Phase.OFF:
            self._begin(self._is_same_load())
            self._phase = Phase.HOLD
        self._settled_s += dt_s
        if self._in_motion:
            if self._phase is Phase.FOLLOW:
                self._phase, self._follow_s = Phase.HOLD, 0.0
            return self._phase
        if self._phase is Phase.HOLD and self._settled_s >= self._params.settle_s:
            self._begin(self._is_same_load())
            self._phase = Phase.FOLLOW
        if self._phase is Phase.FOLLOW:
            self._accept_level(dt_s)
        return self._phase

    def _accept_level(self, dt_s: float) -> None:
        if self._mechanics.has_load:
            self._level_n = self._motion.level_n
            return
        before_s, self._follow_s = self._follow_s, self._follow_s + dt_s
        if before_s >= _ACCEPT_S or self._follow_s < _ACCEPT_S:
            return
        level = self._unseen_motion.level_n
        if not self._load_seen and level == level:
            self._weights += level > 1.1 * self._unseen_level
            self._largest_step = max(self._largest_step, level - self._unseen_level)
            self._unseen_level = level

    def _is_same_load(self) -> bool:
        change = abs(self._motion.level_n - self._level_n)
        return change <= 0.08 * abs(self._level_n) or (change != change and self._level_n != self._level_n)

    def _begin(self, same_load: bool) -> None:
        for track in (self._friction, self._current):
            track.begin_level(same_load, unseen=not self._load_seen, slack=self._slack())

    # --- the other kinds ----------------------------------------------------------------------------------

    def _weigh_others(self, s: Slice, phase: Phase) -> None:
        p, dt_s = self._params, s.duration_s
        track = self._main
        sound_db = _good(s.channels.get(SOUND_LEVEL))
        if phase is not Phase.OFF:
            self._sound.update(sound_db, dt_s, phase is Phase.HOLD)
        self._heat.update(_good(s.channels.get(PIN_TEMPERATURE)), s.t_rig_s)
        louder_db = abs(self._sound.rise_db)
        loud = louder_db >= max(p.sound_db, p.sound_sigmas * self._sound.sigma_db)
        restless = track is not None and track.restless >= p.unrest and track.unrest >= p.unrest_least
        self._note(Kind.ACOUSTIC, loud, louder_db, dt_s)
        self._note(Kind.VARIABILITY, restless, track.restless if track is not None else math.nan, dt_s)
        heating = self._heat.excess_k_s >= p.heating_k_s and phase is not Phase.HOLD
        self._note(Kind.THERMAL, heating, self._heat.excess_k_s, dt_s)

    def _note(self, kind: Kind, seen: bool, value: float, dt_s: float) -> None:
        if seen:
            if self._seen_s[kind] > self._params.together_s or value > self._values[kind]:
                self._values[kind] = value
            self._seen_s[kind] = 0.0
        else:
            self._seen_s[kind] += dt_s

    def _others(self) -> list[Kind]:
        return [kind for kind, since_s in self._seen_s.items() if since_s <= self._params.together_s]

    @property
    def _main(self) -> Track | None:
        """Give the track that speaks for the contact: friction, else the motor's torque current."""
        mechanics = self._mechanics
        if mechanics.friction.y == mechanics.friction.y and self._friction.is_known:
            return self._friction
        if (
            self._load_seen
            and mechanics.friction_is_quiet
            and mechanics.current.y == mechanics.current.y
            and self._current.is_known
        ):
            return self._current
        return None

    # --- judgement ----------------------------------------------------------------------------------------

    def _judge(self, s: Slice, phase: Phase) -> tuple[Finding, ...]:
        track = self._main
        if track is not self._friction or not self._mechanics.friction_is_beyond:
            self._mechanics.ramping = track is not None and track.jump > _RAMP
        if track is None or self._is_tripped:
            return ()
        dt_s = s.duration_s
        others = self._others()
        trip = self._judge_trip(track, phase, others, dt_s)
        if trip:
            self.standing = (self._finding(s, Level.TRIP, trip, others),)
            return self.standing
        return (*self._judge_warn(s, track, phase, others), *self._judge_swing(s, track, phase))

    @property
    def _is_tripped(self) -> bool:
        return bool(self.standing) and self.standing[0].level is Level.TRIP

    def _judge_trip(self, track: Track, phase: Phase, others: list[Kind], dt_s: float) -> str:
        p = self._params
        noise = _NOISE_TIMES * self._noise_of(track)
        self._beyond_s = self._beyond_s + dt_s if self._mechanics.friction_is_beyond else 0.0
        blind = self._load_seen and (phase is Phase.HOLD or not self._mechanics.has_load)
        limit = max(p.jump, track.ceiling + 0.12, noise) + (p.jump_in_motion if blind else 0.0)
        weight = self._weight_limit()
        limit = max(limit + (self._slack() if phase is Phase.HOLD else 0.0), weight)
        self._fast_sum_s = max(0.0, self._fast_sum_s + min(track.jump - limit, 0.6) * dt_s)
        steady = phase is not Phase.HOLD and not self._unseen_is_open
        slow = steady and track.rise >= max(p.rise, weight) and track.low_rise >= p.low_rise and bool(others)
        self._slow_s = self._slow_s + dt_s if slow else 0.0
        high = steady and track.rise >= max(p.high_rise, weight) and track.low_rise >= p.high_low_rise
        self._high_s = self._high_s + dt_s if high else 0.0
        self._unseen_s = self._unseen_s + dt_s if self._is_no_weight(track, others) else 0.0
        self.nearness = max(self._fast_sum_s / p.jump_sum_s, track.rise / p.high_rise)
        if self._fast_sum_s >= p.jump_sum_s or (self._beyond_s >= p.beyond_s and weight < math.inf):
            return "fast"
        if self._slow_s >= p.rise_s or self._unseen_s >= p.unseen_s:
            return "slow"
        return "high" if self._high_s >= p.high_s else ""

    def _is_no_weight(self, track: Track, others: list[Kind]) -> bool:
        """Say whether a rise that nobody measured the load of is too restless and too loud or hot for a weight."""
        if self._mechanics.has_load or len(others) < 2 or Kind.VARIABILITY not in others:
            return False
        p = self._params
        far = track.rise >= p.high_rise and track.low_rise >= p.rise
        return far and track.restless >= _UNSEEN_UNREST

    def _noise_of(self, track: Track) -> float:
        """Give how restless y is by nature: as usual on this rig, and at least as its channel's noise makes it."""
        usual = track.usual_unrest if track.usual_unrest == track.usual_unrest else 0.0
        drag = self._mechanics.friction if track is self._friction else self._mechanics.current
        return max(usual, 0.7 * drag.noise)

    @property
    def _unseen_is_open(self) -> bool:
        """Say whether a level that nobody measured has not yet shown that it stays."""
        return not self._mechanics.has_load and self._follow_s < _ACCEPT_S

    def _slack(self) -> float:
        """Give what a zero error of the friction cell may add to y at a load larger than the settled one."""
        ratio = self._motion.level_n / self._level_n if self._level_n > 0.0 else 1.0
        return _SLACK_SHARE * math.log(ratio) if ratio > 1.0 else 0.0

    def _weight_limit(self) -> float:
        """Give the rise beyond which it is no weight, where no load is measured; infinite before one has been seen."""
        if self._mechanics.has_load or self._load_seen:
            return 0.0
        if self._weights < self._params.weights_least:
            return math.inf
        level = max(self._unseen_level, 1e-9)
        return math.log(1.0 + self._params.weight_times * self._largest_step / level)

    def _judge_warn(self, s: Slice, track: Track, phase: Phase, others: list[Kind]) -> tuple[Finding, ...]:
        p, dt_s = self._params, s.duration_s
        self._count_bursts(track, phase, dt_s)
        near = (
            phase is Phase.FOLLOW
            and not self._unseen_is_open
            and track.rise >= p.warn_rise
            and track.low_rise >= p.warn_low_rise
        )
        crept = phase is Phase.FOLLOW and track.crept >= p.crept and (bool(others) or track.restless >= p.crept_unrest)
        self._warn_s = self._warn_s + dt_s if (near and others) or (crept and track.low_rise > 0.0) else 0.0
        bursting = self._bursts >= p.burst_count
        if bursting or self._warn_s >= p.warn_s:
            self._since_warn_s = 0.0
            if not self.standing:
                self.standing = (self._finding(s, Level.WARN, "bursts" if bursting else "slow", others),)
                return self.standing
        else:
            self._since_warn_s += dt_s
            if self._since_warn_s >= p.warn_clear_s:
                self.standing = ()
        return ()

    def _count_bursts(self, track: Track, phase: Phase, dt_s: float) -> None:
        p = self._params
        self._bursts -= self._bursts * dt_s / p.burst_fade_s
        if phase is not Phase.FOLLOW and (self._load_seen or not track.is_known):
            self._burst_s = 0.0
            return
        noise = self._noise_of(track)
        self._since_burst_s += dt_s
        # A swing that goes as far below what is usual as above it is stick-slip, not a burst.
        if track.fast - track.base >= max(p.burst, 5.0 * noise) and track.low_rise > -max(0.1, 4.0 * noise):
            self._burst_s += dt_s
            return
        if 0.03 <= self._burst_s <= 1.5 and self._since_burst_s >= _BURST_APART_S:
            self._bursts += 1.0
            self._since_burst_s = 0.0
        self._burst_s = 0.0

    def _judge_swing(self, s: Slice, track: Track, phase: Phase) -> tuple[Finding, ...]:
        swings = phase is Phase.FOLLOW and track.restless >= 3.0 and track.unrest >= 0.06 and track.rise < 0.2
        self._swing_s = self._swing_s + s.duration_s if swings else 0.0
        self._since_stick_slip_s += s.duration_s
        if self._swing_s < 2.0 or self._since_stick_slip_s < 60.0:
            return ()
        self._since_stick_slip_s = 0.0
        return (make_stick_slip(s.t_rig_s, track.restless, 3.0),)

    def _finding(self, s: Slice, level: Level, way: str, others: list[Kind]) -> Finding:
        p, track = self._params, self._main
        assert track is not None
        is_friction = track is self._friction
        rise = track.jump if way == "fast" else (track.fast - track.base if way == "bursts" else track.rise)
        limits = {"fast": p.jump, "high": p.high_rise, "bursts": p.burst}
        limit = limits.get(way, p.rise if level is Level.TRIP else p.warn_rise)
        values = {kind: self._values[kind] for kind in others}
        kind_limits = {Kind.ACOUSTIC: p.sound_db, Kind.VARIABILITY: p.unrest, Kind.THERMAL: p.heating_k_s}
        bursts = self._bursts if way == "bursts" else math.nan
        return make_finding(s.t_rig_s, level, is_friction, rise, limit, values, kind_limits, bursts, p.burst_count)


def _good(channel: ChannelSlice | None) -> float:
    return math.nan if channel is None or channel.quality is not Quality.GOOD else channel.mean
