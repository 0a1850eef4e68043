"""What a detector says about a recording, whoever it is.

Reads recordings, gives verdicts. The detector under test is the replay of the daemon, in this process.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from world_b import rig_toml
from world_b.values import Recording

from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.service.replay import TableReplay, load_replay_settings


@dataclass(frozen=True, slots=True)
class Heard:
    """One finding, on the recording's own stamps."""

    t_s: float
    kind: FindingKind
    level: Level
    channels: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was said up to the first trip, after which the permit is latched off and nothing matters.

    Attributes:
        heard: findings in order; the trip, if there is one, is the last trip among them.
        blind_to: kinds that the detector says it cannot find here.
    """

    heard: tuple[Heard, ...]
    blind_to: tuple[str, ...] = ()

    @property
    def trip(self) -> Heard | None:
        """Give the first trip."""
        return next((heard for heard in self.heard if heard.level is Level.TRIP), None)


class Detector(Protocol):
    """Anything that can be scored."""

    name: str

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict on a recording; its truth may not be looked at."""
        ...


class Daemon:
    """The daemon's detectors, by way of `scuffwatch replay`'s own code."""

    name = "scuffwatch"

    def judge(self, recording: Recording) -> Verdict:
        """Give the verdict; rows after the first trip are not replayed."""
        replay = TableReplay(tuple(recording.channels), load_replay_settings(rig_toml(recording)))
        heard: list[Heard] = []
        columns = [values.tolist() for values in recording.channels.values()]
        for t_s, *values in zip(recording.time_s.tolist(), *columns, strict=True):
            if found := replay.take(t_s, values):
                heard += [Heard(f.t_rig_s, f.kind, f.level, f.channels, f.says) for f in found]
                if any(f.level is Level.TRIP for f in found):
                    break
        heard += [Heard(f.t_rig_s, f.kind, f.level, f.channels, f.says) for f in replay.finish()]
        return Verdict(tuple(heard), tuple(replay.summary().blind_to))


def shown_until(recording: Recording, until_s: float) -> Recording:
    """Give the recording without the rows stamped later than `until_s` seconds after its first."""
    keep = recording.time_s <= recording.time_s[0] + until_s
    channels = {name: values[keep] for name, values in recording.channels.items()}
    return Recording(np.asarray(recording.time_s[keep]), channels, recording.rig, recording.truth)
