"""Insert a row once, however many processes try at the same time."""

from collections.abc import Sequence
from typing import Any, TypeVar

from sqlalchemy import inspect, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import InstrumentedAttribute, Session

from webapi.models import Base

Model = TypeVar("Model", bound=Base)


def insert_once(session: Session, row: Model, unique: Sequence[InstrumentedAttribute[Any]] = ()) -> tuple[Model, bool]:
    """Insert a row unless one with its primary key, or its other unique columns, is there already.

    Part of the caller's transaction. Another transaction that is about to insert the same is waited for.

    Args:
        session: In a writing transaction.
        row: A new object, not yet in any session.
        unique: Columns that no two rows share, where that is not the primary key alone.

    Returns:
        The row that is stored now, and whether it is this one.
    """
    mapper = inspect(type(row))
    values = {
        attribute.columns[0].name: getattr(row, attribute.key)
        for attribute in mapper.column_attrs
        if attribute.key in row.__dict__
    }
    # The drivers disagree about the number of rows, so the database itself says what it inserted.
    inserted = session.execute(_insert(session, type(row), values).returning(*mapper.primary_key)).first()
    if inserted is not None or not unique:
        stored = session.get(type(row), tuple(values[column.name] for column in mapper.primary_key))
    else:
        same = (column == getattr(row, column.key) for column in unique)
        stored = session.scalars(select(type(row)).where(*same)).first()
    assert stored is not None  # noqa: S101 - it was there or has just been inserted
    return stored, inserted is not None


def _insert(session: Session, model: type[Base], values: dict[str, Any]) -> Any:
    dialect = sqlite if session.get_bind().dialect.name == "sqlite" else postgresql
    return dialect.insert(model).values(**values).on_conflict_do_nothing()
