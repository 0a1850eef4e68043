"""How far the zero of a transducer may be off, from its range.

Reads ranges, gives numbers.
"""


def zero_off(valid: tuple[float, float] | None, share: float, no_range: float) -> float:
    """Give a share of the larger end of a range, in its unit.

    Args:
        valid: lowest and highest valid value; None where they are not known, which says nothing of the zero: 0.
        share: of the larger end.
        no_range: so large an end is written where there is none: 0.
    """
    full = max(map(abs, valid)) if valid is not None else 0.0
    return share * full if full < no_range else 0.0
