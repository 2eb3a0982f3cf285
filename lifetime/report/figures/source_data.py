"""What the pictures of one source show, taken from the result document."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from lifetime.checks import FloatArray, as_floats
from lifetime.results.document import ResultDocument
from lifetime.results.view import SourceKind

_STATE: Mapping[SourceKind, str] = {
    "battery": "State of charge [%]",
    "ultracapacitor": "Voltage over rated voltage [%]",
}
_CYCLE_STATE: Mapping[SourceKind, str] = {
    "battery": "Mean state of charge [%]",
    "ultracapacitor": "Mean voltage over rated voltage [%]",
}
_DEPTH: Mapping[SourceKind, str] = {
    "battery": "Depth of discharge [%]",
    "ultracapacitor": "Voltage swing over rated voltage [%]",
}
_BEYOND = 1.15
"""The years drawn reach this much beyond the later of life and service end."""


@dataclass(frozen=True, slots=True)
class HealthFigure:
    """Health over the years, cut to what matters.

    Args:
        capacity_name: ``Capacity`` or ``Capacitance``.
        resistance_name: ``Resistance`` or ``ESR``.
        years: Service time [years], shape (n,).
        capacity_percent: Capacity over initial [%], shape (n,).
        calendar_percent: Capacity lost to calendar ageing [%], shape (n,).
        cyclic_percent: Capacity lost to cyclic ageing [%], shape (n,).
        resistance_percent: Resistance over initial [%], shape (n,); None where the law predicts none.
        capacity_limit_percent: Limit that ends life [%].
        resistance_limit_percent: The same for resistance.
        life_years: When life ends [years], or None.
        service_years: Service life [years].
    """

    capacity_name: str
    resistance_name: str
    years: FloatArray
    capacity_percent: FloatArray
    calendar_percent: FloatArray
    cyclic_percent: FloatArray
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
        y_name: Axis title with unit.
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


def health_figure(document: ResultDocument, position: int, part: SourceKind) -> HealthFigure | None:
    """Prepare one source's health over the years.

    Args:
        document: The result document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.

    Returns:
        Its health, or None where there is no such source or it never gets through a month.
    """
    source = document.strategies[position].sources.get(part)
    if source is None or len(source.trajectory.years) < 2:
        return None
    health = source.trajectory
    years = as_floats(health.years, "years")
    service, life = document.study.service_years, source.life_years
    keep = years <= max(_BEYOND * max(service, life or service), years[1])
    limits = document.study.end_of_life.battery if part == "battery" else document.study.end_of_life.ultracapacitor
    has_resistance = any(one.criterion in {"resistance", "esr"} for one in source.criteria)
    resistance = 100.0 * as_floats(health.resistance_ratio, "resistance")[keep]
    return HealthFigure(
        capacity_name="Capacity" if part == "battery" else "Capacitance",
        resistance_name="Resistance" if part == "battery" else "ESR",
        years=years[keep],
        capacity_percent=100.0 * as_floats(health.capacity_fraction, "capacity")[keep],
        calendar_percent=100.0 * as_floats(health.calendar_loss_fraction, "calendar loss")[keep],
        cyclic_percent=100.0 * as_floats(health.cyclic_loss_fraction, "cyclic loss")[keep],
        resistance_percent=resistance if has_resistance else None,
        capacity_limit_percent=100.0 * limits.capacity_fraction,
        resistance_limit_percent=100.0 * limits.resistance_ratio,
        life_years=life,
        service_years=service,
    )


def cycle_figure(document: ResultDocument, position: int, part: SourceKind) -> MapFigure | None:
    """Prepare the map of cycles by depth of discharge (voltage swing) and mean state of charge.

    Args:
        document: The result document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.

    Returns:
        The map, or None where there is no such source or no cycle.
    """
    source = document.strategies[position].sources.get(part)
    if source is None:
        return None
    table = source.cycle_map
    depth = 100.0 * as_floats(table.depth_of_discharge_edges, "depth of discharge")
    # The first class reaches down to nothing, which a logarithmic axis cannot show: it gets the width of the others.
    depth[0] = depth[1] ** 2 / depth[2]
    figure = MapFigure(
        x_name=_CYCLE_STATE[part],
        y_name=_DEPTH[part],
        value_name="Cycles per year",
        x_edges=100.0 * as_floats(table.mean_soc_edges, "mean state of charge"),
        y_edges=depth,
        values=as_floats(table.cycles_per_year, "cycles per year"),
        second_name="Equivalent full cycles per year",
        second=as_floats(table.equivalent_full_cycles_per_year, "equivalent full cycles"),
        log_y=True,
    )
    return _cropped(figure)


def time_figure(document: ResultDocument, position: int, part: SourceKind) -> MapFigure | None:
    """Prepare the map of time by state of charge and temperature.

    Args:
        document: The result document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.

    Returns:
        The map, or None where there is no such source.
    """
    source = document.strategies[position].sources.get(part)
    if source is None:
        return None
    table = source.time_map
    hours = as_floats(table.hours_per_year, "hours per year")
    figure = MapFigure(
        x_name=_STATE[part],
        y_name="Temperature of the hottest cell [°C]",
        value_name="Hours per year",
        x_edges=100.0 * as_floats(table.soc_edges, "state of charge"),
        y_edges=as_floats(table.temperature_C_edges, "temperature"),
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
    return replace(
        figure,
        y_edges=figure.y_edges[first : last + 1],
        values=figure.values[first:last],
        second=figure.second[first:last],
    )
