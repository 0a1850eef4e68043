"""Rules: how the writer works, in numbers.

Reads nothing. The service may pass its own; the crash bench does.
"""

from dataclasses import dataclass, field

from scuffwatch.store.space import SpaceRules


@dataclass(frozen=True, slots=True)
class WriterRules:
    """How the writer works.

    Attributes:
        batch_s: samples of a commit, s; what is at risk is this, one turn and one sync.
        late_s: whatever waits is committed after this, s of host time.
        idle_s: seconds between two commits of the idle envelope.
        idle_keep_s: how long the idle envelope is kept, s.
        retry_s, retry_max_s: first and longest pause after a failed commit.
        log_warn_bytes, log_stop_bytes: a reader that holds an old state makes a log grow; above the second, samples
            become marked gaps.
        space: room on the disk.
    """

    batch_s: float = 0.8
    late_s: float = 1.0
    idle_s: float = 10.0
    idle_keep_s: float = 7 * 86_400.0
    retry_s: float = 0.5
    retry_max_s: float = 5.0
    log_warn_bytes: int = 32 << 20
    log_stop_bytes: int = 60 << 20
    space: SpaceRules = field(default_factory=SpaceRules)
