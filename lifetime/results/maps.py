"""Two tables of a year's load: cycles by depth and mean state of charge, time by state of charge and temperature."""

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import (
    DAYS_PER_YEAR,
    MONTHS_PER_YEAR,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    ZERO_CELSIUS_K,
)
from lifetime.packs.climate import hours_by_month, is_hourly
from lifetime.results.records import SourceResult
from lifetime.results.view import Numbers, Table, View, rounded

SOC_STEP = 0.05
TEMPERATURE_STEP_K = 2.5
DEPTH_EDGES = np.concatenate([[0.0], np.logspace(-4.0, 0.0, 17)])
"""Four classes a decade of depth, from a ten-thousandth to the whole; the first class holds what is smaller still."""
_MOST_BINS = 400
_SLICES = 24
"""Parts of a month that is known by the hour, coldest to hottest."""
_DIGITS = 6


class CycleMap(View):
    """Cycles of a year at the beginning of life: rows by depth, columns by mean state of charge."""

    depth_of_discharge_edges: Numbers
    mean_soc_edges: Numbers
    cycles_per_year: Table
    equivalent_full_cycles_per_year: Table


class TimeMap(View):
    """Hours of a year at the beginning of life: rows by temperature of the hottest cell, columns by state of charge."""

    temperature_C_edges: Numbers
    soc_edges: Numbers
    hours_per_year: Table


def cycle_map(result: SourceResult) -> CycleMap:
    """Bin the cycles of a year by depth and mean state of charge, for the new source.

    Args:
        result: The assessed source.

    Returns:
        Edges, and rows of depth by columns of mean state: cycles per year, and equivalent full cycles per year.
    """
    cycles, source, runs_per_year = result.cycles, result.source, result.runs_per_year
    depth = cycles.range_As / source.capacity_As
    mean_soc = source.start_soc - cycles.mean_As / source.capacity_As
    per_year = cycles.count * runs_per_year
    soc_edges = _edges(mean_soc, SOC_STEP, 0.0, 1.0)
    depth_edges = DEPTH_EDGES.copy()
    if depth.size:
        depth_edges[-1] = max(1.0, float(depth.max()) * (1.0 + 1e-9))
    grid = (depth_edges, soc_edges)
    counted, _, _ = np.histogram2d(depth, mean_soc, bins=grid, weights=per_year)
    moved, _, _ = np.histogram2d(depth, mean_soc, bins=grid, weights=per_year * depth)
    return CycleMap(
        depth_of_discharge_edges=rounded(depth_edges, _DIGITS),
        mean_soc_edges=rounded(soc_edges, _DIGITS),
        cycles_per_year=tuple(rounded(row, _DIGITS) for row in counted),
        equivalent_full_cycles_per_year=tuple(rounded(row, _DIGITS) for row in moved),
    )


def time_map(result: SourceResult, ambient_K: FloatArray) -> TimeMap:
    """Bin the hours of a year by state of charge and temperature of the hottest cell, for the new source.

    Args:
        result: The assessed source.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,). On
            days without work the source rests at it.

    Returns:
        Edges, and rows of temperature by columns of state of charge: hours per year. The hours sum to a year.
    """
    bins, source, runs_per_year = result.bins, result.source, result.runs_per_year
    worked_h = bins.time_s * (runs_per_year / SECONDS_PER_HOUR / MONTHS_PER_YEAR)
    rested_s = max(DAYS_PER_YEAR * SECONDS_PER_DAY - runs_per_year * float(bins.time_s.sum()), 0.0)
    rested_h = rested_s / SECONDS_PER_HOUR / MONTHS_PER_YEAR
    soc = np.append(bins.soc - bins.charge_As / source.capacity_As, _rest_soc(result))
    warm = result.resistance_factors.reshape(-1, 1) * (bins.rise_K + result.morning_rise_K * bins.decay)
    around_K = _slices_K(source.around_K(ambient_K))
    slices = around_K.shape[0] // MONTHS_PER_YEAR
    warm = np.repeat(warm, slices, axis=0)
    temperature_K = np.concatenate([bins.ambient_share * around_K + bins.fixed_K + warm, around_K], axis=1)
    temperature_C = temperature_K - ZERO_CELSIUS_K
    soc_edges = _edges(soc, SOC_STEP, 0.0, 1.0)
    temperature_edges = _edges(temperature_C, TEMPERATURE_STEP_K)
    hours, _, _ = np.histogram2d(
        temperature_C.ravel(),
        np.tile(soc, around_K.size),
        bins=(temperature_edges, soc_edges),
        weights=np.tile(np.append(worked_h, rested_h) / slices, around_K.size),
    )
    return TimeMap(
        temperature_C_edges=rounded(temperature_edges, _DIGITS),
        soc_edges=rounded(soc_edges, _DIGITS),
        hours_per_year=tuple(rounded(row, _DIGITS) for row in hours),
    )


def _slices_K(ambient_K: FloatArray) -> FloatArray:
    """Ambient temperature of every month in equal parts of its time, a column [K]: one part, or some by the hours."""
    if not is_hourly(ambient_K):
        return ambient_K.reshape(-1, 1)
    parts = [part.mean() for hours in hours_by_month(ambient_K) for part in np.array_split(np.sort(hours), _SLICES)]
    return np.array(parts).reshape(-1, 1)


def _rest_soc(result: SourceResult) -> float:
    """State of charge on a day without work."""
    source = result.source
    if source.rest_soc is not None:
        return source.rest_soc
    return source.start_soc - result.open_charge_Ah * SECONDS_PER_HOUR / source.capacity_As


def _edges(values: FloatArray, step: float, low: float | None = None, high: float | None = None) -> FloatArray:
    """Edges on whole multiples of a step that hold every value and, where given, ``low`` to ``high``.

    Where that would be more bins than a picture can show the step is doubled until it is not.
    """
    slack = 1e-9
    bottom = min([*([] if low is None else [low]), *([float(values.min())] if values.size else [])])
    top = max([*([] if high is None else [high]), *([float(values.max())] if values.size else [])])
    while (top - bottom) / step > _MOST_BINS:
        step *= 2.0
    first, last = int(np.floor(bottom / step + slack)), int(np.ceil(top / step - slack))
    edges: FloatArray = step * np.arange(first, max(last, first + 1) + 1, dtype=np.float64)
    # A value a rounding error beyond its edge belongs inside.
    edges[0], edges[-1] = min(edges[0], bottom), max(edges[-1], top)
    return edges
