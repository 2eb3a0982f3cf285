"""The pictures of a ranking for Plotly; the same numbers as on paper."""

from lifetime.report.figures import style
from lifetime.report.figures.plotly_base import Json, axis, layout, names_axis, text, upright
from lifetime.report.figures.ranking_data import CostBars, LifeBar, LifeBars
from lifetime.report.words import PARTS
from lifetime.results.view import SourceKind

_ROW_PX = 56


def life_plotly(bars: LifeBars) -> Json:
    """Lives of both sources as bars against the service life.

    Args:
        bars: The prepared bars.
    """
    line, label = upright(bars.service_years, style.BLACK, "dash", f"service life {bars.service_years:g} years")
    return {
        "data": [_life_trace(part, row, bars.names) for part, row in bars.bars.items()],
        "layout": layout(
            "Life of each strategy's sources against the service life",
            barmode="group",
            bargap=0.25,
            height=150 + _ROW_PX * len(bars.names),
            # Rounded as the bars are: a bar a hair longer than its axis loses its label.
            xaxis=axis("Life [years]", range=[0, round(bars.axis_years, 3)]),
            yaxis=names_axis(bars.names),
            shapes=[line],
            annotations=[label],
        ),
    }


def cost_plotly(bars: CostBars) -> Json:
    """Net present cost as bars stacked by cost item; credits go to the left of zero.

    Args:
        bars: The prepared bars.
    """
    places = list(range(len(bars.names)))
    traces: list[Json] = []
    for item, values in bars.parts.items():
        fill = style.ITEM_FILLS[item]
        traces.append(
            {
                "type": "bar",
                "orientation": "h",
                "name": item,
                "y": places,
                "x": [round(value, 2) for value in values],
                "marker": {"color": fill.colour, "pattern": {"shape": fill.hatch}},
                "hovertemplate": f"{item}: %{{x:,.0f}} {text(bars.currency)}<extra></extra>",
            }
        )
    traces.append(
        {
            "type": "scatter",
            "mode": "markers",
            "name": "net present cost",
            "y": places,
            "x": [round(total, 2) for total in bars.totals],
            "marker": {"symbol": "diamond", "size": 9, "color": "white", "line": {"color": style.BLACK, "width": 1.5}},
            "hovertemplate": f"net present cost: %{{x:,.0f}} {text(bars.currency)}<extra></extra>",
        }
    )
    ends = [sum(max(values[place], 0.0) for values in bars.parts.values()) for place in places]
    starts = [sum(min(values[place], 0.0) for values in bars.parts.values()) for place in places]
    labels = [
        {"x": end, "y": place, "xanchor": "left", "text": f"net {total:,.0f}", "showarrow": False}
        for place, end, total in zip(places, ends, bars.totals, strict=True)
    ]
    low, high = min([0.0, *starts]), max([0.0, *ends])
    return {
        "data": traces,
        "layout": layout(
            f"Net present cost by cost item [{bars.currency}]",
            barmode="relative",
            bargap=0.45,
            height=160 + _ROW_PX * len(bars.names),
            xaxis=axis(f"Net present cost [{bars.currency}]", tickformat=",.0f", range=[1.06 * low, 1.2 * high]),
            yaxis=names_axis(bars.names),
            annotations=labels,
        ),
    }


def _life_trace(part: SourceKind, row: tuple[LifeBar | None, ...], names: tuple[str, ...]) -> Json:
    shown = [(place, bar) for place, bar in enumerate(row) if bar is not None]
    return {
        "type": "bar",
        "orientation": "h",
        "name": PARTS[part],
        "y": [place for place, _ in shown],
        "x": [round(bar.years, 3) for _, bar in shown],
        "text": [f"{bar.label} →" if bar.open_ended else bar.label for _, bar in shown],
        "textposition": ["inside" if bar.open_ended else "outside" for _, bar in shown],
        "insidetextanchor": "end",
        "textfont": {"color": style.BLACK},
        "cliponaxis": False,
        "customdata": [[text(names[place]), bar.label] for place, bar in shown],
        "hovertemplate": f"%{{customdata[0]}}<br>{PARTS[part]}: %{{customdata[1]}}<extra></extra>",
        "marker": {"color": style.SOURCES[part]},
    }
