"""The pictures of one source for Plotly, and the sources of several in one picture."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.report.figures import style
from lifetime.report.figures.plotly_base import Json, axis, layout, numbers, text, upright
from lifetime.report.figures.source_data import HealthFigure, MapFigure

_HEIGHT = 360
_DASHES = ("solid", "dash", "dot", "dashdot")


@dataclass(frozen=True, slots=True)
class ComparedHealth:
    """One line of a comparison.

    Args:
        name: What the legend calls it.
        health: The prepared figure.
        colour: Number of its colour, from 0; the same strategy of several assessments has the same.
        dash: Number of its dash, from 0; all strategies of one assessment have the same.
    """

    name: str
    health: HealthFigure
    colour: int
    dash: int


def capacity_plotly(health: HealthFigure) -> Json:
    """Capacity over the years, and the capacity loss by cause.

    Args:
        health: The prepared figure.
    """
    after_calendar = 100.0 - health.calendar_percent
    traces = [
        _area(health, np.full(health.years.size, 100.0), None, "", None),
        _area(health, after_calendar, style.CALENDAR, "calendar ageing", health.calendar_percent),
        _area(health, after_calendar - health.cyclic_percent, style.CYCLIC, "cyclic ageing", health.cyclic_percent),
        _line(health.years, health.capacity_percent, health.capacity_name, style.BLACK),
    ]
    low = min(health.capacity_limit_percent, float(health.capacity_percent.min()))
    return {
        "data": traces,
        "layout": _health_layout(
            health,
            f"{health.capacity_name} over the years, with capacity loss by cause",
            f"{health.capacity_name} [% of initial]",
            health.capacity_limit_percent,
            [low - 0.1 * (100.0 - low), 100.5],
        ),
    }


def resistance_plotly(health: HealthFigure) -> Json | None:
    """Resistance over the years; None where the model predicts none.

    Args:
        health: The prepared figure.
    """
    if health.resistance_percent is None:
        return None
    high = max(health.resistance_limit_percent, float(health.resistance_percent.max()))
    return {
        "data": [_line(health.years, health.resistance_percent, health.resistance_name, style.BLACK)],
        "layout": _health_layout(
            health,
            f"{health.resistance_name} over the years",
            f"{health.resistance_name} [% of initial]",
            health.resistance_limit_percent,
            [99.0, high + 0.08 * (high - 100.0)],
        ),
    }


def map_plotly(figure: MapFigure) -> Json:
    """A map of cycles or of time on a logarithmic colour scale; empty cells stay white.

    Args:
        figure: The prepared map.
    """
    filled = figure.values > 0.0
    logs = np.log10(np.where(filled, figure.values, 1.0))
    shown = [
        [value if there else None for value, there in zip(row, mask, strict=True)]
        for row, mask in zip(numbers(logs), filled.tolist(), strict=True)
    ]
    low, high = float(np.floor(logs[filled].min())), float(np.ceil(logs[filled].max()))
    ticks = list(range(int(low), max(int(high), int(low) + 1) + 1))
    pairs = np.stack([figure.values, figure.second], axis=-1)
    trace = {
        "type": "heatmap",
        "x": numbers(figure.x_edges),
        "y": numbers(figure.y_edges),
        "z": shown,
        "zmin": ticks[0],
        "zmax": ticks[-1],
        "customdata": numbers(pairs),
        "colorscale": style.MAP_COLOURS.capitalize(),
        "reversescale": True,
        "xgap": 1,
        "ygap": 1,
        "hoverongaps": False,
        "hovertemplate": (
            f"{figure.y_name}: %{{y:.3g}}<br>{figure.x_name}: %{{x:.3g}}<br>{figure.value_name}: "
            f"%{{customdata[0]:,.4~g}}<br>{figure.second_name}: %{{customdata[1]:,.4~g}}<extra></extra>"
        ),
        "colorbar": {
            "title": {"text": figure.value_name, "side": "right"},
            "tickvals": ticks,
            "ticktext": [f"{10.0**tick:,g}" for tick in ticks],
            "thickness": 14,
        },
    }
    y_axis = axis(figure.y_name, type="log" if figure.log_y else "linear", showgrid=False)
    if figure.log_y:
        y_axis["range"] = numbers(np.log10(figure.y_edges[[0, -1]]))
        y_axis["tickformat"] = "~g"
        y_axis["dtick"] = 1
    return {
        "data": [trace],
        "layout": layout(
            f"{figure.value_name} by {figure.y_name} and {figure.x_name}",
            height=_HEIGHT,
            xaxis=axis(figure.x_name, range=numbers(figure.x_edges[[0, -1]]), showgrid=False),
            yaxis=y_axis,
        ),
    }


def compared_plotly(sources: Sequence[ComparedHealth], quantity: str) -> Json:
    """One quantity of several sources over the years.

    Args:
        sources: The sources.
        quantity: ``capacity`` or ``resistance``.
    """
    traces, title = [], ""
    for one in sources:
        capacity = quantity == "capacity"
        values = one.health.capacity_percent if capacity else one.health.resistance_percent
        title = one.health.capacity_name if capacity else one.health.resistance_name
        if values is None:
            continue
        line = _line(one.health.years, values, one.name, style.SERIES[one.colour % len(style.SERIES)])
        line["line"]["dash"] = _DASHES[one.dash % len(_DASHES)]
        line["showlegend"] = True
        traces.append(line)
    room = 20 * len(traces)
    return {
        "data": traces,
        "layout": layout(
            f"{title} over the years, compared",
            height=_HEIGHT + room,
            hovermode="x unified",
            margin={"l": 60, "r": 20, "t": 30, "b": 80 + room},
            legend={"orientation": "v", "yref": "container", "y": 0, "yanchor": "bottom", "x": 0},
            xaxis=axis("Service [years]", rangemode="tozero"),
            yaxis=axis(f"{title} [% of initial]"),
        ),
    }


def _area(health: HealthFigure, lower: FloatArray, colour: str | None, name: str, lost: FloatArray | None) -> Json:
    """The area between this line and the one before it; the first only carries the next one's upper edge."""
    area: Json = {
        "type": "scatter",
        "mode": "lines",
        "x": numbers(health.years),
        "y": numbers(lower),
        "line": {"width": 0, "color": colour or style.BLACK},
        "hoverinfo": "skip",
        "showlegend": False,
    }
    if colour is not None and lost is not None:
        area |= {"fill": "tonexty", "fillcolor": colour, "name": name, "showlegend": True}
        area |= {"customdata": numbers(lost), "hovertemplate": f"{name}: %{{customdata:.2f}} %<extra></extra>"}
        del area["hoverinfo"]
    return area


def _line(years: FloatArray, values: FloatArray, name: str, colour: str) -> Json:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": text(name),
        "x": numbers(years),
        "y": numbers(values),
        "line": {"color": colour, "width": 2},
        "showlegend": False,
        "hovertemplate": "%{y:.2f} % after %{x:.1f} years<extra>%{fullData.name}</extra>",
    }


def _health_layout(health: HealthFigure, title: str, y_title: str, limit: float, y_range: list[float]) -> Json:
    life_first = health.life_years is not None and health.life_years < health.service_years
    sides = ("left", "right") if life_first else ("right", "left")
    drawn = [upright(health.service_years, style.GREY, "dot", "service", sides[0])]
    if health.life_years:
        drawn.append(upright(health.life_years, style.BLACK, "dot", "life", sides[1]))
    limit_line = {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "y0": limit,
        "y1": limit,
        "line": {"color": style.GREY, "dash": "dash", "width": 1.5},
    }
    limit_words = {
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "y": limit,
        "yanchor": "bottom",
        "text": f"limit {limit:.0f} %",
        "showarrow": False,
    }
    return layout(
        title,
        height=_HEIGHT,
        hovermode="x unified",
        margin={"l": 60, "r": 45, "t": 30, "b": 90},
        xaxis=axis("Service [years]", range=[0, float(health.years[-1])]),
        yaxis=axis(y_title, range=y_range),
        shapes=[limit_line, *(line for line, _ in drawn)],
        annotations=[limit_words, *(label for _, label in drawn)],
    )
