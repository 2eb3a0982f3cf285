"""Charge within time steps, by class of length: what gaps hold if current runs through, and what surely flows."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray

_FLOWS_FROM: Final = 0.01
"""Rest is wrong where it would delete more than this share of the charge. Common practice, no source."""

_AGREES_WITHIN: Final = 0.05
"""A logger skips rows while nothing changes: between its far rows the charge is sure to this share. Common practice, no
source."""


@dataclass(frozen=True, slots=True)
class GapCharge:
    """What flows within gaps and beside them, in the unit of the current times seconds.

    Args:
        positive: Within gaps with positive current, if values run straight through.
        negative: Likewise with negative current, as a magnitude.
        sure: What flows in gaps at the smaller of the currents on both sides, where they have one direction.
        spread: Half the difference of both sides times the length, summed over the gaps.
        positive_beside: In all other steps with positive current.
        negative_beside: Likewise with negative current, as a magnitude.
        flowing: Gaps with current of one direction on both sides.
        smallest: Smallest magnitude of the current beside such a gap; 0 where there is none.
        largest: Largest magnitude likewise, the smaller of the two sides.
    """

    positive: float
    negative: float
    sure: float
    spread: float
    positive_beside: float
    negative_beside: float
    flowing: int
    smallest: float
    largest: float

    @property
    def whole(self) -> float:
        """All charge in both directions, gaps included."""
        return self.positive + self.negative + self.positive_beside + self.negative_beside

    @property
    def fraction(self) -> float:
        """Share of the charge that lies in gaps, 0..1; 0 where nothing flows."""
        return (self.positive + self.negative) / self.whole if self.whole > 0.0 else 0.0

    @property
    def is_sure(self) -> bool:
        """True where how current runs within the gaps matters to less than a hundredth of the charge."""
        return self.spread <= _FLOWS_FROM * self.whole

    @property
    def is_flowing(self) -> bool:
        """True where rest in the gaps would delete charge that surely flows."""
        return bool(np.isfinite(self.whole)) and self.sure > _FLOWS_FROM * self.whole

    @property
    def is_agreed(self) -> bool:
        """True where both sides of the gaps agree, as where a logger writes seldom while nothing changes."""
        return bool(np.isfinite(self.whole)) and self.spread <= _AGREES_WITHIN * (self.positive + self.negative)


class StepCharge:
    """Sums of charge by class of step length; fixed memory.

    Args:
        classes: How many classes of length there are.
    """

    def __init__(self, classes: int) -> None:
        self._positive, self._negative, self._sure, self._spread = np.zeros((4, classes))
        self._flowing = np.zeros(classes, dtype=np.int64)
        self._smallest, self._largest = np.full(classes, np.inf), np.zeros(classes)

    def add(self, which: IntArray, steps_s: FloatArray, before: FloatArray, after: FloatArray) -> None:
        """Add some steps.

        Args:
            which: Class of each step.
            steps_s: Their lengths [s].
            before: Current at the beginning of each, NaN where unknown.
            after: Current at the end of each, NaN where unknown.
        """
        is_one_class = bool(which.min() == which.max())  # as an even logger has
        with np.errstate(over="ignore", invalid="ignore"):
            half_s = 0.5 * steps_s
            first, last = before * half_s, after * half_s
            charge = first + last
            if not np.isfinite(charge.sum()):
                known = np.isfinite(charge)
                first, last, charge = (np.where(known, part, 0.0) for part in (first, last, charge))
            spread = np.subtract(last, first, out=last)
            np.abs(spread, out=spread)
            # With one direction on both sides |sum| - |difference| is twice the smaller half; otherwise not above 0.
            sure = np.subtract(np.abs(charge), spread, out=first)
            np.maximum(sure, 0.0, out=sure)
            self._sum_up(which, charge, sure, spread, is_one_class=is_one_class)
            levels = sure / steps_s
        flowing = sure > 0.0
        if is_one_class:
            at = int(which[0])
            self._flowing[at] += np.count_nonzero(flowing)
            self._smallest[at] = np.min(levels, where=flowing, initial=self._smallest[at])
            self._largest[at] = max(self._largest[at], float(levels.max()))
        else:
            flows = np.flatnonzero(flowing)
            self._flowing += np.bincount(which[flows], minlength=self._flowing.size)
            np.minimum.at(self._smallest, which[flows], levels[flows])
            np.maximum.at(self._largest, which[flows], levels[flows])

    def _sum_up(
        self, which: IntArray, charge: FloatArray, sure: FloatArray, spread: FloatArray, *, is_one_class: bool
    ) -> None:
        parts = ((self._positive, np.maximum(charge, 0.0)), (self._sure, sure), (self._spread, spread))
        if is_one_class:
            at = int(which[0])
            for sums, values in parts:
                sums[at] += float(values.sum())
            self._negative[at] += float(parts[0][1].sum() - charge.sum())
            return
        for sums, values in (*parts, (self._negative, np.maximum(-charge, 0.0))):
            np.add(sums, np.bincount(which, weights=values, minlength=sums.size), out=sums)

    def beyond(self, first: int, last: int | None = None) -> GapCharge:
        """What flows in steps of some classes and in all others.

        Args:
            first: First class of those steps.
            last: The class behind their last; None where they have no end.
        """
        gaps = slice(first, last)
        positive, negative = float(self._positive[gaps].sum()), float(self._negative[gaps].sum())
        flowing = int(self._flowing[gaps].sum())
        return GapCharge(
            positive=positive,
            negative=negative,
            sure=float(self._sure[gaps].sum()),
            spread=float(self._spread[gaps].sum()),
            positive_beside=float(self._positive.sum() - positive),
            negative_beside=float(self._negative.sum() - negative),
            flowing=flowing,
            smallest=float(self._smallest[gaps].min()) if flowing else 0.0,
            largest=float(self._largest[gaps].max()) if flowing else 0.0,
        )
