"""The blueprint of the pages: who may see them, forms that no other site can send, errors as pages."""

import hmac
import math
import secrets
from collections.abc import Sequence
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Any, Final

from apiflask import APIBlueprint
from flask import Response, abort, g, make_response, redirect, render_template, request, session, url_for
from markupsafe import Markup, escape
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from lifetime.errors import Fault, PackwearError, StudyError
from webapi import problems
from webapi.auth import COOKIE, bearer, came_with_header, identify, may
from webapi.errors import QueryError, TokenError
from webapi.forwarding import is_foreign
from webapi.models import Role

blueprint: Final = APIBlueprint(
    "pages",
    __name__,
    template_folder="templates",
    static_folder="static",
    static_url_path="/pages/static",
    enable_openapi=False,
)

_OPEN: Final = frozenset({"pages.static", "pages.plotly", "pages.sign_in"})
"""What may be had without a token: style, scripts, and the page that asks for one."""
_ADMINISTRATORS: Final = frozenset({"pages.audit", "pages.delete_history", "pages.delete_assessment"})
_CSRF: Final = "csrf"
_FOR_SCRIPTS: Final = ".json"


@blueprint.before_request
def admit() -> AnyResponse | None:
    """Let readers through, analysts also to what changes something, and refuse forms from other sites."""
    if request.endpoint in _OPEN:
        if request.method == "POST":
            _require_own_form()
        return None
    try:
        role = identify(bearer() or request.cookies.get(COOKIE))
    except TokenError:
        if request.method == "GET" and request.accept_mimetypes.accept_html:
            return redirect(url_for("pages.sign_in", next=request.full_path.rstrip("?")))
        raise
    needed = _needed_role()
    if not may(role, needed):
        abort(403, f"This needs the role {needed}; your token has {role}.")
    # Last, because reading a form reads an upload.
    if request.method == "POST":
        _require_own_form()
    return None


def _needed_role() -> Role:
    if request.endpoint in _ADMINISTRATORS:
        return "administrator"
    return "analyst" if request.method == "POST" and request.endpoint != "pages.sign_out" else "reader"


@blueprint.context_processor
def for_templates() -> dict[str, Any]:
    """What every template can use."""
    role: Role = g.get("role", "reader")
    return {
        "csrf_field": csrf_field,
        "signed_in_as": g.get("caller_name", ""),
        "may_write": may(role, "analyst"),
        "may_delete": may(role, "administrator"),
    }


def csrf_field() -> Markup:
    """A hidden field that proves a form came from our own page."""
    if _CSRF not in session:
        session[_CSRF] = secrets.token_urlsafe(32)
    return Markup('<input type="hidden" name="csrf" value="{}">').format(escape(session[_CSRF]))


def _require_own_form() -> None:
    if came_with_header():
        return
    if is_foreign():
        abort(403, "The form came from another site's page. Open the service's own page and send it there.")
    given, held = request.form.get(_CSRF, ""), session.get(_CSRF, "")
    if not held or not hmac.compare_digest(given.encode(), held.encode()):
        abort(400, "This form is too old, or is none of ours. Go back, reload the page, and send it again.")


@blueprint.errorhandler(PackwearError)
def on_purpose(error: PackwearError) -> AnyResponse:
    """An error raised on purpose, as a page, or as problem details where a script asked."""
    if request.path.endswith(_FOR_SCRIPTS):
        return problems.of_error(error)
    status = problems.status_of(error)
    faults = error.faults if isinstance(error, StudyError) else ()
    return message_page(status, str(error) if not faults else "The study has faults.", faults)


@blueprint.errorhandler(HTTPException)
def framework(error: HTTPException) -> AnyResponse:
    """An error of the web framework, as a page, or as problem details where a script asked."""
    if request.path.endswith(_FOR_SCRIPTS):
        return problems.of_http(error)
    if isinstance(error.response, AnyResponse):
        return error.response
    return message_page(error.code or 500, error.description or "")


def message_page(status: int, words: str, faults: Sequence[Fault] = ()) -> Response:
    """A page that says what went wrong and leads on.

    Args:
        status: HTTP status.
        words: What happened and what to do.
        faults: Single faults, where there are several.
    """
    heading = HTTPStatus(status).phrase
    page = render_template("pages/message.html", heading=heading, words=words, found=faults)
    return make_response(page, status)


def moment(when: datetime) -> str:
    """An instant in words, in UTC.

    Args:
        when: With its zone.
    """
    return f"{when.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def asked_number(name: str, text: str) -> float:
    """A number of an address's query.

    Args:
        name: Its name there.
        text: As it stands there.

    Raises:
        QueryError: It is no finite number.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise QueryError(name, f'must be a number, got "{text[:40]}".')
    return value


def wait_or_go(seconds: float) -> None:
    """Answer "too many requests" where a limit asks to wait.

    Args:
        seconds: From a rate limit; 0 where the caller may go on.
    """
    if seconds > 0.0:
        abort(429, f"Too many at once. Try again in {max(1, round(seconds))} seconds.")
