"""Pages by key: each next page begins after the last row of the one before, however deep, for the same small cost."""

import base64
import binascii
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final, Generic, TypeVar

from sqlalchemy import Select, tuple_
from sqlalchemy.orm import InstrumentedAttribute, Session
from sqlalchemy.sql.elements import KeyedColumnElement

from webapi.errors import QueryError
from webapi.services.keys import is_key

Row = TypeVar("Row")

MOST_ROWS: Final = 500
"""Largest page."""
_LONGEST_CURSOR: Final = 2_000


@dataclass(frozen=True, slots=True)
class Page(Generic[Row]):
    """One page of rows.

    Args:
        items: The rows.
        next_cursor: Text that asks for the page after this one; None on the last.
    """

    items: tuple[Row, ...]
    next_cursor: str | None


@dataclass(frozen=True, slots=True)
class SortKey:
    """A column that rows can be sorted by, with the primary key as tie-break.

    Args:
        column: Never NULL.
        identity: The primary key.
        read: From the text or number in a cursor to the column's type; raises ``ValueError`` or ``TypeError``.
    """

    column: InstrumentedAttribute[Any] | KeyedColumnElement[Any]
    identity: InstrumentedAttribute[Any] | KeyedColumnElement[Any]
    read: Callable[[Any], Any]


def as_number(value: Any) -> float:
    """A number from a cursor."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError
    return float(value)


def as_text(value: Any) -> str:
    """Text from a cursor."""
    if not isinstance(value, str) or "\x00" in value:
        raise TypeError
    value.encode()  # half a character is none
    return value


def as_instant(value: Any) -> datetime:
    """An instant from a cursor."""
    instant = datetime.fromisoformat(as_text(value))
    if instant.tzinfo is None:
        raise ValueError
    return instant.astimezone(UTC)


def page(
    session: Session,
    query: Select[Any],
    keys: dict[str, SortKey],
    *,
    sort: str,
    cursor: str | None,
    limit: int,
) -> Page[Row]:
    """Run a query for one page.

    Args:
        session: Where.
        query: With its filters, without order; of one entity, or of columns, which are read as plain rows. Plain rows
            hold the columns that they are sorted by, and the primary key, under their own names.
        keys: What rows can be sorted by.
        sort: One of ``keys``, with a minus sign in front for descending.
        cursor: ``next_cursor`` of the page before, or None for the first.
        limit: Rows on the page, 1 to 500.

    Raises:
        QueryError: Sort key, cursor or limit cannot be used.
    """
    key, descending = _sort_key(keys, sort)
    if not 1 <= limit <= MOST_ROWS:
        raise QueryError("limit", f"must be 1 to {MOST_ROWS}, got {limit}.")
    columns = (key.column, key.identity)
    if cursor is not None:
        last = _decode(cursor, sort, key)
        query = query.where(tuple_(*columns) < tuple_(*last) if descending else tuple_(*columns) > tuple_(*last))
    query = query.order_by(*(column.desc() if descending else column.asc() for column in columns)).limit(limit + 1)
    found = session.execute(query)
    rows: Sequence[Any] = found.all() if len(found.keys()) > 1 else found.scalars().all()
    more = len(rows) > limit
    return Page(tuple(rows[:limit]), _encode(rows[limit - 1], sort, key) if more else None)


def _sort_key(keys: dict[str, SortKey], sort: str) -> tuple[SortKey, bool]:
    key = keys.get(sort.removeprefix("-"))
    if key is None:
        known = ", ".join(keys)
        raise QueryError("sort", f'must be one of {known}, with "-" in front for descending, got "{sort[:80]}".')
    return key, sort.startswith("-")


def _encode(row: Any, sort: str, key: SortKey) -> str:
    value, identity = getattr(row, key.column.key), getattr(row, key.identity.key)
    text = json.dumps([sort, value.isoformat() if isinstance(value, datetime) else value, identity], allow_nan=False)
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _decode(cursor: str, sort: str, key: SortKey) -> tuple[Any, Any]:
    wrong = QueryError("cursor", "is not one that this list gave out for this sort. Start again without it.")
    if len(cursor) > _LONGEST_CURSOR:
        raise wrong
    try:
        text = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        given, value, identity = json.loads(text)
        python_type = key.identity.type.python_type
        if given != sort or type(identity) is not python_type:
            raise wrong
        if python_type is str and not is_key(identity):
            raise wrong
        if python_type is int and not -(2**63) <= identity < 2**63:
            raise wrong
        return key.read(value), identity
    except (ValueError, TypeError, OverflowError, RecursionError, binascii.Error):
        raise wrong from None
