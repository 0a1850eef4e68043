"""Cells that lie within their range: told once each time, by what the other channels say.

Reads what mechanics and witness found, gives findings that name the sensor. The decisions are theirs.
"""

from scuffwatch.detect.mechanics import Mechanics
from scuffwatch.detect.scuffing_says import (
    denied_load_finding,
    gone_friction_finding,
    noisy_load_finding,
    reversed_friction_finding,
    swapped_friction_finding,
    unborne_finding,
)
from scuffwatch.detect.track import Track
from scuffwatch.detect.witness import Witness
from scuffwatch.model.block import Slice
from scuffwatch.model.finding import Finding


class LyingCells:
    """Tell of each lie once while it lasts.

    What survives a call: which have been told.

    Attributes:
        load_is_denied: whether the load was not believed in the last slice.
    """

    def __init__(self) -> None:
        self.load_is_denied = self._told_reversed = self._told_gone = self._told_unborne = False
        self._told_swaps = 0
        self._told_noise = False

    def update(self, s: Slice, mechanics: Mechanics) -> tuple[Finding, ...]:
        """Take what mechanics says of load and friction force."""
        is_noise = mechanics.noisy_load.is_noise
        if (
            (mechanics.load_is_denied or is_noise) is self.load_is_denied
            and is_noise is self._told_noise
            and mechanics.friction_is_reversed is self._told_reversed
            and mechanics.friction_is_gone is self._told_gone
            and mechanics.friction_swaps == self._told_swaps
        ):
            return ()
        denied, self.load_is_denied = self.load_is_denied, mechanics.load_is_denied or is_noise
        noise, self._told_noise = self._told_noise, is_noise
        reversed_, self._told_reversed = self._told_reversed, mechanics.friction_is_reversed
        gone, self._told_gone = self._told_gone, mechanics.friction_is_gone
        swaps, self._told_swaps = self._told_swaps, mechanics.friction_swaps
        found: tuple[Finding, ...] = ()
        if self._told_swaps != swaps:
            found += (swapped_friction_finding(s),)
        if is_noise and not noise:
            found += (noisy_load_finding(s, mechanics.noisy_load),)
        elif self.load_is_denied and not denied:
            found += (denied_load_finding(s, has_shown_load=mechanics.has_shown_load),)
        if self._told_reversed and not reversed_:
            found += (reversed_friction_finding(s),)
        if self._told_gone and not gone:
            found += (gone_friction_finding(s),)
        return found

    def judge_witness(self, s: Slice, witness: Witness, friction: Track, current: Track) -> tuple[Finding, ...]:
        """Take what the motor's current says of a rise of friction; both tracks, of which friction speaks."""
        if not witness.is_fault:
            self._told_unborne = self._told_unborne and witness.denies
            return ()
        told, self._told_unborne = self._told_unborne, True
        return () if told else (unborne_finding(s.t_rig_s, friction.rise, current.rise),)
