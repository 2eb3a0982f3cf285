"""Assessments on record: read, searched, and laid flat for a cost model."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Row, Select, false, select
from sqlalchemy.orm import Session, undefer

from lifetime.results.document import ResultDocument
from lifetime.results.row import SourceRow
from lifetime.results.upgrade import upgrade
from webapi import models
from webapi.errors import NotFoundError, QueryError
from webapi.services.keys import is_key
from webapi.services.paging import Page, SortKey, as_instant, as_number, as_text, page

Source = models.AssessmentSource

_COLUMNS: Final = Source.__table__.c
"""Searching asks for columns, not for objects: making fifty of these took longer than finding their rows."""

SORTS: Final = {
    "life": SortKey(_COLUMNS.life_key, _COLUMNS.id, as_number),
    "cost": SortKey(_COLUMNS.cost_key, _COLUMNS.id, as_number),
    "created_at": SortKey(_COLUMNS.created_at, _COLUMNS.id, as_instant),
    "strategy": SortKey(_COLUMNS.strategy_folded, _COLUMNS.id, as_text),
}
_LIST_SORTS: Final = {"created_at": SortKey(models.Assessment.created_at, models.Assessment.id, as_instant)}


@dataclass(frozen=True, slots=True)
class Filters:
    """What to look for; None asks for everything.

    Args:
        kind: ``battery`` or ``ultracapacitor``.
        cell: Id of a parameter set.
        strategy: Beginning of a strategy's name, without regard to case.
        end_of_life_criterion: ``capacity``, ``resistance``, ``capacitance``, ``esr``, ``requirement`` or ``power``.
        life_min_years: Shortest life [years].
        life_max_years: Longest life [years].
        cost_min: Least net present cost [currency].
        cost_max: Greatest net present cost [currency].
        created_from: First instant.
        created_to: Instant after the last.
    """

    kind: str | None = None
    cell: str | None = None
    strategy: str | None = None
    end_of_life_criterion: str | None = None
    life_min_years: float | None = None
    life_max_years: float | None = None
    cost_min: float | None = None
    cost_max: float | None = None
    created_from: datetime | None = None
    created_to: datetime | None = None


class StoredRow(SourceRow):
    """One source under one strategy of a stored assessment."""

    created_at_utc: datetime


COLUMN_OF: Final = {
    "study": "title",
    "source": "kind",
    "parameter_grade": "grade",
    "strategy_net_present_cost_currency": "net_present_cost",
    "strategy_equivalent_annual_cost_currency_per_year": "equivalent_annual_cost",
    "strategy_cost_currency_per_km": "cost_per_km",
    "created_at_utc": "created_at",
}
"""Columns of the database that have another name than in a row."""
_NAMES: Final = tuple(StoredRow.model_fields)
_PLAIN: Final = select(
    *(_COLUMNS[COLUMN_OF.get(name, name)].label(name) for name in _NAMES),
    *(key.column for key in SORTS.values()),
    _COLUMNS.id,
)
"""Sources as plain rows: first what a row shows, under its names, then what rows are sorted by."""


def get(session: Session, key: str, *, with_document: bool = True) -> models.Assessment:
    """One assessment with its document.

    Args:
        session: Where.
        key: Its id.
        with_document: False leaves the document in the database.

    Raises:
        NotFoundError: There is none.
    """
    query = select(models.Assessment).where(models.Assessment.id == key)
    if with_document:
        query = query.options(undefer(models.Assessment.document))
    row = session.scalars(query).first() if is_key(key) else None
    if row is None:
        raise NotFoundError("assessment", key)
    return row


def document_of(row: models.Assessment) -> ResultDocument:
    """The result document of an assessment, whatever version of the program stored it.

    Args:
        row: From ``get``.
    """
    return upgrade(row.document)


def listed(
    session: Session, *, cursor: str | None = None, limit: int = 50, sort: str = "-created_at", study: str | None = None
) -> Page[models.Assessment]:
    """One page of the assessments without their documents.

    Args:
        session: Where.
        cursor: From the page before.
        limit: Rows on the page.
        sort: ``created_at`` or ``-created_at``.
        study: Only those of this study.

    Raises:
        QueryError: Cursor, limit or sort cannot be used.
    """
    query = select(models.Assessment)
    if study is not None:
        query = query.where(models.Assessment.study_id == study if is_key(study) else false())
    return page(session, query, _LIST_SORTS, sort=sort, cursor=cursor, limit=limit)


def search(
    session: Session, filters: Filters, *, sort: str = "-created_at", cursor: str | None = None, limit: int = 50
) -> Page[Row[Any]]:
    """One page of sources under strategies, filtered and sorted, as plain rows with the names of a ``StoredRow``.

    Args:
        session: Where.
        filters: What to look for.
        sort: ``life``, ``cost``, ``created_at`` or ``strategy``, with ``-`` in front for descending.
        cursor: From the page before.
        limit: Rows on the page.

    Raises:
        QueryError: A filter, cursor, limit or sort cannot be used.
    """
    query = filtered(filters, ordered_by=sort.removeprefix("-"))
    return page(session, query, SORTS, sort=sort, cursor=cursor, limit=limit)


def sources(session: Session, key: str) -> Sequence[Source]:
    """All sources of one assessment, in the order of rank.

    Args:
        session: Where.
        key: The assessment's id.
    """
    return session.scalars(select(Source).where(Source.assessment_id == key).order_by(Source.id)).all()


def filtered(filters: Filters, ordered_by: str | None = None) -> Select[Any]:
    """The query for some filters, for plain rows without order.

    Args:
        filters: What to look for.
        ordered_by: Key in ``SORTS`` that the caller will sort by.

    Raises:
        QueryError: A filter cannot be used.
    """
    query = _PLAIN
    for column, value in (
        (_COLUMNS.kind, filters.kind),
        (_COLUMNS.cell, filters.cell),
        (_COLUMNS.end_of_life_criterion, filters.end_of_life_criterion),
    ):
        if value is not None:
            query = query.where(column == _text(value))
    if filters.strategy:
        folded = _text(filters.strategy).casefold()
        query = query.where(_COLUMNS.strategy_folded >= folded, _COLUMNS.strategy_folded < folded + "\U0010ffff")
    # A page in the order of one number while another is bounded: the sum keeps planners from fetching all that lies
    # within the bounds and sorting it, where walking the order's own index finds fifty rows at once.
    for name, key, low, high in (
        ("life", _COLUMNS.life_key, filters.life_min_years, filters.life_max_years),
        ("cost", _COLUMNS.cost_key, filters.cost_min, filters.cost_max),
        ("created_at", _COLUMNS.created_at, filters.created_from, filters.created_to),
    ):
        if low is None and high is None:
            continue
        bounded = key if name in {ordered_by, "created_at"} else key + 0.0
        if low is not None:
            query = query.where(bounded >= low)
        if high is not None:
            query = query.where(bounded < high if isinstance(high, datetime) else bounded <= high)
    return query


def flat_table(session: Session, filters: Filters, limit: int = 10_000) -> Sequence[Row[Any]]:
    """Life and cost inputs as plain rows with the unit in each column's name, for a spreadsheet or a cost model.

    Args:
        session: Where.
        filters: What to look for.
        limit: Most rows.

    Raises:
        QueryError: A filter cannot be used.
    """
    return session.execute(
        filtered(filters).order_by(_COLUMNS.created_at.desc(), _COLUMNS.id.desc()).limit(limit)
    ).all()


def shown(rows: Iterable[Row[Any]]) -> list[dict[str, Any]]:
    """Plain rows as what is sent: the fields of a ``StoredRow`` by name, in its order.

    What the database holds was checked when it was stored, and is not checked again: that took longer than finding it.

    Args:
        rows: From ``search`` or ``flat_table``.
    """
    return [dict(zip(_NAMES, row, strict=False)) for row in rows]


def flat_row(row: Source) -> StoredRow:
    """One source as a plain row.

    Args:
        row: The source.
    """
    values = {name: getattr(row, COLUMN_OF.get(name, name)) for name in StoredRow.model_fields}
    return StoredRow.model_validate(values)


def _text(value: str) -> str:
    if "\x00" in value or len(value) > 500:
        raise QueryError("filter", "must be text of at most 500 characters without NUL.")
    return value
