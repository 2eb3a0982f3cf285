"""A strategy's day in a few hundred stretches: powers and wear, as plain data for pictures and tables."""

from dataclasses import asdict
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.results.records import DaySplit, AgeingTimeline

_STRETCHES: Final = 160
_DIGITS: Final = 5


def day_course(day: DaySplit) -> dict[str, Any]:
    """Sum a day up in stretches of equal length, and its modes in rows.

    Where the day repeats one drive, the first one's powers are shown and the wear of all of them is summed upon it.
    Lowest and highest power of each stretch are kept, so that no peak is lost.

    Args:
        day: The day second by second.
    """
    n = day.length_s.size // day.passes
    length = day.length_s[:n]
    ends = np.cumsum(length)
    edges = np.linspace(0.0, float(ends[-1]), min(_STRETCHES, n) + 1)
    starts = np.minimum(np.searchsorted(ends - 0.5 * length, edges[:-1]), n - 1)
    return {
        "passes": day.passes,
        "edges_s": _plain(edges),
        "demand_W": _span(day.demand_W[:n], starts),
        "battery_W": _span(day.battery_W[:n], starts),
        "bank_W": _span(day.bank_W[:n], starts),
        "battery_wear": _wear(day.battery, starts, day.passes),
        "ultracapacitor_wear": None if day.ultracapacitor is None else _wear(day.ultracapacitor, starts, day.passes),
        "modes": [asdict(row) for row in day.rows],
        "mode_changes": day.mode_changes,
        "transfer_kWh": float(f"{day.transfer_kWh:.{_DIGITS}g}"),
    }


def _wear(wear: AgeingTimeline, starts: np.ndarray[Any, Any], passes: int) -> dict[str, Any]:
    return {
        "calendar_fraction": _plain(_summed(wear.calendar_fraction, starts, passes)),
        "cycle_fraction": _plain(_summed(wear.cycle_fraction, starts, passes)),
        "charging_fraction": wear.charging_fraction,
        "resting_fraction": wear.resting_fraction,
        "total_fraction": wear.total_fraction,
    }


def _summed(values: FloatArray, starts: np.ndarray[Any, Any], passes: int) -> FloatArray:
    folded = values.reshape(passes, -1).sum(axis=0)
    sums = np.concatenate([[0.0], np.cumsum(folded)])
    return np.asarray(np.diff(sums[np.append(starts, folded.size)]))


def _span(values: FloatArray, starts: np.ndarray[Any, Any]) -> dict[str, list[float]]:
    return {
        "low": _plain(np.minimum.reduceat(values, starts)),
        "high": _plain(np.maximum.reduceat(values, starts)),
    }


def _plain(values: FloatArray) -> list[float]:
    return [float(f"{value:.{_DIGITS}g}") for value in values.tolist()]
