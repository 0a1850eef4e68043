"""A load that is read so seldom, or typed in by hand, that a weight shows on the friction cell first.

Reads the load's channel, says whether what was found beside it counts: found before its next value, it has to be found
after it as well, or for as long as that value may take.
"""

import math

from scuffwatch.detect.held_column import HeldColumn
from scuffwatch.detect.load_lag import LoadLag
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Quality

_OLD_S, _COMES_S = 0.25, 0.3
"""A load that is older may be behind; and one that comes again so long without being old is read often enough."""
_TYPED_LATE_S = 5.5
"""So long after the weight a hand may type it in. Common practice, no source."""
_TYPED_EARLY_S = 1.5
"""And so long before it is on."""
_WEIGHT_SHARE = 0.05
"""Of the load; a change of less is no weight's, and no hand types it."""
_STILL_S, _LIVE_S = 2.0, 20.0
"""A cell that shows changes of its own says so within the second; before it has, the first is enough to doubt it."""
_HELD_TIMES = 1.25
"""Times as long as its logger holds a value: then the next one has come, though it may be the same."""
_KNOWN_WEIGHTS = 2
"""So many weights have to have come together, and none apart, before a column that is typed is known to keep up."""
_BAD = Quality.BAD


class SeldomLoad:
    """Follow the age of the load.

    What survives a call: whether it was old, what was found beside it then, and the time since; how long its value has
    stayed, and how far weights were apart in it and the friction force.

    Attributes:
        comes: whether it was old until this slice, or shows a weight after having stayed.
        may_be_late_s: for so long a weight may hang there that it does not show; infinite until its next value, 0 for a
            cell that is read as often as the others.
    """

    __slots__ = (
        "_column",
        "_found_s",
        "_had_found",
        "_has_stayed",
        "_has_weight",
        "_is_old",
        "_is_told",
        "_lag",
        "_live_s",
        "_since_s",
        "_warned_s",
        "comes",
        "may_be_late_s",
    )

    def __init__(self) -> None:
        self._is_old = self._is_told = self.comes = False
        self.may_be_late_s = 0.0
        self._lag = LoadLag()
        self._column = HeldColumn()
        self._live_s, self._has_weight = math.inf, False
        self._has_stayed = False
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing has been found."""
        self._had_found, self._since_s, self._found_s, self._warned_s = False, math.inf, 0.0, 0.0

    def take(self, load: ChannelSlice | None, force_n: float, dt_s: float) -> None:
        """Take the load of a slice, and the friction force beside it; NaN where that is not known."""
        was_late = self.may_be_late_s > 0.0
        if load is None or load.quality is _BAD:
            self._is_old, self._is_told, self.comes, self.may_be_late_s = False, False, False, 0.0
            self._lag.forget()
            return
        was_old, self._is_old = self._is_old, load.age_s > _OLD_S
        column, before_n, is_weight = self._column, self._column.value, False
        self._live_s += dt_s
        if load.fresh:
            column.take(load.mean, dt_s)
        has_changed = load.fresh and column.changes
        if has_changed:
            is_weight = abs(load.mean - before_n) > _WEIGHT_SHARE * max(abs(load.mean), abs(before_n))
            if not is_weight and before_n == before_n:
                self._live_s = 0.0
            self._has_weight = is_weight
        self._is_told = has_changed and not is_weight
        self.comes = (was_old and not self._is_old) or (was_late and is_weight)
        late_s = self._late_s()
        if late_s or self._lag.together or self._lag.apart:
            self._lag.take(force_n, is_weight, dt_s)
        self.may_be_late_s = late_s

    @property
    def may_be_early(self) -> bool:
        """Say whether a weight has just been typed in that may not hang there yet."""
        return self.may_be_late_s == _TYPED_LATE_S and self._column.same_s < _TYPED_EARLY_S and self._has_weight

    def _late_s(self) -> float:
        if self._is_old:
            return math.inf
        if self._lag.together >= _KNOWN_WEIGHTS and not self._lag.apart:
            return 0.0
        self._has_stayed = self._has_stayed or self._column.same_s >= _STILL_S
        if self._live_s > _LIVE_S:
            return _TYPED_LATE_S if self._has_stayed else 0.0
        return _HELD_TIMES * self._column.held_s

    def counts(self, has_found: bool, dt_s: float) -> bool:
        """Say whether what was found in a slice counts; to be asked of every slice that is judged."""
        if self.comes:
            self._since_s = self._found_s = 0.0
        if self.may_be_late_s:
            self._had_found = has_found
            self._found_s = self._found_s + dt_s if has_found else max(0.0, self._found_s - dt_s)
            return has_found and (self._found_s >= self.may_be_late_s or (self._is_told and self._found_s > dt_s))
        self._since_s += dt_s
        return self._had_found or self._since_s > _COMES_S

    def counts_for_warning(self, has_found: bool, dt_s: float) -> bool:
        """Say whether what may be a warning counts; to be asked of every slice that is judged."""
        self._warned_s = self._warned_s + dt_s if has_found and not self.comes else 0.0
        return has_found and self._warned_s >= min(self.may_be_late_s, _TYPED_LATE_S)
