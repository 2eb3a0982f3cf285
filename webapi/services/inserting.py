"""Insert a row once, however many processes try at the same time."""

from typing import Any, TypeVar

from sqlalchemy import Insert, inspect
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from webapi.models import Base

Model = TypeVar("Model", bound=Base)


def insert_once(session: Session, row: Model) -> tuple[Model, bool]:
    """Insert a row unless one with its primary key is there; part of the caller's transaction.

    Args:
        session: In a writing transaction.
        row: A new object, not yet in any session.

    Returns:
        The row that is stored now, and whether it is this one.
    """
    mapper = inspect(type(row))
    values = {
        attribute.columns[0].name: getattr(row, attribute.key)
        for attribute in mapper.column_attrs
        if attribute.key in row.__dict__
    }
    result = session.execute(_insert(session, type(row), values))
    key = tuple(values[column.name] for column in mapper.primary_key)
    stored = session.get(type(row), key)
    assert stored is not None  # noqa: S101 - it was there or has just been inserted
    return stored, bool(getattr(result, "rowcount", 0))


def _insert(session: Session, model: type[Base], values: dict[str, Any]) -> Insert:
    dialect = sqlite if session.get_bind().dialect.name == "sqlite" else postgresql
    statement: Insert = dialect.insert(model).values(**values).on_conflict_do_nothing()
    return statement
