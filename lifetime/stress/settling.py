"""When rounds that close in on a path may stop."""

from typing import Final

_SURE: Final = 0.1
"""Ratio of two rounds' changes up to which the next ratio is taken to be no larger."""


def is_settled(change: float, before: float, tolerance: float) -> bool:
    """Whether a fixed-point iteration has come within a tolerance of its end, as far as its changes show.

    Where a round shrinks the change tenfold or more, the ratio of two changes foretells what all later rounds can
    still add, and the last of them need not be run. Where it closes in slowly the change itself must fall so low.

    Args:
        change: Largest change of the latest round, >= 0.
        before: Largest change of the round before; 0 in the first, which foretells nothing.
        tolerance: Largest error allowed, > 0.

    Source:
        A posteriori estimate of the contraction mapping: error = change rate / (1 - rate), rate = change / before.
    """
    return change <= tolerance or (change <= _SURE * before and change * change <= tolerance * (before - change))
