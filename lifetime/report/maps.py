"""Two pictures of a year's wear as small tables: cycles by depth and mean state, time by state and temperature."""

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import (
    DAYS_PER_YEAR,
    MONTHS_PER_YEAR,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    ZERO_CELSIUS_K,
)
from lifetime.result import SourceResult
from lifetime.stress.source import Source

SOC_STEP = 0.05
TEMPERATURE_STEP_K = 2.5
DEPTH_EDGES = np.concatenate([[0.0], np.logspace(-4.0, 0.0, 17)])
"""Four classes a decade of depth, from a ten-thousandth to the whole; the first class holds what is smaller still."""
_MOST_BINS = 400
_DIGITS = 6
_JOULES_PER_KWH = 3.6e6


def cycle_map(result: SourceResult, source: Source, runs_per_year: float) -> dict[str, object]:
    """Bin the cycles of a year by depth and mean state of charge, for the new source.

    Args:
        result: The assessed source.
        source: The same source as the trace saw it.
        runs_per_year: How often a year holds what the bins hold [1/year].

    Returns:
        Edges, and rows of depth by columns of mean state: cycles per year, and equivalent full cycles per year.
    """
    cycles = result.cycles
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
    return {
        "depth_edges": _plain(depth_edges),
        "mean_soc_edges": _plain(soc_edges),
        "cycles_per_year": [_plain(row) for row in counted],
        "equivalent_full_cycles_per_year": [_plain(row) for row in moved],
    }


def time_map(
    result: SourceResult,
    source: Source,
    ambient_K: FloatArray,
    runs_per_year: float,
    service_years: float,
) -> dict[str, object]:
    """Bin the hours of a year by state of charge and temperature of the hottest cell, for the new source.

    Args:
        result: The assessed source.
        source: The same source as the trace saw it.
        ambient_K: Monthly mean ambient temperature [K], shape (12,).
        runs_per_year: How often a year holds what the bins hold [1/year]; for what is left the source rests at ambient.
        service_years: Service time [years].

    Returns:
        Edges, and rows of temperature by columns of state of charge: hours per year. The hours sum to a year.
    """
    bins = result.bins
    worked_h = bins.time_s * (runs_per_year / SECONDS_PER_HOUR / MONTHS_PER_YEAR)
    rested_s = max(DAYS_PER_YEAR * SECONDS_PER_DAY - runs_per_year * float(bins.time_s.sum()), 0.0)
    rested_h = rested_s / SECONDS_PER_HOUR / MONTHS_PER_YEAR
    soc = np.append(bins.soc - bins.charge_As / source.capacity_As, _rest_soc(result, source))
    morning_K = morning_rise_K(result, source, runs_per_year, service_years)
    warm = bins.rise_K + morning_K * bins.decay
    ambient = ambient_K.reshape(-1, 1)
    temperature_K = np.concatenate([bins.ambient_share * ambient + bins.fixed_K + warm, ambient], axis=1)
    temperature_C = temperature_K - ZERO_CELSIUS_K
    soc_edges = _edges(soc, SOC_STEP, 0.0, 1.0)
    temperature_edges = _edges(temperature_C, TEMPERATURE_STEP_K)
    hours, _, _ = np.histogram2d(
        temperature_C.ravel(),
        np.tile(soc, MONTHS_PER_YEAR),
        bins=(temperature_edges, soc_edges),
        weights=np.tile(np.append(worked_h, rested_h), MONTHS_PER_YEAR),
    )
    return {
        "temperature_C_edges": _plain(temperature_edges),
        "soc_edges": _plain(soc_edges),
        "hours_per_year": [_plain(row) for row in hours],
    }


def morning_rise_K(result: SourceResult, source: Source, runs_per_year: float, service_years: float) -> float:
    """Temperature rise left from the day before when the new source's repeated day begins [K].

    By the heat balance of a day that repeats: what the pack gives off, its mean rise over the thermal resistance, is
    what its resistance turns into heat. The bins hold the rise from a cold start and the share of a starting rise
    still left; their means over the day leave one unknown.

    Args:
        result: The assessed source.
        source: The same source as the trace saw it.
        runs_per_year: How often a year holds what the bins hold [1/year].
        service_years: Service time over which ``heat_kWh_per_year`` is a mean [years].
    """
    bins = result.bins
    length_s = float(bins.time_s.sum())
    is_day = abs(length_s - SECONDS_PER_DAY) < 1.0  # a log of everything begins cold and does not repeat
    if source.thermal is None or runs_per_year <= 0.0 or not is_day or not bins.decay.any():
        return 0.0
    served = result.course.years <= service_years * (1.0 + 1e-9)
    mean_resistance_ratio = float(np.mean(result.course.resistance_ratio[served]))
    heat_J = result.heat_kWh_per_year * _JOULES_PER_KWH / mean_resistance_ratio / runs_per_year
    mean_rise_K = source.thermal.resistance_K_per_W * heat_J / SECONDS_PER_DAY
    weights = bins.time_s / SECONDS_PER_DAY
    from_cold_K, left = float(weights @ bins.rise_K), float(weights @ bins.decay)
    return max(0.0, (mean_rise_K - from_cold_K) / left)


def _rest_soc(result: SourceResult, source: Source) -> float:
    """State of charge on a day without work."""
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


def _plain(values: FloatArray) -> list[float]:
    """Numbers for JSON, with as many digits as a picture can use."""
    return [float(f"{value:.{_DIGITS}g}") for value in values.tolist()]
