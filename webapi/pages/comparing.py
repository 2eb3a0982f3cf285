"""Several assessments beside each other: their strategies, what their studies differ in, and what does not compare."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from flask import url_for

from lifetime.report.page.ranking import ranking_rows
from lifetime.text import printable
from webapi import models
from webapi.pages.figures import Documents

_MISSING: Final = "–"
_BATTERY_LIFE, _BANK_LIFE, _NET_PRESENT, _PER_YEAR, _PER_KM = 0, 1, 4, 6, 7
"""Places of the figures in a row of the ranking."""


def compared_rows(rows: Sequence[models.Assessment]) -> list[dict[str, Any]]:
    """Every strategy of every assessment.

    Args:
        rows: The assessments with their documents.
    """
    found = []
    for place, row in enumerate(rows, start=1):
        for number, one in enumerate(ranking_rows(row.document), start=1):
            cells = [one["cells"][at] for at in (_BATTERY_LIFE, _BANK_LIFE, _NET_PRESENT, _PER_YEAR, _PER_KM)]
            link = url_for("pages.strategy", key=row.id, number=number)
            found.append({"place": place, "name": one["name"], "link": link, "cells": [one["rank"], *cells]})
    return found


def cautions(found: Sequence[Documents]) -> list[str]:
    """What makes costs or lives of these assessments incomparable.

    Args:
        found: Result and detail document of each.
    """
    lines = []
    if len({detail["cost"]["currency"] for _, detail in found}) > 1:
        lines.append("The assessments are in different currencies; their costs do not compare.")
    if len({document["study"]["service_years"] for document, _ in found}) > 1:
        lines.append("The service lives differ; compare costs per year or per km, not net present costs.")
    if len({detail["service"]["working_days_per_year"] for _, detail in found}) > 1:
        lines.append("The working days a year differ, so the sources do not do the same work.")
    if len({document["study"]["program_version"] for document, _ in found}) > 1:
        lines.append("Different program versions made these assessments; a difference may come from the program.")
    return lines


def differences(studies: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Keys whose values are not the same in all studies.

    Args:
        studies: The studies as given, as plain data.
    """
    flat = [dict(_leaves(study, "")) for study in studies]
    keys = sorted({key for one in flat for key in one})
    return [
        {"key": key, "values": [one.get(key, _MISSING) for one in flat]}
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
