"""Several assessments compared: their strategies, what their studies differ in, and what cannot be compared."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from flask import url_for
from pydantic import JsonValue

from lifetime.report.page.ranking import ranking_rows
from lifetime.results.document import ResultDocument
from lifetime.text import printable

_MISSING: Final = "–"


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One strategy of one of the assessments as text.

    Args:
        place: Number of its assessment, from 1.
        name: Its name.
        link: Address of its page.
        cells: Rank, lives and costs.
    """

    place: int
    name: str
    link: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Difference:
    """One key whose values are not the same in all studies.

    Args:
        key: Its path.
        values: One text a study.
    """

    key: str
    values: tuple[str, ...]


def compared_rows(found: Sequence[ResultDocument]) -> list[ComparedRow]:
    """Every strategy of every assessment.

    Args:
        found: The result document of each assessment.
    """
    rows = []
    for place, document in enumerate(found, start=1):
        for number, one in enumerate(ranking_rows(document), start=1):
            link = url_for("pages.strategy", key=document.study.id, number=number)
            lives = (one.battery_life, one.ultracapacitor_life)
            costs = (one.net_present_cost, one.equivalent_annual_cost, one.cost_per_km)
            rows.append(ComparedRow(place, one.name, link, (one.rank, *lives, *costs)))
    return rows


def warnings(found: Sequence[ResultDocument]) -> list[str]:
    """What makes costs or lives of these assessments incomparable.

    Args:
        found: The result document of each assessment.
    """
    studies = [document.study for document in found]
    lines = []
    if len({one.currency for one in studies}) > 1:
        lines.append("The assessments are in different currencies; their costs cannot be compared.")
    if len({one.service_years for one in studies}) > 1:
        lines.append("The service lives differ; compare equivalent annual cost or cost per km, not net present cost.")
    if len({one.service.working_days_per_year for one in studies}) > 1:
        lines.append("The working days per year differ, so the sources do not do the same work.")
    if len({one.program_version for one in studies}) > 1:
        lines.append("Different program versions made these assessments; a difference may come from the program.")
    return lines


def differences(studies: Sequence[Mapping[str, JsonValue]]) -> list[Difference]:
    """Keys whose values are not the same in all studies.

    Args:
        studies: The studies as given, as plain data.
    """
    flat = [dict(_leaves(study, "")) for study in studies]
    keys = sorted({key for one in flat for key in one})
    return [
        Difference(key, tuple(one.get(key, _MISSING) for one in flat))
        for key in keys
        if len({one.get(key) for one in flat}) > 1
    ]


def _leaves(value: Any, place: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from _leaves(item, f"{place}.{key}" if place else str(key))
    elif isinstance(value, list) and any(isinstance(item, Mapping) for item in value):
        for number, item in enumerate(value, start=1):
            yield from _leaves(item, f"{place}[{number}]")
    else:
        yield place, printable(f"{value:.10g}" if isinstance(value, float) else str(value))[:120]
