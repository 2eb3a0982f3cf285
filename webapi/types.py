"""Column types that keep what a database would lose: the time zone, and the difference between NaN and nothing."""

import math
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np
from sqlalchemy import JSON, DateTime, Dialect, Double
from sqlalchemy.types import TypeDecorator

from lifetime.errors import NumberError


def plain(value: Any, place: str = "value") -> Any:
    """Turn numpy scalars, arrays and tuples into plain data, and refuse what JSON cannot say.

    Args:
        value: Mappings with text keys, sequences, numbers, text, booleans, None.
        place: How the message calls it.

    Raises:
        NumberError: A number is NaN or infinite. A database would store NaN as NULL without a word (and JSON has
            neither), so the place that made it must say what is meant.
        TypeError: A value is of a kind that JSON does not know.
    """
    if isinstance(value, np.generic | np.ndarray):
        value = value.tolist()
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return finite(value, place)
    if isinstance(value, Mapping):
        return {_key(key): plain(item, f"{place}.{key}") for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item, f"{place}[{number}]") for number, item in enumerate(value)]
    raise TypeError(f"{place} is a {type(value).__name__}, which JSON does not know.")


def finite(value: float, place: str = "value") -> float:
    """A float as it is.

    Args:
        value: The number.
        place: How the message calls it.

    Raises:
        NumberError: It is NaN or infinite.
    """
    number = float(value)
    if not math.isfinite(number):
        raise NumberError(f"{place} is {number}, expected a finite number. Give None with a reason for no result.")
    return number


def utc_now() -> datetime:
    """This instant, with its zone."""
    return datetime.now(UTC)


def _key(key: Any) -> str:
    if not isinstance(key, str):
        raise TypeError(f"{key!r} is a {type(key).__name__}; the keys of a document are text.")
    return key


class UtcDateTime(TypeDecorator[datetime]):
    """An instant: any zone goes in, the same instant in UTC comes out; a time without a zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Convert to UTC; SQLite keeps no zone, so it gets the UTC clock alone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value.isoformat()} has no time zone. Give one, for example UTC.")
        instant = value.astimezone(UTC)
        return instant.replace(tzinfo=None) if dialect.name == "sqlite" else instant

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Attach UTC again."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class FiniteFloat(TypeDecorator[float]):
    """A 64-bit float; NaN and infinity are refused before the write, numpy scalars converted."""

    impl = Double
    cache_ok = True

    def process_bind_param(self, value: float | None, dialect: Dialect) -> float | None:
        """Check and convert."""
        return None if value is None else finite(value, "a number for the database")


class StrictJson(TypeDecorator[Any]):
    """A JSON document in the order given; NaN and infinity are refused before the write, numpy converted."""

    impl = JSON(none_as_null=True)
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:
        """Check and convert."""
        return plain(value, "document")
