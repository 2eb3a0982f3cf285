"""A strategy's day as static SVG: who gives the power, and under it where the wear comes about."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lifetime.report.figures import style
from lifetime.report.figures.svg import drawing, svg_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SIZE_IN: Final = (7.2, 4.4)
_PPM: Final = 1e6
_HOUR_FROM_S: Final = 7200.0


def day_svg(course: Mapping[str, Any], salt: str) -> str:
    """Draw demand, battery and bank power over the day, and the battery's wear in each stretch below.

    Args:
        course: As ``report.day_course`` made it.
        salt: Told into the ids of the picture.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415 - slow import

    edges = np.array(course["edges_s"])
    hours = float(edges[-1]) >= _HOUR_FROM_S
    edges = edges / (3600.0 if hours else 60.0)
    middle = 0.5 * (edges[:-1] + edges[1:])
    with drawing():
        figure = Figure(figsize=_SIZE_IN, layout="constrained")
        power, wear = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        for key, name, colour in (
            ("demand_W", "demand", style.LIGHT_GREY),
            ("bank_W", "bank", style.BANK),
            ("battery_W", "battery", style.BATTERY),
        ):
            if key == "bank_W" and not any(np.any(course[key][end]) for end in ("low", "high")):
                continue
            low, high = (np.array(course[key][end]) / 1000.0 for end in ("low", "high"))
            alpha = 1.0 if key == "demand_W" else 0.75
            power.fill_between(middle, low, high, color=colour, alpha=alpha, linewidth=0.5, label=name, step="mid")
        power.set_ylabel("power [kW]")
        power.axhline(0.0, color=style.GREY, linewidth=0.5)
        _legend_above(power)
        parts = course["battery_wear"]
        calendar, cycle = (np.array(parts[key]) * _PPM for key in ("calendar_fraction", "cycle_fraction"))
        upto, both = np.append(calendar, calendar[-1]), np.append(calendar + cycle, calendar[-1] + cycle[-1])
        wear.fill_between(edges, 0.0, upto, color=style.CALENDAR, label="calendar", step="post", linewidth=0)
        wear.fill_between(edges, upto, both, color=style.CYCLE, label="cycles", step="post", linewidth=0)
        wear.set_ylabel("battery wear\n[ppm of capacity]")
        many = f", one of {course['passes']} a day" if course["passes"] > 1 else ""
        wear.set_xlabel(f"drive [{'h' if hours else 'min'}]{many}")
        wear.set_xlim(0.0, float(edges[-1]))
        _legend_above(wear)
        worst = int(np.argmax(calendar + cycle))
        title = (
            f"Power of demand, battery and bank over the drive{many}, and the battery's wear by service end in each "
            f"stretch; most, {calendar[worst] + cycle[worst]:.3g} ppm, from {edges[worst]:.3g} to "
            f"{edges[worst + 1]:.3g} {'h' if hours else 'min'}"
        )
        return svg_text(figure, title, salt)


def _legend_above(axes: "Axes") -> None:
    """Above the axes, where it hides nothing, and to the left, where a narrow screen begins."""
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.2)
