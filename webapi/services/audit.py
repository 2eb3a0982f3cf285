"""The audit trail: who changed what, and when; written in the same transaction as the change."""

from dataclasses import dataclass
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapi.models import AuditAction, AuditEntry, AuditSubject
from webapi.services.paging import Page, SortKey, as_instant, page

_SORTS: Final = {"created_at": SortKey(AuditEntry.created_at, AuditEntry.id, as_instant)}


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts.

    Args:
        name: The token's name, or ``local``.
        token_id: The token's id; None for a caller of this machine without one.
    """

    name: str
    token_id: str | None = None


LOCAL: Final = Actor("local")
"""A command on this machine, or a request from it where no token is asked for."""


def note(session: Session, by: Actor, action: AuditAction, subject: AuditSubject, key: str, title: str) -> None:
    """Note a change; part of the caller's transaction.

    Args:
        session: In a writing transaction.
        by: Who acts.
        action: What was done.
        subject: What it was done to.
        key: The subject's id.
        title: What people call the subject.
    """
    session.add(
        AuditEntry(who=by.name, token_id=by.token_id, action=action, subject=subject, subject_id=key, title=title)
    )


def listed(
    session: Session, *, cursor: str | None = None, limit: int = 50, sort: str = "-created_at"
) -> Page[AuditEntry]:
    """One page of the audit trail, the newest first.

    Args:
        session: Where.
        cursor: From the page before.
        limit: Rows on the page.
        sort: ``created_at`` or ``-created_at``.

    Raises:
        QueryError: Cursor, limit or sort cannot be used.
    """
    return page(session, select(AuditEntry), _SORTS, sort=sort, cursor=cursor, limit=limit)
