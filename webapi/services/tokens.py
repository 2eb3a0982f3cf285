"""Bearer tokens: shown once, stored hashed, revocable, last use shown."""

import hashlib
import hmac
import secrets
from collections.abc import Sequence
from datetime import timedelta
from typing import Final

from sqlalchemy import select, update
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from webapi.database import write
from webapi.errors import QueryError, TokenError
from webapi.models import ROLES, Role, Token
from webapi.services import audit
from webapi.services.audit import LOCAL, Actor
from webapi.services.keys import stored
from webapi.types import utc_now

_MARK: Final = "packwear"
_LAST_USE_STEP: Final = timedelta(minutes=1)
"""The last use is stored no finer than this, so that a busy caller does not write with every request."""
_NO_HASH: Final = "0" * 64
_LONGEST: Final = 200


def create(session: Session, name: str, role: Role, by: Actor = LOCAL) -> tuple[Token, str]:
    """Make a token.

    Args:
        session: Where.
        name: Who or what it is for, 1 to 120 characters.
        role: What its holder may do.
        by: Who makes it.

    Returns:
        The row, and the token itself: it cannot be shown again.

    Raises:
        QueryError: The name is empty or too long, or there is no such role.
    """
    if not 1 <= len(name.strip()) <= 120 or "\x00" in name:
        raise QueryError("name", "must have 1 to 120 characters.")
    if role not in ROLES:
        raise QueryError("role", f'must be one of {", ".join(ROLES)}, got "{role}".')
    secret = secrets.token_urlsafe(32)
    token = Token(id=secrets.token_hex(6), name=name.strip(), role=role, secret_hash=_hash(secret))
    with write(session):
        session.add(token)
        audit.note(session, by, "created", "token", token.id, f"{token.name} ({token.role})")
    return token, f"{_MARK}_{token.id}_{secret}"


def verify(session: Session, text: str) -> Token:
    """Find out whose token this is, in a time that does not depend on how much of it is right.

    Args:
        session: Where.
        text: The token as the caller sent it.

    Raises:
        TokenError: It is unknown, wrong or revoked.
    """
    mark, _, rest = text[:_LONGEST].partition("_")
    key, _, secret = rest.partition("_")
    token = session.get(Token, key) if key.isascii() and key.isalnum() else None
    matches = hmac.compare_digest(_hash(secret), _NO_HASH if token is None else token.secret_hash)
    if token is None or not matches or mark != _MARK or token.revoked_at is not None:
        raise TokenError("The token is not valid. Ask an administrator for a new one.")
    _note_use(session, token)
    return token


def revoke(session: Session, key: str, by: Actor = LOCAL) -> Token:
    """Take a token out of use at once; doing so twice changes nothing.

    Args:
        session: Where.
        key: The token's id, the part between the underscores.
        by: Who revokes it.

    Raises:
        NotFoundError: There is no such token.
    """
    with write(session):
        token = stored(session, Token, "token", key, fresh=True)
        if token.revoked_at is None:
            token.revoked_at = utc_now()
            audit.note(session, by, "revoked", "token", token.id, f"{token.name} ({token.role})")
    return token


def listed(session: Session) -> Sequence[Token]:
    """All tokens, the newest first.

    Args:
        session: Where.
    """
    return session.scalars(select(Token).order_by(Token.created_at.desc(), Token.id)).all()


def is_any(session: Session) -> bool:
    """True where at least one token is in use.

    Args:
        session: Where.
    """
    return session.scalars(select(Token.id).where(Token.revoked_at.is_(None)).limit(1)).first() is not None


def _hash(secret: str) -> str:
    # 256 random bits need no salt and no slow hash: there is no dictionary to try.
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _note_use(session: Session, token: Token) -> None:
    now = utc_now()
    if token.last_used_at is not None and now - token.last_used_at < _LAST_USE_STEP:
        return
    session.expunge(token)  # a refused write must not take what was read with it
    try:
        with write(session):
            session.execute(update(Token).where(Token.id == token.id).values(last_used_at=now))
    except DBAPIError:
        return  # a busy or read-only database must not turn a valid token away; the next request notes the use
