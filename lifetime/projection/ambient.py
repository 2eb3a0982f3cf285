"""The surroundings of a source over the year as a few temperatures a month, with their weights.

A month that is known by its mean is one temperature. A month that is known by the hour is three: the nodes of the Gauss
quadrature whose weight is the distribution of its hours, exact for polynomials of the fifth degree in temperature. An
ageing model is nearly one over a month's spread, so three do the work of 730 hours.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import HOURS_PER_DAY, MONTHS_PER_YEAR, SECONDS_PER_HOUR
from lifetime.packs.climate import hours_by_month, is_hourly
from lifetime.stress.scan import affine_scan
from lifetime.stress.source import Source

NODES: Final = 3
"""Temperatures a month, where it is known by the hour."""
_NO_SPREAD: Final = 1e-12
"""Variance left over that of the month below which further nodes have no weight."""


@dataclass(frozen=True, slots=True, eq=False)
class Ambient:
    """Temperatures around a source, month by month, each month's side by side, shape (n,) with n = 12 or 36.

    Args:
        driving_K: While the vehicle is driven [K].
        standing_K: During the rest of a working day [K].
        all_day_K: On a day without work [K].
        driving_weight: Share of the month that each temperature has while driving [0..1]; a month's sum to 1.
        standing_weight: The same during the rest of a working day.
        all_day_weight: The same on a day without work.
    """

    driving_K: FloatArray
    standing_K: FloatArray
    all_day_K: FloatArray
    driving_weight: FloatArray
    standing_weight: FloatArray
    all_day_weight: FloatArray

    @classmethod
    def around(
        cls, source: Source, ambient_K: FloatArray, *, starts_at_hour: float | None = None, driven_s: float = 0.0
    ) -> "Ambient":
        """The surroundings of a source.

        The cells follow the air with their time constant, so hourly temperatures are lagged by it first. Where it is
        known when the vehicle is driven, these hours and those in which it stands are told apart.

        Args:
            source: The source.
            ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
            starts_at_hour: Hour of the day at which the drive begins [0..24), or None where it is not known.
            driven_s: Length of the drive [s], up to a day.
        """
        ambient_K = source.around_K(ambient_K)
        if not is_hourly(ambient_K):
            one = np.ones(ambient_K.size)
            return cls(ambient_K, ambient_K, ambient_K, one, one, one)
        felt_K = ambient_K if source.thermal is None else _lagged(ambient_K, source.thermal.time_constant_s)
        all_day = _nodes(felt_K, np.ones(HOURS_PER_DAY))
        if starts_at_hour is None or not 0.0 < driven_s < HOURS_PER_DAY * SECONDS_PER_HOUR:
            return cls(all_day[0], all_day[0], all_day[0], all_day[1], all_day[1], all_day[1])
        driven = _share_of_hours(starts_at_hour, driven_s / SECONDS_PER_HOUR)
        driving, standing = _nodes(felt_K, driven), _nodes(felt_K, 1.0 - driven)
        return cls(driving[0], standing[0], all_day[0], driving[1], standing[1], all_day[1])

    @property
    def is_hourly(self) -> bool:
        """Whether a month is more than its mean."""
        return self.all_day_K.size > MONTHS_PER_YEAR

    def by_month(self, values: FloatArray) -> FloatArray:
        """Sum of what each temperature of a month contributes, shape (12, ...).

        Args:
            values: Contributions, already weighted, shape (n, ...).
        """
        return np.asarray(values.reshape(MONTHS_PER_YEAR, -1, *values.shape[1:]).sum(axis=1))


def _lagged(hourly_K: FloatArray, time_constant_s: float) -> FloatArray:
    """What follows an hourly temperature with a time constant, at the end of each hour, year after year the same."""
    kept = float(np.exp(-SECONDS_PER_HOUR / time_constant_s))
    gain, added = np.full(hourly_K.size, kept), (1.0 - kept) * hourly_K
    left = kept**hourly_K.size
    start = float(affine_scan(gain, added, 0.0)[-1]) / (1.0 - left) if left < 1.0 else float(hourly_K.mean())
    return affine_scan(gain, added, start)


def _share_of_hours(start_h: float, length_h: float) -> FloatArray:
    """Share of each hour of the day that lies within a stretch that may pass midnight [0..1], shape (24,)."""
    hour = np.arange(2.0 * HOURS_PER_DAY)
    within = np.clip(np.minimum(hour + 1.0, start_h + length_h) - np.maximum(hour, start_h), 0.0, 1.0)
    return np.asarray(within[:HOURS_PER_DAY] + within[HOURS_PER_DAY:])


def _nodes(hourly_K: FloatArray, share_of_hour: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nodes [K] and weights of every month, side by side, shape (36,) each."""
    pairs = [
        gauss_nodes(hours, np.tile(share_of_hour, hours.size // HOURS_PER_DAY)) for hours in hours_by_month(hourly_K)
    ]
    return np.concatenate([nodes for nodes, _ in pairs]), np.concatenate([weights for _, weights in pairs])


def gauss_nodes(values: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights of the Gauss quadrature of weighted values; all nodes are within the values' range.

    Args:
        values: The values, shape (n,).
        weight: Weight of each [any unit], shape (n,), >= 0, not all 0.

    Returns:
        Nodes and their weights, which sum to 1, shape (3,) each.

    Source:
        Stieltjes' recurrence and the eigenvalues of Jacobi's matrix: Golub & Welsch, Math. Comp. 23 (1969) 221-230.
    """
    weight = weight / weight.sum()
    mean = float(weight @ values)
    spread = float(np.sqrt(weight @ (values - mean) ** 2))
    if spread <= _NO_SPREAD * max(abs(mean), 1.0):
        return np.full(NODES, mean), np.array([1.0, *[0.0] * (NODES - 1)])
    x = (values - mean) / spread
    before, now, norm = np.zeros(x.size), np.ones(x.size), 1.0
    diagonal, beside = np.zeros(NODES), np.zeros(NODES - 1)
    for place in range(NODES):
        diagonal[place] = weight @ (x * now * now) / norm
        if place == NODES - 1:
            break
        squared = 0.0 if place == 0 else beside[place - 1] ** 2
        before, now = now, (x - diagonal[place]) * now - squared * before
        larger = float(weight @ (now * now))
        if larger <= _NO_SPREAD:  # as few different values as nodes so far
            break
        beside[place] = np.sqrt(larger / norm)
        norm = larger
    nodes, vectors = np.linalg.eigh(np.diag(diagonal) + np.diag(beside, 1) + np.diag(beside, -1))
    return mean + spread * nodes, vectors[0] ** 2
