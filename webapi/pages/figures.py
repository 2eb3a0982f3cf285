"""The figures of an assessment by name, for pages to draw and for readers without scripts to see."""

import re
from collections.abc import Sequence
from typing import Final, Literal, get_args

from lifetime.report.figures import ranking_plotly, ranking_svg, source_plotly, source_svg
from lifetime.report.figures.plotly_base import Json
from lifetime.report.figures.ranking_data import cost_bars, life_bars
from lifetime.report.figures.source_data import HealthFigure, MapFigure, cycle_figure, health_figure, time_figure
from lifetime.report.figures.source_plotly import ComparedHealth
from lifetime.report.page.strategies import CAPTIONS
from lifetime.report.words import PARTS
from lifetime.results.document import ResultDocument
from lifetime.results.view import SourceKind
from lifetime.text import printable

Quantity = Literal["capacity", "resistance"]

_NAME: Final = re.compile(r"(\d{1,4})-(battery|ultracapacitor)-(capacity|resistance|cycles|time)")
_MOST_COMPARED: Final = 12
"""Lines in one picture; more cannot be told apart."""


def figure_json(document: ResultDocument, name: str) -> Json | None:
    """A figure for Plotly.

    Args:
        document: The result document.
        name: ``life``, ``cost``, or as ``figure_names`` gives them.

    Returns:
        The figure, or None where there is none of that name.
    """
    if name == "life":
        return ranking_plotly.life_plotly(life_bars(document))
    if name == "cost":
        return ranking_plotly.cost_plotly(cost_bars(document))
    found = _prepared(document, name)
    if isinstance(found, MapFigure):
        return source_plotly.map_plotly(found)
    if found is None:
        return None
    return source_plotly.capacity_plotly(found) if name.endswith("capacity") else source_plotly.resistance_plotly(found)


def figure_svg(document: ResultDocument, name: str) -> str | None:
    """The same figure as static SVG.

    Args:
        document: The result document.
        name: As for ``figure_json``.

    Returns:
        The picture, or None where there is none of that name.
    """
    if name == "life":
        return ranking_svg.life_svg(life_bars(document))
    if name == "cost":
        bars = cost_bars(document)
        return ranking_svg.cost_svg(bars) if bars.names else None
    found = _prepared(document, name)
    if isinstance(found, MapFigure):
        return source_svg.map_svg(found, name)
    if found is None:
        return None
    capacity = name.endswith("capacity")
    return source_svg.capacity_svg(found, name) if capacity else source_svg.resistance_svg(found, name)


def figure_names(document: ResultDocument, position: int, part: SourceKind) -> list[tuple[str, str]]:
    """Names and captions of the figures of one source.

    Args:
        document: The result document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.
    """
    lead = f"{position}-{part}"
    names = []
    health = health_figure(document, position, part)
    if health is not None:
        names.append((f"{lead}-capacity", f"{health.capacity_name} over the years; capacity loss by cause"))
        if health.resistance_percent is not None:
            names.append((f"{lead}-resistance", f"{health.resistance_name} over the years"))
    if cycle_figure(document, position, part) is not None:
        names.append((f"{lead}-cycles", CAPTIONS["cycles"][part].removesuffix(".")))
    if time_figure(document, position, part) is not None:
        names.append((f"{lead}-time", CAPTIONS["time"][part].removesuffix(".")))
    return names


def compared_json(found: Sequence[ResultDocument], part: SourceKind, quantity: Quantity) -> Json | None:
    """One quantity of several assessments over the years; every strategy, or the best of each where they are many.

    Args:
        found: The result document of each assessment.
        part: ``battery`` or ``ultracapacitor``.
        quantity: ``capacity`` or ``resistance``.

    Returns:
        The figure, or None where no assessment has such a quantity.
    """
    lines = _lines(found, part, quantity)
    return source_plotly.compared_plotly(lines, quantity) if lines else None


def compared_names(found: Sequence[ResultDocument]) -> list[tuple[SourceKind, Quantity, str]]:
    """Part, quantity and caption of each picture a comparison has.

    Args:
        found: The result document of each assessment.
    """
    quantities: tuple[Quantity, ...] = get_args(Quantity)
    return [
        (part, quantity, f"{words}: {_quantity_words(part, quantity)} over the years")
        for part, words in PARTS.items()
        for quantity in quantities
        if _lines(found, part, quantity)
    ]


def _lines(found: Sequence[ResultDocument], part: SourceKind, quantity: Quantity) -> list[ComparedHealth]:
    """What a comparison draws of one quantity."""
    many = sum(len(document.strategies) for document in found) > _MOST_COMPARED
    lines = []
    for place, document in enumerate(found, start=1):
        for position, one in enumerate(document.strategies[: 1 if many else None]):
            health = health_figure(document, position, part)
            if health is not None and (quantity == "capacity" or health.resistance_percent is not None):
                name = f"{place}: {printable(one.name)}"
                lines.append(ComparedHealth(name, health, colour=position, dash=place - 1))
    return lines


def _quantity_words(part: SourceKind, quantity: Quantity) -> str:
    if part == "battery":
        return quantity
    return "capacitance" if quantity == "capacity" else "ESR"


def _prepared(document: ResultDocument, name: str) -> HealthFigure | MapFigure | None:
    match = _NAME.fullmatch(name)
    if match is None or int(match[1]) >= len(document.strategies):
        return None
    position, kind = int(match[1]), match[3]
    part: SourceKind = "battery" if match[2] == "battery" else "ultracapacitor"
    if kind == "cycles":
        return cycle_figure(document, position, part)
    if kind == "time":
        return time_figure(document, position, part)
    return health_figure(document, position, part)
