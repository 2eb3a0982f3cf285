"""Who may: bearer tokens with a role; loopback on the embedded database works without one."""

from collections.abc import Callable
from functools import wraps
from typing import Final, ParamSpec, TypeVar

from flask import g, request

from webapi.context import context
from webapi.errors import TokenError
from webapi.models import ROLES, Role
from webapi.problems import problem
from webapi.services import tokens
from webapi.services.audit import LOCAL, Actor

P = ParamSpec("P")
R = TypeVar("R")

COOKIE: Final = "packwear_token"
"""Cookie in which the pages keep a token; the API looks at the header alone."""


def bearer() -> str | None:
    """The token of the request's Authorization header; None without the header, empty where it holds no token."""
    given = request.headers.get("Authorization")
    if given is None:
        return None
    scheme, _, token = given.partition(" ")
    return token.strip() if scheme.lower() == "bearer" else ""


def identify(token: str | None) -> Role:
    """Find out the role of a caller, and note the caller for limits and logs.

    Args:
        token: The token, or None.

    Raises:
        TokenError: A token is needed and missing, or the one given is not valid.
    """
    held = context()
    if token is None:
        if held.settings.needs_token:
            raise TokenError("A token is needed. Send it as: Authorization: Bearer TOKEN")
        g.caller, g.role, g.caller_name = f"address:{request.remote_addr}", "administrator", ""
        g.actor = LOCAL
        return "administrator"
    with held.factory() as session:
        row = tokens.verify(session, token)
    g.caller, g.role, g.caller_name = f"token:{row.id}", row.role, row.name
    g.actor = Actor(row.name, row.id)
    return row.role


def actor() -> Actor:
    """Who sent the request at hand, for the audit trail; only after ``identify``."""
    found: Actor = g.actor
    return found


def came_with_header() -> bool:
    """True where the request at hand carries a valid token in its header, which no other site can make a browser send.

    An Authorization header alone proves nothing: a browser adds one by itself for a proxy that asks for a password.
    """
    return bool(bearer()) and str(g.get("caller", "")).startswith("token:")


def may(role: Role, needed: Role) -> bool:
    """Whether a role includes another.

    Args:
        role: Role held.
        needed: Role asked for.
    """
    return ROLES.index(role) >= ROLES.index(needed)


def needs(needed: Role) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let only callers of a role, or a higher one, through to an API route.

    Args:
        needed: The role.
    """

    def wrap(view: Callable[P, R]) -> Callable[P, R]:
        @wraps(view)
        def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
            role = identify(bearer())
            if not may(role, needed):
                return problem(403, f'This needs the role "{needed}"; the token has "{role}".')  # type: ignore[return-value]
            return view(*args, **kwargs)

        return guarded

    return wrap
