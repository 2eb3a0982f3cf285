"""What the pictures of one source show, taken from the result document and the detail document."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from lifetime.checks import FloatArray, as_floats

_STATE = {"battery": "State of charge [%]", "ultracapacitor": "Voltage over rated voltage [%]"}
_CYCLE_STATE = {"battery": "Mean state of charge [%]", "ultracapacitor": "Mean voltage over rated voltage [%]"}
_BEYOND = 1.15
"""The years drawn reach this much beyond the later of life and service end."""


@dataclass(frozen=True, slots=True)
class CourseFigure:
    """Health over the years, cut to what matters.

    Args:
        capacity_name: ``Capacity`` or ``Capacitance``.
        resistance_name: ``Resistance`` or ``ESR``.
        years: Service time [years], shape (n,).
        capacity_percent: Capacity over initial [%], shape (n,).
        calendar_percent: Capacity lost to calendar ageing [%], shape (n,).
        cycle_percent: Capacity lost to cycle ageing [%], shape (n,).
        resistance_percent: Resistance over initial [%], shape (n,); None where the law predicts none.
        capacity_limit_percent: Limit that ends life [%].
        resistance_limit_percent: Likewise.
        life_years: When life ends [years], or None.
        service_years: Service life [years].
    """

    capacity_name: str
    resistance_name: str
    years: FloatArray
    capacity_percent: FloatArray
    calendar_percent: FloatArray
    cycle_percent: FloatArray
    resistance_percent: FloatArray | None
    capacity_limit_percent: float
    resistance_limit_percent: float
    life_years: float | None
    service_years: float


@dataclass(frozen=True, slots=True)
class MapFigure:
    """A table drawn as a map.

    Args:
        x_name: Axis title with unit.
        y_name: Likewise.
        value_name: What the colours mean, with unit.
        x_edges: Edges of the columns, shape (m + 1,).
        y_edges: Edges of the rows, shape (n + 1,).
        values: Shape (n, m); 0 where there is nothing.
        second_name: A second quantity to read off a cell, or empty.
        second: Its values, shape (n, m).
        log_y: Whether the rows stand on a logarithmic axis.
    """

    x_name: str
    y_name: str
    value_name: str
    x_edges: FloatArray
    y_edges: FloatArray
    values: FloatArray
    second_name: str
    second: FloatArray
    log_y: bool


def course_figure(
    document: Mapping[str, Any], detail: Mapping[str, Any], position: int, part: str
) -> CourseFigure | None:
    """Prepare the course of one source's health.

    Args:
        document: The result document.
        detail: The detail document of the same assessment.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.

    Returns:
        The course, or None where there is no such source or it never gets through a month.
    """
    result, shown = document["strategies"][position][part], detail["strategies"][position][part]
    if result is None or shown is None or len(shown["course"]["years"]) < 2:
        return None
    course = {name: as_floats(values, name) for name, values in shown["course"].items()}
    service, life = float(document["study"]["service_years"]), result["life_years"]
    last = _BEYOND * max(service, life or service)
    keep = course["years"] <= max(last, course["years"][1])
    limits = detail["limits"][part]
    battery = part == "battery"
    has_resistance = any(one["limit"] in {"resistance", "esr"} for one in result["limits"])
    return CourseFigure(
        capacity_name="Capacity" if battery else "Capacitance",
        resistance_name="Resistance" if battery else "ESR",
        years=course["years"][keep],
        capacity_percent=100.0 * course["capacity_fraction"][keep],
        calendar_percent=100.0 * course["calendar_loss_fraction"][keep],
        cycle_percent=100.0 * course["cyclic_loss_fraction"][keep],
        resistance_percent=100.0 * course["resistance_ratio"][keep] if has_resistance else None,
        capacity_limit_percent=100.0 * limits["capacity_fraction"],
        resistance_limit_percent=100.0 * limits["resistance_ratio"],
        life_years=life,
        service_years=service,
    )


def cycle_figure(detail: Mapping[str, Any], position: int, part: str) -> MapFigure | None:
    """Prepare the map of cycles by depth and mean state of charge.

    Args:
        detail: The detail document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.

    Returns:
        The map, or None where there is no such source or no cycle.
    """
    shown = detail["strategies"][position][part]
    if shown is None:
        return None
    table = shown["cycle_map"]
    depth = 100.0 * as_floats(table["depth_edges"], "depth")
    # The first class reaches down to nothing, which a logarithmic axis cannot show: it gets the width of the others.
    depth[0] = depth[1] ** 2 / depth[2]
    figure = MapFigure(
        x_name=_CYCLE_STATE[part],
        y_name="Cycle depth [%]",
        value_name="Cycles per year",
        x_edges=100.0 * as_floats(table["mean_soc_edges"], "mean state of charge"),
        y_edges=depth,
        values=as_floats(table["cycles_per_year"], "cycles per year"),
        second_name="Equivalent full cycles per year",
        second=as_floats(table["equivalent_full_cycles_per_year"], "equivalent full cycles"),
        log_y=True,
    )
    return _cropped(figure)


def time_figure(detail: Mapping[str, Any], position: int, part: str) -> MapFigure | None:
    """Prepare the map of time by state of charge and temperature.

    Args:
        detail: The detail document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.

    Returns:
        The map, or None where there is no such source.
    """
    shown = detail["strategies"][position][part]
    if shown is None:
        return None
    table = shown["time_map"]
    hours = as_floats(table["hours_per_year"], "hours per year")
    figure = MapFigure(
        x_name=_STATE[part],
        y_name="Temperature of the hottest cell [°C]",
        value_name="Hours per year",
        x_edges=100.0 * as_floats(table["soc_edges"], "state of charge"),
        y_edges=as_floats(table["temperature_C_edges"], "temperature"),
        values=hours,
        second_name="Share of the year [%]",
        second=100.0 * hours / hours.sum() if hours.sum() > 0.0 else hours,
        log_y=False,
    )
    return _cropped(figure)


def _cropped(figure: MapFigure) -> MapFigure | None:
    """The rows that hold something, with one empty row on each side; all columns."""
    rows = np.flatnonzero(figure.values.sum(axis=1) > 0.0)
    if rows.size == 0:
        return None
    first, last = max(int(rows[0]) - 1, 0), min(int(rows[-1]) + 2, figure.values.shape[0])
    return MapFigure(
        x_name=figure.x_name,
        y_name=figure.y_name,
        value_name=figure.value_name,
        x_edges=figure.x_edges,
        y_edges=figure.y_edges[first : last + 1],
        values=figure.values[first:last],
        second_name=figure.second_name,
        second=figure.second[first:last],
        log_y=figure.log_y,
    )
