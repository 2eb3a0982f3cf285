"""Days and instants as people write them in a query: a year is the whole year, and any offset from UTC will do."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

from webapi.errors import QueryError

_DATE: Final = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?", re.ASCII)
_LOST_PLUS: Final = re.compile(r"(\S{8,10}[T ]\d{2}\S{0,20}) (\d{2}(?::?\d{2})?)", re.ASCII)
"""A plus sign that nobody escaped arrives as a space."""
_LONGEST: Final = 60
_LAST: Final = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time.

    Args:
        first: Its first instant.
        end: The first instant after it; that of an instant is the instant itself.
    """

    first: datetime
    end: datetime


def span(field: str, text: str) -> Span:
    """What a date or an instant in a query stands for.

    Args:
        field: The query's field, for messages.
        text: A year, a month, a day (all of them in UTC), or an instant with its offset, as ISO 8601 writes them.

    Raises:
        QueryError: It is none of these, or an instant without an offset.
    """
    given = text.strip().upper().replace("\N{MINUS SIGN}", "-")
    wrong = QueryError(
        field, f'must be 2026, 2026-01, 2026-01-31 or an instant such as 2026-01-31T12:00:00Z, got "{text[:40]}".'
    )
    if len(given) > _LONGEST:
        raise wrong
    try:
        if (date := _DATE.fullmatch(given)) is not None:
            return _span_of_date(*(None if one is None else int(one) for one in date.groups()))
        lost = _LOST_PLUS.fullmatch(given)
        instant = datetime.fromisoformat(given if lost is None else f"{lost[1]}+{lost[2]}")
        if instant.tzinfo is None:
            raise QueryError(field, "has no zone; write for example 2026-01-31T00:00:00Z.")
        instant = instant.astimezone(UTC)
    except (ValueError, OverflowError):
        raise wrong from None
    return Span(instant, instant)


def _span_of_date(year: int | None, month: int | None, day: int | None) -> Span:
    assert year is not None  # noqa: S101 - the pattern has one
    first = datetime(year, month or 1, day or 1, tzinfo=UTC)
    try:
        if day is not None:
            return Span(first, first + timedelta(days=1))
        if month is not None:
            return Span(first, datetime(year + month // 12, month % 12 + 1, 1, tzinfo=UTC))
        return Span(first, datetime(year + 1, 1, 1, tzinfo=UTC))
    except (ValueError, OverflowError):
        return Span(first, _LAST)  # nothing comes after the year 9999
