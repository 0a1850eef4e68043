"""What the scuffing detector says: its findings in words, each value beside the limit it was held against.

Reads values and limits, gives findings.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scuffwatch.detect.bursts import BurstRate
from scuffwatch.detect.noisy_load import NoisyLoad
from scuffwatch.detect.once_per_turn import OncePerTurn
from scuffwatch.detect.other_kinds import Kind, Seen
from scuffwatch.detect.words import number
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD, PIN_TEMPERATURE, SOUND_LEVEL
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level

_ROWS = {
    Kind.ACOUSTIC: ("sound_change_db", "sound changed by", 1, "dB", SOUND_LEVEL),
    Kind.VARIABILITY: ("unrest_ratio", "unrest ×", 1, "", ""),
    Kind.THERMAL: ("pin_heating_k_s", "pin heating", 2, "K/s", PIN_TEMPERATURE),
}


@dataclass(frozen=True, slots=True)
class Rise:
    """The mechanical kind: how far the drag is above usual.

    Attributes:
        is_friction: whether friction speaks, else the motor's torque current.
        rise, limit: natural logarithm of the ratio to usual.
        beside: the further kinds it rests on, where those are not what was seen in the last seconds.
    """

    is_friction: bool
    rise: float
    limit: float
    beside: tuple[Seen, ...] = ()

    @property
    def words(self) -> str:
        """Give what speaks, in words."""
        return "friction" if self.is_friction else "motor torque current"

    @property
    def evidence(self) -> Evidence:
        """Give value and limit as ratios."""
        name = "friction_rise_ratio" if self.is_friction else "torque_rise_ratio"
        return Evidence(name, math.exp(self.rise), math.exp(self.limit), "")

    def says(self, word: str) -> str:
        """Give value and limit in words; `word` is what the limit is called."""
        evidence = self.evidence
        return f"{self.words} {number(evidence.value, 2)} × usual, {word} {number(evidence.limit, 2)}"


@dataclass(frozen=True, slots=True)
class Beyond:
    """The mechanical kind where the friction cell cannot say how far: it is beyond its range.

    Attributes:
        lasted_s, limit_s: for how long, and how long counts, s.
        torque_ratio: the motor's torque current over its usual value, which bears it out; NaN where friction rose there
            fast, and needs nothing to bear it out.
        is_friction, beside: as for `Rise`.
    """

    lasted_s: float
    limit_s: float
    torque_ratio: float = math.nan
    is_friction: bool = True
    beside: tuple[Seen, ...] = ()

    @property
    def evidence(self) -> Evidence:
        """Give value and limit."""
        return Evidence("friction_beyond_range_s", self.lasted_s, self.limit_s, "s")

    def says(self, word: str) -> str:
        """Give value and limit in words; `word` is what the limit is called."""
        lasted, limit = number(self.lasted_s, 2), number(self.limit_s, 2)
        if self.torque_ratio == self.torque_ratio:
            torque = f"motor torque current {number(self.torque_ratio, 2)} × usual"
            return f"friction is beyond its range for {lasted} s, {word} {limit}, and {torque}"
        return f"friction rose fast and is beyond its range for {lasted} s, {word} {limit}"


@dataclass(frozen=True, slots=True)
class Far:
    """The mechanical kind where what is usual has come along: a coefficient far above the least this run has shown.

    Attributes:
        coefficient, limit, least: of friction.
        is_friction, beside: as for `Rise`.
    """

    coefficient: float
    limit: float
    least: float
    is_friction: bool = True
    beside: tuple[Seen, ...] = ()

    @property
    def evidence(self) -> Evidence:
        """Give value and limit."""
        return Evidence("friction_coefficient", self.coefficient, self.limit, "")

    def says(self, word: str) -> str:
        """Give value and limit in words; `word` is what the limit is called."""
        value, limit, least = (number(one, 2) for one in (self.coefficient, self.limit, self.least))
        return f"friction coefficient {value}, {word} {limit}, and as little as {least} before"


def rise_finding(t_rig_s: float, level: Level, found: Rise | Beyond | Far, others: Sequence[Seen]) -> Finding:
    """Give the trip or warning that rests on a rise, and on further kinds where they were seen.

    Args:
        t_rig_s: node time, s.
        level: of the finding.
        found: the mechanical kind.
        others: further kinds.
    """
    cause, word = ("Scuffing", "limit") if level is Level.TRIP else ("Scuffing may begin", "warning at")
    return _finding(t_rig_s, level, f"{cause}: {found.says(word)}", found, (found.evidence,), others)


def bursts_finding(t_rig_s: float, rate: BurstRate, last: Rise, others: Sequence[Seen]) -> Finding:
    """Give the warning that rests on short rises.

    Args:
        t_rig_s: node time, s.
        rate: how many bursts there were, and how many of them are too many.
        last: the last of them.
        others: further kinds.
    """
    count, enough = rate.count, rate.enough_count
    says = (
        f"Scuffing may begin: {count} short bursts of {last.words} in {number(rate.since_s, 0)} s, warning at {enough}"
    )
    evidence = (Evidence("burst_count", count, enough, ""), last.evidence)
    return _finding(t_rig_s, Level.WARN, says, last, evidence, others)


def once_per_turn_finding(t_rig_s: float, once: OncePerTurn, speaks: Rise, others: Sequence[Seen]) -> Finding:
    """Give the warning that rests on a swing at the frequency of the ring.

    Args:
        t_rig_s: node time, s.
        once: the swing, and what is usual.
        speaks: what swings, and how far it is above usual.
        others: further kinds.
    """
    says = (
        f"Scuffing may begin: {speaks.words} swings once a turn by {number(100.0 * once.swing, 1)} %, "
        f"{number(once.ratio, 1)} × usual, warning at {number(once.limit, 1)}"
    )
    evidence = (Evidence("once_per_turn_ratio", once.ratio, once.limit, ""),)
    return _finding(t_rig_s, Level.WARN, says, speaks, evidence, others)


def stick_slip_finding(t_rig_s: float, restless: float, limit: float) -> Finding:
    """Give the notice that friction swings about an unchanged mean."""
    evidence = (Evidence("unrest_ratio", restless, limit, ""),)
    says = (
        f"Stick-slip: friction swings {number(restless, 1)} × usual about an unchanged mean, limit {number(limit, 1)}."
    )
    return Finding(FindingKind.STICK_SLIP, Level.NOTICE, t_rig_s, (FRICTION_FORCE,), evidence, says)


def unborne_finding(t_rig_s: float, friction_rise: float, torque_rise: float) -> Finding:
    """Give the warning that the friction cell rises alone.

    Args:
        t_rig_s: node time, s.
        friction_rise, torque_rise: natural logarithms of the ratios to usual.
    """
    friction, torque = math.exp(friction_rise), math.exp(torque_rise)
    evidence = (
        Evidence("friction_rise_ratio", friction, math.nan, ""),
        Evidence("torque_rise_ratio", torque, math.nan, ""),
    )
    says = (
        f"Sensor fault: friction force {number(friction, 2)} × usual, and the motor's torque current "
        f"{number(torque, 2)} × usual does not bear it out."
    )
    return Finding(FindingKind.SENSOR_FAULT, Level.WARN, t_rig_s, (FRICTION_FORCE,), evidence, says)


def denied_load_finding(s: Slice, *, has_shown_load: bool) -> Finding:
    """Give the warning that the load is said to have gone while friction goes on as before.

    Args:
        s: slice with load and friction force.
        has_shown_load: whether it was ever there; else the cell pulls where it should press.
    """
    load, friction = Evidence(NORMAL_LOAD, s.channels[NORMAL_LOAD].mean, math.nan, "N"), _force(s)
    says = f"normal load {number(load.value, 1)} N"
    if has_shown_load:
        says += f", and friction force {number(friction.value, 1)} N goes on as before"
    elif load.value > -abs(friction.value):
        says += f" under a contact with {number(abs(friction.value), 1)} N of friction"
    else:
        says += f" is negative under a contact with {number(abs(friction.value), 1)} N of friction"
    return _unbelieved(s, (load, friction), f"{says}; the load")


def noisy_load_finding(s: Slice, noisy: NoisyLoad) -> Finding:
    """Give the warning that the load cell shows little but noise.

    Args:
        s: slice with the load.
        noisy: what was found of it.
    """
    noise = Evidence(NORMAL_LOAD, noisy.sigma_n, noisy.limit_n, "N")
    says = f"normal load swings by {number(noise.value, 1)} N from value to value, limit {number(noise.limit, 1)}; it"
    return _unbelieved(s, (noise,), says)


def gone_friction_finding(s: Slice) -> Finding:
    """Give the warning that the friction force has fallen to nothing under load.

    Args:
        s: slice with load and friction force.
    """
    load, friction = Evidence(NORMAL_LOAD, s.channels[NORMAL_LOAD].mean, math.nan, "N"), _force(s)
    says = f"friction force {number(friction.value, 1)} N under a normal load of {number(load.value, 1)} N"
    return _unbelieved(s, (friction, load), f"{says} on a turning ring; it")


def reversed_friction_finding(s: Slice) -> Finding:
    """Give the warning that the friction force has come through zero under load.

    Args:
        s: slice with friction force.
    """
    friction = _force(s, limit_n=0.0)
    says = f"friction force {number(friction.value, 2)} N has come through zero under load; it"
    return _unbelieved(s, (friction,), says)


def swapped_friction_finding(s: Slice) -> Finding:
    """Give the warning that the friction force has turned its sign, as swapped wires do.

    Args:
        s: slice with friction force.
    """
    friction = _force(s)
    says = f"Sensor fault: friction force {number(friction.value, 1)} N has turned its sign; its size is believed."
    return Finding(FindingKind.SENSOR_FAULT, Level.WARN, s.t_rig_s, (friction.name,), (friction,), says)


def _force(s: Slice, limit_n: float = math.nan) -> Evidence:
    return Evidence(FRICTION_FORCE, s.channels[FRICTION_FORCE].mean, limit_n, "N")


def _unbelieved(s: Slice, evidence: tuple[Evidence, ...], says: str) -> Finding:
    """Give the warning that the channel of the first evidence is not believed."""
    told = f"Sensor fault: {says} is not believed."
    return Finding(FindingKind.SENSOR_FAULT, Level.WARN, s.t_rig_s, (evidence[0].name,), evidence, told)


def _finding(
    t_rig_s: float,
    level: Level,
    says: str,
    found: Rise | Beyond | Far,
    evidence: tuple[Evidence, ...],
    others: Sequence[Seen],
) -> Finding:
    channels = [FRICTION_FORCE if found.is_friction else MOTOR_CURRENT]
    for seen in sorted(others, key=lambda one: -one.value / one.limit):
        name, text, digits, unit, source = _ROWS[seen.kind]
        evidence += (Evidence(name, seen.value, seen.limit, unit),)
        with_unit = f"{number(seen.value, digits)} {unit}".rstrip()
        says += f"; {text} {with_unit}, limit {number(seen.limit, digits)}"
        channels += [source] if source else []
    return Finding(FindingKind.SCUFFING_ONSET, level, t_rig_s, tuple(channels), evidence, says + ".")
