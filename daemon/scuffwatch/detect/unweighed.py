"""What is known of a rise while no load is measured: which may be a weight's, and which is none.

Reads the friction's track and what has been seen beside it, gives a rise that takes the permit away. The signs stand in
`unseen_weights.py` and `loud_and_hot.py`.
"""

from scuffwatch.detect.loud_and_hot import LoudAndHot, LoudAndHotParams
from scuffwatch.detect.other_kinds import OtherKinds
from scuffwatch.detect.scuffing_says import Rise
from scuffwatch.detect.track import Track
from scuffwatch.detect.unseen_weights import NoWeight, NoWeightParams, UnseenWeights


class Unweighed:
    """Look for a rise that behaves as no weight does.

    Args:
        weights: the weights so far; kept up to date by its owner.
        restless: see `NoWeightParams`.
        loud_and_hot: see `LoudAndHotParams`.

    What survives a call: for how long each sign has lasted.
    """

    def __init__(self, weights: UnseenWeights, restless: NoWeightParams, loud_and_hot: LoudAndHotParams) -> None:
        self._weights = weights
        self._restless_least, self._loud_least = restless.rise, loud_and_hot.rise
        self._restless, self._loud_and_hot = NoWeight(restless), LoudAndHot(loud_and_hot)

    def reset(self) -> None:
        """Begin anew: nothing turns, or nothing rubs."""
        self._restless.reset()
        self._loud_and_hot.reset()

    def weigh(self, track: Track) -> None:
        """Say that the load is measured: what it may be compared with once it is lost."""
        self._restless.reset()
        self._loud_and_hot.stay(track)

    def update(self, track: Track, others: OtherKinds, dt_s: float, *, has_swung: bool, was_measured: bool) -> None:
        """Take the next slice, while no load is measured.

        Args:
            track: of the friction force.
            others: sound, unrest and heating.
            dt_s: length of the slice, s.
            has_swung: whether stick-slip has been told on this rig.
            was_measured: whether the load has been, since it was put on.
        """
        weights = self._weights
        self._loud_and_hot.update(
            track, weights.is_open, others.loud_db, others.heating_k_s, dt_s, was_measured=was_measured
        )
        is_first = not was_measured and not weights.has_seen_one
        kinds = [seen.kind for seen in others.seen]
        self._restless.update(track, kinds, dt_s, has_swung=has_swung, is_first=is_first)

    @property
    def is_open(self) -> bool:
        """Say whether friction is far above usual and has not come to rest there: no level to be learned."""
        return self._restless.is_open

    def found(self, track: Track) -> Rise | None:
        """Give the rise that is none of a weight; None for none."""
        if self._restless.found:
            return Rise(True, track.rise, self._restless_least)
        loud = self._loud_and_hot
        return Rise(True, loud.rise, self._loud_least, loud.seen) if loud.found else None
