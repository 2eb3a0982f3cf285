"""The pictures of one source as static SVG."""

from typing import TYPE_CHECKING

import numpy as np

from lifetime.report.figures import style
from lifetime.report.figures.source_data import HealthFigure, MapFigure
from lifetime.report.figures.svg import drawing, new_figure, svg_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap, Normalize

_SIZE_IN = (3.5, 2.6)
_PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.8}
"""What stands behind a word that crosses a line or an area."""


def capacity_svg(health: HealthFigure, salt: str) -> str:
    """Capacity over the years, and the capacity loss by cause.

    Args:
        health: The prepared figure.
        salt: Told into the ids of the picture.
    """
    with drawing():
        figure, axes = new_figure(*_SIZE_IN)
        years, full = health.years, np.full(health.years.size, 100.0)
        after_calendar = full - health.calendar_percent
        axes.fill_between(years, after_calendar, full, color=style.CALENDAR, linewidth=0, label="calendar ageing")
        axes.fill_between(
            years,
            after_calendar - health.cyclic_percent,
            after_calendar,
            color=style.CYCLIC,
            linewidth=0,
            label="cyclic ageing",
        )
        axes.plot(years, health.capacity_percent, color=style.BLACK, linewidth=1.3)
        low = min(health.capacity_limit_percent, float(health.capacity_percent.min()))
        axes.set_ylim(low - 0.22 * (100.0 - low), 100.0 + 0.04 * (100.0 - low))
        _mark(axes, health, health.capacity_limit_percent, words_at=0.03)
        axes.set_ylabel(f"{health.capacity_name} [% of initial]")
        axes.legend(loc="lower left")
        end = f"{health.capacity_percent[-1]:.1f} % after {health.years[-1]:.1f} years"
        title = f"{health.capacity_name} over the years, with capacity loss by cause: {end}"
        return svg_text(figure, title, f"{salt}-capacity")


def resistance_svg(health: HealthFigure, salt: str) -> str | None:
    """Resistance over the years; None where the model predicts none.

    Args:
        health: The prepared figure.
        salt: Told into the ids of the picture.
    """
    if health.resistance_percent is None:
        return None
    with drawing():
        figure, axes = new_figure(*_SIZE_IN)
        axes.plot(health.years, health.resistance_percent, color=style.BLACK, linewidth=1.3)
        high = max(health.resistance_limit_percent, float(health.resistance_percent.max()))
        axes.set_ylim(100.0 - 0.04 * (high - 100.0), high + 0.12 * (high - 100.0))
        _mark(axes, health, health.resistance_limit_percent, words_at=0.45)
        axes.set_ylabel(f"{health.resistance_name} [% of initial]")
        end = f"{health.resistance_percent[-1]:.1f} % after {health.years[-1]:.1f} years"
        return svg_text(figure, f"{health.resistance_name} over the years: {end}", f"{salt}-resistance")


def map_svg(figure_data: MapFigure, salt: str) -> str:
    """A map of cycles or of time; darker means more, white means none.

    Args:
        figure_data: The prepared map.
        salt: Told into the ids of the picture.
    """
    from matplotlib import colormaps  # noqa: PLC0415
    from matplotlib.cm import ScalarMappable  # noqa: PLC0415
    from matplotlib.colors import BoundaryNorm  # noqa: PLC0415

    with drawing():
        figure, axes = new_figure(*_SIZE_IN)
        filled = figure_data.values[figure_data.values > 0.0]
        levels = _levels(float(filled.min()), float(filled.max()))
        norm = BoundaryNorm(levels, 256)
        scale = colormaps[style.MAP_COLOURS].reversed()
        _draw_cells(axes, figure_data, norm, scale)
        if figure_data.log_y:
            axes.set_yscale("log")
            axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
        axes.set_xlim(float(figure_data.x_edges[0]), float(figure_data.x_edges[-1]))
        axes.set_ylim(float(figure_data.y_edges[0]), float(figure_data.y_edges[-1]))
        axes.set_xlabel(figure_data.x_name)
        axes.set_ylabel(figure_data.y_name)
        bar = figure.colorbar(ScalarMappable(norm, scale), ax=axes, ticks=levels, spacing="uniform", aspect=18)
        bar.ax.set_yticklabels([f"{level:,g}" for level in levels])
        bar.set_label(figure_data.value_name)
        bar.outline.set_linewidth(0.4)
        return svg_text(figure, _map_title(figure_data), salt)


def _draw_cells(axes: "Axes", figure_data: MapFigure, norm: "Normalize", scale: "Colormap") -> None:
    """One path for all cells of a colour, which keeps the file small."""
    from matplotlib.patches import PathPatch  # noqa: PLC0415
    from matplotlib.path import Path  # noqa: PLC0415

    x, y = figure_data.x_edges, figure_data.y_edges
    rows, columns = np.nonzero(figure_data.values)
    classes = np.asarray(norm(figure_data.values[rows, columns]))
    for one in np.unique(classes):
        cells = [
            Path([(x[c], y[r]), (x[c + 1], y[r]), (x[c + 1], y[r + 1]), (x[c], y[r + 1]), (x[c], y[r])], closed=True)
            for r, c in zip(rows[classes == one], columns[classes == one], strict=True)
        ]
        colour = scale(int(one))
        axes.add_patch(PathPatch(Path.make_compound_path(*cells), facecolor=colour, edgecolor="white", linewidth=0.3))


def _levels(low: float, high: float) -> list[float]:
    """Edges of the colour classes: 1, 3, 10, 30 and so on, at most eight classes; the lowest class is open below."""
    steps = [one * 10.0**decade for decade in range(-6, 10) for one in (1.0, 3.0)]
    last = next((at for at, level in enumerate(steps) if level >= high), len(steps) - 1)
    first = min(max((at for at, level in enumerate(steps) if level <= low), default=0), last - 1)
    return steps[max(first, last - 8) : last + 1]


def _map_title(figure_data: MapFigure) -> str:
    row, column = np.unravel_index(int(np.argmax(figure_data.values)), figure_data.values.shape)
    x, y = figure_data.x_edges, figure_data.y_edges
    return (
        f"{figure_data.value_name} by {figure_data.y_name} and {figure_data.x_name}. Most, "
        f"{figure_data.values[row, column]:,.0f}, lie at {y[row]:.3g} to {y[row + 1]:.3g} and {x[column]:.3g} to "
        f"{x[column + 1]:.3g}"
    )


def _mark(axes: "Axes", health: HealthFigure, limit_percent: float, *, words_at: float) -> None:
    """The limit, the end of service and the end of life."""
    axes.set_xlim(0.0, float(health.years[-1]))
    axes.set_xlabel("Service [years]")
    axes.axhline(limit_percent, color=style.GREY, linewidth=0.9, linestyle=(0, (4, 2)))
    axes.annotate(
        f"limit {limit_percent:.0f} %",
        (0.0, limit_percent),
        xycoords=("axes fraction", "data"),
        xytext=(3, 2),
        textcoords="offset points",
        fontsize=7,
        bbox=_PAPER,
    )
    marks = [(health.service_years, "service", style.GREY)]
    if health.life_years is not None and health.life_years > 0.0:
        marks.append((health.life_years, "life", style.BLACK))
    for years, word, colour in marks:
        axes.axvline(years, color=colour, linewidth=0.9, linestyle=(0, (1, 1.5)))
        axes.annotate(
            word,
            (years, words_at),
            xycoords=("data", "axes fraction"),
            xytext=(-2, 0),
            textcoords="offset points",
            ha="right",
            va="bottom",
            fontsize=7,
            rotation=90,
            bbox=_PAPER,
        )
