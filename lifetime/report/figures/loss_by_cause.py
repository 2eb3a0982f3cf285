"""Battery capacity loss at service end by cause, one bar a strategy."""

from dataclasses import dataclass
from typing import Final

from lifetime.report.figures import style
from lifetime.report.figures.plotly_base import Json, axis, layout, names_axis
from lifetime.results.document import ResultDocument
from lifetime.results.strategy import StrategyView
from lifetime.text import printable

_CAUSES: Final = {
    "calendar, driving": (style.CALENDAR, ""),
    "calendar, at rest": (style.CALENDAR, "/"),
    "charging": (style.GREEN, "x"),
    "cyclic, driving": (style.CYCLIC, ""),
    "calendar": (style.CALENDAR, "."),
    "cyclic": (style.CYCLIC, "."),
}
"""Fill of each cause. The last two are for strategies without a demand, whose day is not laid out."""
_ROW_PX: Final = 48


@dataclass(frozen=True, slots=True)
class LossByCause:
    """Bars of the picture.

    Args:
        names: The strategies that have a loss at service end.
        percent: Loss by cause [% of initial capacity], one value a strategy.
    """

    names: tuple[str, ...]
    percent: dict[str, tuple[float, ...]]


def loss_by_cause(document: ResultDocument) -> LossByCause:
    """Prepare the bars.

    Args:
        document: The result document.
    """
    losses = [(one.name, loss) for one in document.strategies if (loss := _losses(one))]
    return LossByCause(
        names=tuple(printable(name) for name, _ in losses),
        percent={
            cause: values
            for cause in _CAUSES
            if any(values := tuple(100.0 * loss.get(cause, 0.0) for _, loss in losses))
        },
    )


def loss_plotly(bars: LossByCause) -> Json:
    """The picture for Plotly.

    Args:
        bars: The prepared bars.
    """
    places = list(range(len(bars.names)))
    traces = []
    for cause, values in bars.percent.items():
        colour, hatch = _CAUSES[cause]
        traces.append(
            {
                "type": "bar",
                "orientation": "h",
                "name": cause,
                "y": places,
                "x": [round(value, 3) for value in values],
                "marker": {"color": colour, "pattern": {"shape": hatch}},
                "hovertemplate": f"{cause}: %{{x:.3g}} %<extra></extra>",
            }
        )
    return {
        "data": traces,
        "layout": layout(
            "Battery capacity loss at service end by cause",
            barmode="stack",
            bargap=0.45,
            height=160 + _ROW_PX * len(bars.names),
            xaxis=axis("Capacity loss at service end [% of initial]", rangemode="tozero"),
            yaxis=names_axis(bars.names),
        ),
    }


def _losses(strategy: StrategyView) -> dict[str, float]:
    """Loss by cause as fractions of the initial capacity; empty where the battery is scrap before service ends."""
    left = strategy.battery.capacity_fraction_at_service_end
    if left is None:
        return {}
    if strategy.day is not None:
        loss = strategy.day.battery_capacity_loss
        return {
            "calendar, driving": sum(loss.calendar_fraction),
            "calendar, at rest": loss.resting_fraction,
            "charging": loss.charging_fraction,
            "cyclic, driving": sum(loss.cyclic_fraction),
        }
    calendar = strategy.battery.calendar_share_fraction or 0.0
    return {"calendar": calendar * (1.0 - left), "cyclic": (1.0 - calendar) * (1.0 - left)}
