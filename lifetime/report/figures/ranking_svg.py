"""The pictures of a ranking as static SVG."""

from typing import TYPE_CHECKING

import numpy as np

from lifetime.checks import FloatArray
from lifetime.report.figures import style
from lifetime.report.figures.ranking_data import CostBars, LifeBar, LifeBars
from lifetime.report.figures.svg import drawing, new_figure, svg_text
from lifetime.report.words import PARTS, label_lines
from lifetime.results.view import SourceKind

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH_IN = 7.1


def life_svg(bars: LifeBars) -> str:
    """Lives of both sources as bars against the service life.

    Args:
        bars: The prepared bars.
    """
    with drawing():
        figure, axes = new_figure(_WIDTH_IN, 0.9 + 0.42 * len(bars.names))
        height = 0.8 / len(bars.bars)
        for place, (part, row) in enumerate(bars.bars.items()):
            offset = (place - 0.5 * (len(bars.bars) - 1)) * height
            alone = [sum(other[at] is not None for other in bars.bars.values()) == 1 for at in range(len(row))]
            _draw_lives(axes, row, [0.0 if one else offset for one in alone], height, part)
        axes.axvline(bars.service_years, color=style.BLACK, linewidth=1.2, linestyle=(0, (4, 2)))
        axes.annotate(
            f"service life {bars.service_years:g} years",
            (bars.service_years, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(3, 2),
            textcoords="offset points",
            fontsize=7.5,
        )
        _name_rows(axes, bars.names)
        axes.set_xlim(0.0, bars.axis_years)
        axes.set_xlabel("Life [years]")
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.12 - 0.35 / len(bars.names)), ncols=2)
        title = "Life of each strategy's sources against the service life. " + "; ".join(_life_words(bars))
        return svg_text(figure, title, "life")


def cost_svg(bars: CostBars) -> str:
    """Net present cost as bars stacked by cost item; credits go to the left of zero.

    Args:
        bars: The prepared bars.
    """
    with drawing():
        figure, axes = new_figure(_WIDTH_IN, 1.25 + 0.36 * len(bars.names))
        places = np.arange(len(bars.names))
        right, left = np.zeros(len(bars.names)), np.zeros(len(bars.names))
        for item, values in bars.parts.items():
            amounts, fill = np.array(values), style.ITEM_FILLS[item]
            start = np.where(amounts >= 0.0, right, left)
            axes.barh(
                places,
                amounts,
                left=start,
                height=0.62,
                color=fill.colour if not fill.hatch else "white",
                edgecolor=fill.colour if fill.hatch else "white",
                linewidth=0.4,
                hatch=4 * fill.hatch or None,
                label=item,
            )
            right, left = right + np.maximum(amounts, 0.0), left + np.minimum(amounts, 0.0)
        _mark_totals(axes, bars, right)
        axes.axvline(0.0, color=style.BLACK, linewidth=0.6)
        _name_rows(axes, bars.names)
        axes.set_xlabel(f"Net present cost [{bars.currency}]")
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
        axes.margins(x=0.14)
        axes.legend(loc="upper center", bbox_to_anchor=(0.4, -0.12 - 0.5 / len(bars.names)), ncols=3)
        words = "; ".join(f"{name} {total:,.0f}" for name, total in zip(bars.names, bars.totals, strict=True))
        return svg_text(figure, f"Net present cost by cost item [{bars.currency}]. Totals: {words}", "cost")


def _draw_lives(
    axes: "Axes", row: tuple[LifeBar | None, ...], offsets: list[float], height: float, part: SourceKind
) -> None:
    shown = [(place, bar) for place, bar in enumerate(row) if bar is not None]
    axes.barh(
        [place + offsets[place] for place, _ in shown],
        [bar.years for _, bar in shown],
        height=height * 0.92,
        color=style.SOURCES[part],
        label=PARTS[part],
    )
    for place, bar in shown:
        axes.annotate(
            f"{bar.label} →" if bar.open_ended else bar.label,
            (bar.years, place + offsets[place]),
            xytext=(-4 if bar.open_ended else 3, 0),
            textcoords="offset points",
            ha="right" if bar.open_ended else "left",
            va="center",
            fontsize=7.5,
            color=style.BLACK,
        )


def _mark_totals(axes: "Axes", bars: CostBars, ends: FloatArray) -> None:
    places = range(len(bars.names))
    axes.plot(
        bars.totals,
        places,
        linestyle="none",
        marker="D",
        markersize=4.5,
        markerfacecolor="white",
        markeredgecolor=style.BLACK,
        label="net present cost",
    )
    for place, end, total in zip(places, ends.tolist(), bars.totals, strict=True):
        axes.annotate(
            f"net {total:,.0f}", (end, place), xytext=(4, 0), textcoords="offset points", va="center", fontsize=7.5
        )


def _name_rows(axes: "Axes", names: tuple[str, ...]) -> None:
    axes.set_yticks(range(len(names)), ["\n".join(label_lines(name)) for name in names])
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(names) - 0.45, -0.55)


def _life_words(bars: LifeBars) -> list[str]:
    words = []
    for place, name in enumerate(bars.names):
        parts = [f"{PARTS[part].lower()}: {bar.label}" for part, row in bars.bars.items() if (bar := row[place])]
        words.append(f"{name}: {', '.join(parts)}")
    return words
