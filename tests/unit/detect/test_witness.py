"""The motor's current as a witness: when it denies what the friction cell says, and when it cannot."""

import math

import pytest

from scuffwatch.detect.mechanics import Drag
from scuffwatch.detect.track import Track
from scuffwatch.detect.witness import Witness

DT_S = 0.01


def view(rise: float, *, is_known: bool = True) -> Track:
    """Give a track that is so far above usual."""
    track = Track()
    track.rise = track.low_rise = rise
    track.is_known = is_known
    return track


def torque(noise: float = 0.02, *, is_above_noise: bool = True, y: float = -2.0) -> Drag:
    """Give the drag as the motor's current shows it."""
    drag = Drag()
    drag.noise, drag.is_above_noise, drag.y = noise, is_above_noise, y
    return drag


def hear(
    seconds: float,
    friction: float,
    current: Track,
    drag: Drag | None = None,
    witness: Witness | None = None,
    *,
    is_out: bool = False,
) -> Witness:
    """Give a witness that has seen this rise of friction, beside this current, for so long."""
    witness = Witness() if witness is None else witness
    for _ in range(round(seconds / DT_S)):
        witness.update(view(friction), current, torque() if drag is None else drag, is_out, DT_S)
    return witness


@pytest.mark.parametrize("share", [0.3, 0.6, 1.0])
@pytest.mark.parametrize("rise", [0.25, 0.5, 2.0])
def test_friction_whose_current_rises_with_it_is_never_denied(rise: float, share: float) -> None:
    witness = hear(5.0, rise, view(share * rise))
    assert (witness.denies, witness.is_fault) == (False, False)


def test_friction_alone_is_denied_after_0_3_s_and_a_fault_after_a_second() -> None:
    # Filters and drives take up to 0.15 s: common practice, no source; 0.3 s and 1 s are this project's own choice.
    witness = Witness()
    said = []
    for _ in range(120):
        hear(DT_S, 0.5, view(0.0), witness=witness)
        said.append((witness.denies, witness.is_fault))
    assert said == [(False, False)] * 29 + [(True, False)] * 70 + [(True, True)] * 21


def test_a_smaller_rise_is_denied_and_no_fault() -> None:
    witness = hear(5.0, 0.44, view(0.0))
    assert (witness.denies, witness.is_fault) == (True, False)
    assert not hear(5.0, 0.24, view(0.0)).denies
    assert not hear(5.0, math.nan, view(0.0)).denies


def test_a_current_that_rises_by_less_than_a_quarter_of_it_denies() -> None:
    assert hear(1.0, 1.0, view(0.24)).denies
    assert not hear(1.0, 1.0, view(0.26)).denies


@pytest.mark.parametrize(
    ("current", "drag"),
    [
        (view(0.0), torque(noise=0.11)),
        (view(0.0), torque(is_above_noise=False)),
        (view(0.0), torque(y=math.nan)),
        (view(0.0, is_known=False), torque()),
        (view(math.nan), torque()),
    ],
)
def test_a_current_that_could_not_show_it_denies_nothing(current: Track, drag: Drag) -> None:
    witness = hear(5.0, 1.0, current, drag)
    assert (witness.denies, witness.is_fault) == (False, False)


def test_a_current_that_follows_late_takes_the_denial_back() -> None:
    witness = hear(2.0, 1.0, view(0.0))
    assert witness.is_fault
    hear(DT_S, 1.0, view(0.9), witness=witness)
    assert (witness.denies, witness.is_fault) == (False, False)


def test_a_rise_that_goes_begins_anew() -> None:
    witness = hear(0.25, 1.0, view(0.0))
    hear(DT_S, 0.1, view(0.0), witness=witness)
    assert not hear(0.25, 1.0, view(0.0), witness=witness).denies
    assert hear(0.1, 1.0, view(0.0), witness=witness).denies


def test_a_cell_beyond_its_range_is_borne_out_for_as_long_as_the_current_stands_up() -> None:
    witness = hear(2.0, math.nan, view(0.5), is_out=True)
    assert witness.borne_out_s == pytest.approx(2.0)
    assert not witness.denies
    assert hear(DT_S, math.nan, view(0.1), witness=witness, is_out=True).borne_out_s == 0.0
    hear(1.0, math.nan, view(0.5), witness=witness, is_out=True)
    assert hear(DT_S, 0.5, view(0.5), witness=witness).borne_out_s == 0.0
