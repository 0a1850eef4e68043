"""The mechanical variable: how hard the contact drags for its load, as a logarithm with the noise as its floor.

Reads slices, gives y = ln[(drag + floor) / load]: from friction force, and beside it from the motor's torque current.
Where the load is lost its last level is held, so that y keeps its meaning; a weight set down meanwhile is then seen as
a rise of y, and judged as such.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.drag import Drag
from scuffwatch.detect.gone_friction import GoneFriction
from scuffwatch.detect.hum import Hum
from scuffwatch.detect.noisy_load import NoisyLoad
from scuffwatch.detect.seldom_load import SeldomLoad
from scuffwatch.detect.single_jump import SingleJump
from scuffwatch.detect.smooth import Rate
from scuffwatch.detect.way import Way
from scuffwatch.detect.zero import zero_off
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, RING_SPEED, Quality, Reason

FILM_MOST_COEFFICIENT = 0.15
"""No healthy boundary film drags more; Zhang, Ueda, Campen, Spikes 2021, Tribology Letters: 0.09 to 0.14."""
LIGHT_SHARE = 0.3
"""Of the largest load so far; less is a hanger's."""
_LIFTED_SHARE = 0.1
"""Of the largest load; less may be a lifted lever, under which nothing rubs, and a load cell's zero."""
_QUIET_S = 2.0
_RISES_OUT_S = 0.5
_IDLE_MEMORY_S, _UNLOADED_S = 2.0, 1.0
"""What friction force and current are while nothing rubs is learned once that has lasted for the second: a load cell
may drop out for a slice or two, or a lever bounce."""
_ZERO_SHARE, _NO_RANGE_N = 0.001, 1e9
_NOTHING_SHARE = 0.5
"""Of the least load; under more a contact may rub, and what the cell shows is not its zero."""
_STILL_HANGS_SHARE = 0.7
"""A load that was large enough still is above so much of the least: else one at the least comes and goes with noise."""
_STILL_HANGS_S, _SEEN_S = 3.0, 0.2
"""A load at rest whose cell drops out for less still hangs there: seldom does a hand change it just then."""
_DRAGS_ON_SHARE, _DRAGS_ON_S, _DRAGS_MEMORY_S = 0.5, 1.0, 2.0
"""A load that has gone while so much of the friction stays for so long has not gone: friction follows within tenths
of a second."""
_TURNED_LEAST, _TURNED_ZEROS, _TURNED_LOADS = 0.04, 4.0, 3.0
"""A force of so much of a load that is negative, and so many times the cell's zero, is a contact that rubs; a load of
less than so many times the least that counts may be the zero of its cell."""
_UNSHOWN_S, _STANDS_RPM = 20.0, 1.0
"""For so long a turning ring has to rub with more than the least load, before a cell that never showed one is not
believed: a friction cell's zero is off by less, and no coefficient is above 1."""
_STATED_IDLE_SHARE, _OWN_IDLE_SHARE = 0.05, 0.02
"""How far a motor's no-load current may be off: as stated by hand, and as seen on this very rig."""
_BAD = Quality.BAD
"""By a name of its own: to look it up in its class several times a slice takes longer than the comparison."""


@dataclass(frozen=True, slots=True)
class MechanicsParams:
    """What is known of the rig for the mechanical variable.

    Attributes:
        no_load_current_a: with the pin lifted, A; NaN where it is not known.
        load_min_n: below this load the contact counts as unloaded, N.
        friction_zero_n: how far the friction cell's zero may be off, N: creep and warmth move it.
        knows_load_cell: whether the load cell's range is stated, so that `load_min_n` is of its size.
    """

    no_load_current_a: float = math.nan
    load_min_n: float = 5.0
    friction_zero_n: float = 0.0
    knows_load_cell: bool = True


def friction_zero_n(valid_n: tuple[float, float] | None) -> float:
    """Give how far a friction cell's zero may be off, N: a thousandth of its range.

    Args:
        valid_n: lowest and highest valid force, N; None where they are not known, which says nothing of the zero.
    Source:
        common practice, no source.
    """
    return zero_off(valid_n, _ZERO_SHARE, _NO_RANGE_N)


class Mechanics:
    """Both views of the drag.

    Args:
        params: see `MechanicsParams`.

    What survives a call: both views, the last good load, the motor's no-load current, and the friction force with its
        sign while nothing rubs: its zero.

    Attributes:
        friction, current: the views; the current speaks only where a load is or was measured, or friction is.
        load_n: of the last slice; as it was last for 3 s after it was lost at rest; NaN where it is not fitted or BAD.
        by_load_n: what y is taken by: the load, its level while it is lost or in motion, 1 where none was ever seen.
        has_load: whether the load is measured now.
        loaded: whether the contact carries load; by the load, else by whether friction stands out of its noise.
        friction_is_hidden: whether friction does not stand out of its noise under a load that is heavy enough.
        friction_is_out: whether the friction force is beyond its range.
        friction_is_beyond: whether the friction force is beyond its range and rose there fast.
        noisy_load: whether the load cell shows more noise than load: then it is not measured either.
        seldom_load: whether the load is an old value, which may not show a weight yet.
        load_is_denied: whether the load is said to be gone while friction goes on as before: then it is not measured.
        friction_is_reversed: whether the friction force has come through zero while the ring runs on.
        ramping: set from outside: the drag was rising fast just before, so a value beyond its range is believed.
    """

    def __init__(self, params: MechanicsParams) -> None:
        self._params = params
        self._idle_a = self._stated_idle_a = max(0.0, params.no_load_current_a)
        self._know_idle_within(_STATED_IDLE_SHARE)
        self._idle_rate, self._zero_rate, self._zero_n = Rate(_IDLE_MEMORY_S), Rate(_IDLE_MEMORY_S), 0.0
        self._knows_zero, self._unloaded_s = False, 0.0
        self._held_n = self._seen_n = math.nan
        self._lost_s, self._rested, self._seen_rate = 0.0, False, Rate(_SEEN_S)
        self._unspiked, self.noisy_load = SingleJump(), NoisyLoad()
        self.seldom_load = SeldomLoad()
        self._largest_n = 0.0
        self._quiet_s = 0.0
        self._loaded_drag_n, self._drags_on_s = math.nan, 0.0
        self._drags_rate = Rate(_DRAGS_MEMORY_S)
        self._unshown_s, self._rest_n = 0.0, 0.0
        self.load_is_denied = self._hangs = self.friction_is_hidden = False
        self.friction = Drag(is_cell=True)
        self.current = Drag()
        self.load_n = math.nan
        self.by_load_n = 1.0
        self.has_load = False
        self.loaded: bool | None = None
        self.ramping = self.friction_is_beyond = self.friction_is_out = False
        self._out_s = 0.0
        self._hum, self._way, self._gone = Hum(), Way(params.friction_zero_n), GoneFriction()

    def read(self, s: Slice, running: bool, level_n: float, in_motion: bool, *, load_moves: bool = False) -> None:
        """Take the next slice.

        Args:
            s: the slice.
            running: whether the motor runs at speed.
            level_n: the settled load, held where the load is lost, and while it is in motion where it is higher.
            in_motion: whether the load is in motion, or the contact not at rest under it yet.
            load_moves: whether the measured load is in motion.
        """
        get, dt_s = s.channels.get, s.duration_s
        load, force, current = get(NORMAL_LOAD), get(FRICTION_FORCE), get(MOTOR_CURRENT)
        if level_n > 0.0:  # the mean of a noisy cell may be below nothing, and y is a logarithm
            self._held_n = level_n
        load_n = self.load_n = self._believed_load_n(load, running, load_moves, dt_s)
        self.seldom_load.take(load, self._drag(force, False) if running else math.nan, dt_s)
        has_load = self.has_load = load_n == load_n
        self._follow_out(force is not None and _is_beyond(force), dt_s)
        turns = running and has_load and self._hangs
        rubs = turns and not in_motion
        force_n = self._drag(force, self.friction_is_beyond)
        if force is not None:
            force_n = self._hum.take(force_n, force.fresh, dt_s)
        drag_n = self._believed_n(force_n - self._zero_n, load_n, turns, rubs, dt_s)
        current_a = self._drag(current, self.ramping)
        least_n = self._params.load_min_n
        if self._hangs:
            least_n *= _STILL_HANGS_SHARE
        if has_load:
            self._hangs = load_n >= least_n
        if has_load and self._hangs:
            self._drags_on_s, self._unloaded_s, self.load_is_denied = 0.0, 0.0, False
        elif has_load:
            rubs = self._rubs_unshown(s, force_n, running)
            if not self._denies_that_it_is_unloaded(load_n, drag_n, running, dt_s, rubs):
                self._read_unloaded(load_n, force_n, current_a, running, dt_s)
                return
            self.load_n = math.nan
            has_load = self.has_load = False
        by_load_n = self.by_load_n = self._by_load_n(in_motion)
        if level_n > self._largest_n:
            self._largest_n = level_n
        is_new = force is not None and force.fresh
        self.friction.read(drag_n, is_new, by_load_n, dt_s, 0.0, self._params.friction_zero_n)
        idle_a = self._idle_a
        torque_a2 = current_a * current_a - idle_a * idle_a
        torque_a = math.sqrt(0.0 if torque_a2 < 0.0 else torque_a2)
        least_a = idle_a * self._least_torque_share
        self.current.read(torque_a, current is not None and current.fresh, by_load_n, dt_s, least_a)
        if has_load:
            if not in_motion and self.load_n > self._largest_n:
                self._largest_n = self.load_n
            self.loaded = self._is_loaded(dt_s)
            self._follow_loaded_drag(drag_n, dt_s)
        else:
            # What lay in its noise when the load was lost goes on doing so, until it comes out of it.
            self.friction_is_hidden = self.friction_is_hidden and not self.friction.is_above_noise
            self.loaded = self.friction.is_above_noise or self.friction_is_hidden
            if self.friction.y != self.friction.y:
                self._quiet_s = _QUIET_S

    def _believed_load_n(self, load: ChannelSlice | None, running: bool, moves: bool, dt_s: float) -> float:
        """Give the load, NaN while its cell shows little but noise."""
        load_n = self._load_n(load, moves, dt_s)
        if running and load is not None and load.fresh and load.quality is not _BAD:
            self.noisy_load.take(load.mean, self._held_n, dt_s)
        return math.nan if self.noisy_load.is_noise else load_n

    def _load_n(self, load: ChannelSlice | None, moves: bool, dt_s: float) -> float:
        """Give the load; for some seconds after it was lost at rest it still hangs there."""
        if load is not None and load.quality is not _BAD:
            load_n = self._unspiked.take(load.mean, load.fresh, dt_s)
            seen_n = self._seen_n if self._seen_n == self._seen_n and not self._lost_s else load_n
            self._seen_n = seen_n + (load_n - seen_n) * self._seen_rate.share(dt_s)
            self._lost_s = 0.0
            return load_n
        if not self._lost_s:
            self._rested = not moves
        self._lost_s += dt_s
        return self._seen_n if self._rested and self._lost_s <= _STILL_HANGS_S else math.nan

    @property
    def has_shown_load(self) -> bool:
        """Say whether the load cell has ever shown a load."""
        return self._largest_n > 0.0

    @property
    def is_boundary_film(self) -> bool:
        """Say whether friction at a measured load is no more than a healthy boundary film's."""
        return self.has_load and self.friction.drag < FILM_MOST_COEFFICIENT * self.by_load_n

    @property
    def friction_is_reversed(self) -> bool:
        """Say whether the friction force has come through zero while the ring runs on: no contact does that."""
        return self._way.is_reversed

    @property
    def friction_swaps(self) -> int:
        """Give how often the friction force has turned its sign at once, with the size it had."""
        return self._way.swaps

    @property
    def friction_leaves(self) -> bool:
        """Say whether the friction force was found to have fallen to nothing in this slice, though there before."""
        return self._gone.leaves

    @property
    def friction_is_gone(self) -> bool:
        """Say whether the friction force has fallen to nothing under load, now or time and again of late."""
        return self._gone.is_told

    def forget_level(self) -> None:
        """Take no load from before by which y was taken."""
        self._held_n = math.nan

    def _follow_out(self, is_out: bool, dt_s: float) -> None:
        """Follow a friction force beyond its range: it rose there if the drag was rising as it went, or soon after."""
        self.friction_is_out = is_out
        self._out_s = self._out_s + dt_s if is_out else 0.0
        self.friction_is_beyond = is_out and (self.friction_is_beyond or (self.ramping and self._out_s <= _RISES_OUT_S))

    def _drag(self, channel: ChannelSlice | None, is_believed: bool) -> float:
        """Give the value of a channel that shows the drag; beyond its range only where it is believed there."""
        if channel is None or (channel.quality is _BAD and not (is_believed and _is_beyond(channel))):
            return math.nan
        return channel.mean

    def _believed_n(self, force_n: float, load_n: float, turns: bool, rubs: bool, dt_s: float) -> float:
        """Give the magnitude of a friction force as far as it is believed, N."""
        is_heavy = turns and load_n >= _LIFTED_SHARE * self._largest_n
        return self._gone.take(abs(self._way.take(force_n, rubs, load_n, dt_s)), load_n, is_heavy, rubs, dt_s)

    def _know_idle_within(self, share: float) -> None:
        """Say how far the no-load current may be off, and so what share of it is no torque yet."""
        self._idle_share = share
        self._least_torque_share = math.sqrt((1.0 + share) ** 2 - 1.0)

    def _is_loaded(self, dt_s: float) -> bool:
        """Say whether the contact carries load, where the load is measured.

        A light load whose friction does not stand out of its noise is a hanger on a pin that hardly touches. Under a
        heavy one it is the friction cell that says nothing: then the motor speaks alone.
        """
        friction = self.friction
        self.friction_is_hidden = False
        if friction.y != friction.y:
            self._quiet_s = _QUIET_S
            return True
        if friction.is_above_noise or friction.mean_is_above_noise:
            self._quiet_s = 0.0
            return True
        if self.load_n < LIGHT_SHARE * self._largest_n or not self._largest_n:
            return False
        self.friction_is_hidden = True
        self._quiet_s += dt_s
        return True

    @property
    def friction_is_quiet(self) -> bool:
        """Say whether the friction cell has said nothing for 2 s under a heavy load; else it only swings."""
        return self._quiet_s >= _QUIET_S

    def _by_load_n(self, in_motion: bool) -> float:
        held_n = self._held_n
        if self.has_load:
            # A lever that bounces or is lifted takes the load away before the friction cell has followed.
            return max(self.load_n, held_n) if in_motion and held_n == held_n else self.load_n
        return held_n if held_n == held_n else 1.0

    def _follow_loaded_drag(self, drag_n: float, dt_s: float) -> None:
        """Follow the friction force under load, where it stands out of its noise."""
        if drag_n != drag_n or not self.friction.mean_is_above_noise:
            self._loaded_drag_n = math.nan
        elif self._loaded_drag_n != self._loaded_drag_n:
            self._loaded_drag_n = drag_n
        else:
            self._loaded_drag_n += (drag_n - self._loaded_drag_n) * self._drags_rate.share(dt_s)

    def _denies_that_it_is_unloaded(
        self, load_n: float, drag_n: float, running: bool, dt_s: float, rubs_unshown: bool
    ) -> bool:
        """Say whether friction goes on as before for a second, while the load is said to have gone."""
        drags_on = running and (drag_n >= _DRAGS_ON_SHARE * self._loaded_drag_n or self._is_turned(load_n, drag_n))
        self._drags_on_s = self._drags_on_s + dt_s if drags_on else 0.0
        self.load_is_denied = self._drags_on_s >= _DRAGS_ON_S or rubs_unshown
        return self.load_is_denied

    def _rubs_unshown(self, s: Slice, force_n: float, running: bool) -> bool:
        """Say whether a turning ring has long rubbed under a cell that has never shown a load.

        What the friction cell reads at rest is its zero.
        """
        speed = None if running else s.channels.get(RING_SPEED)
        if speed is not None and abs(speed.mean) <= _STANDS_RPM and force_n == force_n:
            self._rest_n = force_n
        rubs = running and not self.has_shown_load and abs(force_n - self._rest_n) >= self._params.load_min_n
        self._unshown_s = self._unshown_s + s.duration_s if rubs else 0.0
        if self._unshown_s < _UNSHOWN_S:
            return False
        if not self.load_is_denied and self._knows_zero:  # what was learned of an empty contact was not
            self._zero_n, self._knows_zero = self._rest_n, False
            self._idle_a = self._stated_idle_a
            self._know_idle_within(_STATED_IDLE_SHARE)
        return True

    def _is_turned(self, load_n: float, drag_n: float) -> bool:
        """Say whether a cell that has never shown a load pulls where it should press, and the contact rubs."""
        p, pulls_n = self._params, -load_n
        rubs = drag_n >= max(_TURNED_LEAST * pulls_n, _TURNED_ZEROS * p.friction_zero_n)
        return rubs and not self.has_shown_load and pulls_n >= _TURNED_LOADS * p.load_min_n

    def _read_unloaded(self, load_n: float, force_n: float, current_a: float, running: bool, dt_s: float) -> None:
        self.loaded = False
        if not running or self._drags_on_s:
            self.friction.drag = self.friction.y = self.current.drag = self.current.y = math.nan
            return
        self.friction.forget()
        self.current.y = math.nan
        self._unloaded_s += dt_s
        if self._unloaded_s < _UNLOADED_S:
            return
        hangs_nothing = load_n < _NOTHING_SHARE * self._params.load_min_n and not self._unspiked.has_held
        if force_n == force_n and hangs_nothing:
            if not self._knows_zero:
                self._zero_n, self._knows_zero = force_n, True
            self._zero_n += (force_n - self._zero_n) * self._zero_rate.share(dt_s)
        if current_a == current_a:
            if self._idle_share == _STATED_IDLE_SHARE:
                self._idle_a = current_a
                self._know_idle_within(_OWN_IDLE_SHARE)
            self._idle_a += (current_a - self._idle_a) * self._idle_rate.share(dt_s)


def _is_beyond(channel: ChannelSlice) -> bool:
    return channel.reason in (Reason.OVER_RANGE, Reason.UNDER_RANGE)
