"""A strategy's day as static SVG: which source gives the power, and below it where capacity is lost."""

from typing import TYPE_CHECKING, Final

import numpy as np

from lifetime.checks import FloatArray, as_floats
from lifetime.report.figures import style
from lifetime.report.figures.svg import drawing, svg_text
from lifetime.results.day import DayCapacityLoss, DayView

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SIZE_IN: Final = (7.2, 4.4)
_PPM: Final = 1e6
_HOUR_FROM_S: Final = 7200.0


def day_svg(day: DayView, salt: str) -> str:
    """Draw demand, battery and bank power over the day, and the battery's capacity loss in each stretch below.

    Args:
        day: Of a strategy.
        salt: Told into the ids of the picture.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415 - slow import

    edges = as_floats(day.edges_s, "time")
    unit, scale = ("h", 3600.0) if edges[-1] >= _HOUR_FROM_S else ("min", 60.0)
    edges = edges / scale
    many = f", one of {day.drives} per day" if day.drives > 1 else ""
    with drawing():
        figure = Figure(figsize=_SIZE_IN, layout="constrained")
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        _draw_powers(upper, day, 0.5 * (edges[:-1] + edges[1:]))
        loss = _draw_loss(lower, day.battery_capacity_loss, edges)
        lower.set_xlabel(f"drive [{unit}]{many}")
        lower.set_xlim(0.0, float(edges[-1]))
        worst = int(np.argmax(loss))
        title = (
            f"Power of demand, battery and ultracapacitor bank over the drive{many}, and the battery's capacity loss "
            f"by service end in each stretch; most, {loss[worst]:.3g} ppm, from {edges[worst]:.3g} to "
            f"{edges[worst + 1]:.3g} {unit}"
        )
        return svg_text(figure, title, salt)


def _draw_powers(axes: "Axes", day: DayView, middle: FloatArray) -> None:
    bands = [("demand", day.demand_W, style.LIGHT_GREY, 1.0)]
    if any(day.ultracapacitor_W.low) or any(day.ultracapacitor_W.high):
        bands.append(("ultracapacitor bank", day.ultracapacitor_W, style.ULTRACAPACITOR, 0.75))
    bands.append(("battery", day.battery_W, style.BATTERY, 0.75))
    for name, band, colour, alpha in bands:
        low, high = as_floats(band.low, name) / 1000.0, as_floats(band.high, name) / 1000.0
        axes.fill_between(middle, low, high, color=colour, alpha=alpha, linewidth=0.5, label=name, step="mid")
    axes.set_ylabel("power [kW]")
    axes.axhline(0.0, color=style.GREY, linewidth=0.5)
    _legend_above(axes)


def _draw_loss(axes: "Axes", loss: DayCapacityLoss, edges: FloatArray) -> FloatArray:
    """Draw both causes as areas; returns their sum in each stretch [ppm]."""
    calendar = as_floats(loss.calendar_fraction, "calendar loss") * _PPM
    both = calendar + as_floats(loss.cyclic_fraction, "cyclic loss") * _PPM
    low, high = np.append(calendar, calendar[-1]), np.append(both, both[-1])
    axes.fill_between(edges, 0.0, low, color=style.CALENDAR, label="calendar ageing", step="post", linewidth=0)
    axes.fill_between(edges, low, high, color=style.CYCLIC, label="cyclic ageing", step="post", linewidth=0)
    axes.set_ylabel("battery capacity loss\n[ppm of initial]")
    _legend_above(axes)
    return both


def _legend_above(axes: "Axes") -> None:
    """Above the axes, where it hides nothing, and to the left, where a narrow screen begins."""
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.2)
