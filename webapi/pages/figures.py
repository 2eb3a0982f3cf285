"""The figures of an assessment by name, for pages to draw and for readers without scripts to see."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from lifetime.report.figures import ranking_plotly, ranking_svg, source_plotly, source_svg
from lifetime.report.figures.plotly_base import Json
from lifetime.report.figures.ranking_data import cost_bars, life_bars
from lifetime.report.figures.source_data import CourseFigure, MapFigure, course_figure, cycle_figure, time_figure
from lifetime.report.figures.source_plotly import ComparedCourse
from lifetime.report.words import PARTS
from lifetime.text import printable

Documents = tuple[Mapping[str, Any], Mapping[str, Any]]
"""Result document and detail document of one assessment."""

_NAME: Final = re.compile(r"(\d{1,4})-(battery|ultracapacitor)-(capacity|resistance|cycles|time)")
_MOST_COMPARED: Final = 12
"""Courses in one picture; more cannot be told apart."""


def figure_json(document: Mapping[str, Any], detail: Mapping[str, Any], name: str) -> Json | None:
    """A figure for Plotly.

    Args:
        document: The result document.
        detail: The detail document of the same assessment.
        name: ``life``, ``cost``, or as ``figure_names`` gives them.

    Returns:
        The figure, or None where there is none of that name.
    """
    if name == "life":
        return ranking_plotly.life_plotly(life_bars(document))
    if name == "cost":
        return ranking_plotly.cost_plotly(cost_bars(document))
    found = _prepared(document, detail, name)
    if isinstance(found, MapFigure):
        return source_plotly.map_plotly(found)
    if found is None:
        return None
    return source_plotly.capacity_plotly(found) if name.endswith("capacity") else source_plotly.resistance_plotly(found)


def figure_svg(document: Mapping[str, Any], detail: Mapping[str, Any], name: str) -> str | None:
    """The same figure as static SVG.

    Args:
        document: The result document.
        detail: The detail document of the same assessment.
        name: As for ``figure_json``.

    Returns:
        The picture, or None where there is none of that name.
    """
    if name == "life":
        return ranking_svg.life_svg(life_bars(document))
    if name == "cost":
        bars = cost_bars(document)
        return ranking_svg.cost_svg(bars) if bars.names else None
    found = _prepared(document, detail, name)
    if isinstance(found, MapFigure):
        return source_svg.map_svg(found, name)
    if found is None:
        return None
    capacity = name.endswith("capacity")
    return source_svg.capacity_svg(found, name) if capacity else source_svg.resistance_svg(found, name)


def figure_names(
    document: Mapping[str, Any], detail: Mapping[str, Any], position: int, part: str
) -> list[tuple[str, str]]:
    """Names and captions of the figures of one source.

    Args:
        document: The result document.
        detail: The detail document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.
    """
    lead = f"{position}-{part}"
    names = []
    course = course_figure(document, detail, position, part)
    if course is not None:
        names.append((f"{lead}-capacity", f"{course.capacity_name} over the years, with calendar and cycle parts"))
        if course.resistance_percent is not None:
            names.append((f"{lead}-resistance", f"{course.resistance_name} over the years"))
    if cycle_figure(detail, position, part) is not None:
        names.append((f"{lead}-cycles", "Cycles of a year when new, by depth and mean state"))
    if time_figure(detail, position, part) is not None:
        names.append((f"{lead}-time", "Hours of a year when new, by state and temperature"))
    return names


def compared_json(found: Sequence[Documents], part: str, quantity: str) -> Json | None:
    """One quantity of several assessments over the years; every strategy, or the best of each where they are many.

    Args:
        found: Result and detail document of each assessment.
        part: ``battery`` or ``ultracapacitor``.
        quantity: ``capacity`` or ``resistance``.

    Returns:
        The figure, or None where no assessment has such a course.
    """
    many = sum(len(document["strategies"]) for document, _ in found) > _MOST_COMPARED
    courses = []
    for place, (document, detail) in enumerate(found, start=1):
        for position, one in enumerate(document["strategies"][: 1 if many else None]):
            course = course_figure(document, detail, position, part)
            if course is not None and (quantity == "capacity" or course.resistance_percent is not None):
                name = f"{place}: {printable(one['name'])}"
                courses.append(ComparedCourse(name, course, colour=position, dash=place - 1))
    if not courses:
        return None
    return source_plotly.compared_plotly(courses, quantity)


def compared_names(found: Sequence[Documents]) -> list[tuple[str, str, str]]:
    """Part, quantity and caption of each picture a comparison has.

    Args:
        found: Result and detail document of each assessment.
    """
    return [
        (part, quantity, f"{words}: {_quantity_words(part, quantity)} over the years")
        for part, words in PARTS.items()
        for quantity in ("capacity", "resistance")
        if compared_json(found, part, quantity) is not None
    ]


def _quantity_words(part: str, quantity: str) -> str:
    if part == "battery":
        return quantity
    return "capacitance" if quantity == "capacity" else "ESR"


def _prepared(document: Mapping[str, Any], detail: Mapping[str, Any], name: str) -> CourseFigure | MapFigure | None:
    match = _NAME.fullmatch(name)
    if match is None or int(match[1]) >= len(document["strategies"]):
        return None
    position, part, kind = int(match[1]), match[2], match[3]
    if kind == "cycles":
        return cycle_figure(detail, position, part)
    if kind == "time":
        return time_figure(detail, position, part)
    return course_figure(document, detail, position, part)
