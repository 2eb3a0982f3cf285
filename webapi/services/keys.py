"""Ids as people type them: the first letters are enough where they fit one thing only."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapi.errors import NotFoundError, QueryError
from webapi.models import Assessment, Sweep


def of_assessment(session: Session, start: str) -> str:
    """The id of the one assessment that begins so.

    Args:
        session: Where.
        start: The id or its first letters.

    Raises:
        NotFoundError: None does.
        QueryError: Several do.
    """
    return _only("assessment", start, _fitting(session, Assessment, start))


def of_anything(session: Session, start: str) -> str:
    """The id of the one assessment or sweep that begins so.

    Args:
        session: Where.
        start: The id or its first letters.

    Raises:
        NotFoundError: None does.
        QueryError: Several do.
    """
    return _only("assessment or sweep", start, _fitting(session, Assessment, start) + _fitting(session, Sweep, start))


def _fitting(session: Session, table: type[Assessment] | type[Sweep], start: str) -> list[str]:
    query = select(table.id).where(table.id.startswith(start, autoescape=True)).order_by(table.id).limit(2)
    return list(session.scalars(query))


def _only(kind: str, start: str, found: list[str]) -> str:
    if not found or not start:
        raise NotFoundError(kind, start)
    if len(found) > 1:
        raise QueryError("id", f'"{start}" begins several: {", ".join(found)}. Give more of it.')
    return found[0]
