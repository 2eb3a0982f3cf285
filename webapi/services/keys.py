"""Ids as people type them: the first letters are enough where they fit one thing only."""

from typing import Final, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapi.errors import NotFoundError, QueryError
from webapi.models import Assessment, Base, History, Sweep

_LONGEST: Final = 200
_Row = TypeVar("_Row", bound=Base)


def is_key(text: str) -> bool:
    """Whether a text can be the id of anything; what cannot must not reach the database, which may refuse to look.

    Args:
        text: As a caller sent it.
    """
    return len(text) <= _LONGEST and text.isascii() and text.isprintable()


def stored(session: Session, model: type[_Row], kind: str, key: str, *, fresh: bool = False) -> _Row:
    """The row of an id.

    Args:
        session: Where.
        model: The table.
        kind: What messages call it.
        key: Its id.
        fresh: Whether to read it again where the session holds it already.

    Raises:
        NotFoundError: There is none.
    """
    row = session.get(model, key, populate_existing=fresh) if is_key(key) else None
    if row is None:
        raise NotFoundError(kind, key)
    return row


def full_id(session: Session, start: str, *tables: type[Assessment] | type[History] | type[Sweep]) -> str:
    """The id of the one row that begins so.

    Args:
        session: Where.
        start: The id or its first letters.
        tables: Where to look, at least one.

    Raises:
        NotFoundError: None does.
        QueryError: Several do.
    """
    found: list[str] = []
    for table in tables if is_key(start) else ():
        query = select(table.id).where(table.id.startswith(start, autoescape=True)).order_by(table.id).limit(2)
        found += session.scalars(query)
    if not found or not start:
        raise NotFoundError(" or ".join(table.__name__.lower() for table in tables), start)
    if len(found) > 1:
        raise QueryError("id", f'"{start}" begins several: {", ".join(found)}. Give more of it.')
    return found[0]
