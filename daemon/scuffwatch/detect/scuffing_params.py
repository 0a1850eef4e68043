"""Limits of the scuffing detector, in physical units."""

from dataclasses import dataclass

from scuffwatch.detect.bursts import BurstParams
from scuffwatch.detect.far_above import FarAboveParams
from scuffwatch.detect.loud_and_hot import LoudAndHotParams
from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.once_per_turn import OncePerTurnParams
from scuffwatch.detect.other_kinds import OtherParams
from scuffwatch.detect.unseen_weights import NoWeightParams


@dataclass(frozen=True, slots=True)
class ScuffParams:
    """Limits of the scuffing detector. Rises are natural logarithms: 0.30 is a factor of 1.35.

    Attributes:
        mechanics: what is known of the rig.
        sees_motion: whether speed or current tell that the ring turns; else the first rise after a fall may be a start.
        others: when sound, unrest and heating have been seen.
        jump, jump_sum_s: the fast way: rise that counts, and the rise beyond it summed over time, s.
        still_sum_s: instead of `jump_sum_s` where a steep rise would trip sooner.
        steep, steep_sum_s, steep_high: the same, by less, for a rise at rest that is so far above usual by then: few
            particles' are.
        jump_in_motion: added while the load is in motion, or where no load is measured.
        weight_times: where no load is measured, rise of the drag over the largest step that was a weight.
        far_above: a friction coefficient that is no film's.
        no_weight, loud_and_hot: where no load is measured, which rise behaves as none of a weight does.
        weights_least: so many such steps must have been seen, else a rise to more than eight times the one is needed.
        beyond_s, beyond_unseen_s: a friction force that rose fast and has been beyond its range for so long, s; the
            latter in a swing, or where a weight that nobody measured may have done it.
        borne_out_s: a friction force that has been beyond its range for so long, s, while the motor's torque current is
            above usual too.
        rise, low_rise, rise_s: the slow way: mean and lowest above usual, and for how long, s.
        kept_rise: instead of `rise` and `low_rise`, the mean of 4 s above usual where sound or heating says so too: a
            contact that scuffs and swings comes down to usual time and again. Where both do, `rise` is enough.
        weak_rise: instead of `rise` where heating or unrest is the only further kind.
        high_rise, high_low_rise, high_s: the high way.
        climb_rise, climb, climb_s: the climbing way: the mean above usual, and how far it has been above the mean of
            4 s all the time for so long, s. So steep is no film in transition: 40 s for a half, own choice.
        settle_s: after a start nothing is learned for so long, s.
        warn_rise, warn_low_rise, warn_s: a warning with a second kind.
        warn_alone_s: instead of `warn_s` where sound says nothing.
        lone_rise, lone_low_rise, lone_unrest: a warning by friction without one: mean and lowest above usual, with less
            unrest than stick-slip makes.
        crept, crept_unrest: a warning by slow rise since the level was learned, with two kinds, or with so much unrest
            from second to second.
        crept_little, crept_wanders: the same by a small rise with much of that unrest; between the two its logarithm in
            proportion. One of 476 healthy simulated recordings (128 h) rose so far beside so much unrest.
        crept_swings: such a rise is so many times what the drag swings within a second.
        warn_again: a slow rise is warned of again at the same load only where it has grown by so much.
        bursts: short rises, and how many of them make a warning.
        once_per_turn: swings at the frequency of the ring, and from when on they make a warning.
        warn_clear_s: a warning clears so long after its last evidence, s.
    """

    mechanics: MechanicsParams = MechanicsParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    sees_motion: bool = True
    others: OtherParams = OtherParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    jump: float = 0.42
    jump_sum_s: float = 0.025
    still_sum_s: float = 0.05
    steep: float = 0.25
    steep_sum_s: float = 0.014
    steep_high: float = 0.75
    jump_in_motion: float = 0.35
    weight_times: float = 2.5
    weights_least: int = 2
    no_weight: NoWeightParams = NoWeightParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    far_above: FarAboveParams = FarAboveParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    loud_and_hot: LoudAndHotParams = LoudAndHotParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    beyond_s: float = 0.1
    beyond_unseen_s: float = 1.0
    borne_out_s: float = 1.0
    rise: float = 0.30
    weak_rise: float = 0.45
    kept_rise: float = 0.5
    low_rise: float = 0.18
    rise_s: float = 0.3
    high_rise: float = 0.69
    high_low_rise: float = 0.5
    high_s: float = 0.3
    climb_rise: float = 0.42
    climb: float = 0.12
    climb_s: float = 3.0
    settle_s: float = 1.5
    warn_rise: float = 0.2
    warn_low_rise: float = 0.1
    warn_s: float = 0.5
    warn_alone_s: float = 1.5
    lone_rise: float = 0.4
    lone_low_rise: float = 0.2
    lone_unrest: float = 4.0
    crept: float = 0.25
    crept_unrest: float = 1.6
    crept_little: float = 0.06
    crept_wanders: float = 3.0
    crept_swings: float = 2.0
    warn_again: float = 0.1
    bursts: BurstParams = BurstParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    once_per_turn: OncePerTurnParams = OncePerTurnParams()  # noqa: RUF009 - frozen, and holds nothing that is not
    warn_clear_s: float = 10.0
