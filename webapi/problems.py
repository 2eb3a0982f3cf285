"""Every error body of the service, built by one function: problem details (RFC 9457)."""

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any, Final

from flask import Response, current_app, g
from werkzeug.exceptions import HTTPException

from lifetime.errors import (
    AssessmentError,
    ConvergenceError,
    Fault,
    HistoryError,
    InputError,
    MissingPackageError,
    NumberError,
    PackwearError,
    ProfileError,
    StudyError,
)
from webapi.errors import (
    ConflictError,
    DatabaseStateError,
    LimitError,
    ListenError,
    NotFoundError,
    QueryError,
    ReadingError,
    StoreError,
    TokenError,
)

STATUS: Final[dict[type[PackwearError], int]] = {
    PackwearError: 500,
    InputError: 400,
    HistoryError: 422,
    ProfileError: 422,
    StudyError: 422,
    NumberError: 422,
    AssessmentError: 422,
    ConvergenceError: 422,
    MissingPackageError: 501,
    LimitError: 413,
    QueryError: 400,
    NotFoundError: 404,
    ConflictError: 409,
    TokenError: 401,
    StoreError: 503,
    DatabaseStateError: 503,
    ListenError: 503,
    ReadingError: 422,
}
"""Status of every error that the library and the service raise on purpose; a test asks for completeness."""


def problem(status: int, detail: str, faults: Sequence[Fault] = (), headers: dict[str, str] | None = None) -> Response:
    """The one error body.

    Args:
        status: HTTP status, 400 to 599.
        detail: What is wrong, where, what was expected, what to do.
        faults: Single faults with their places, where there are several.
        headers: More headers.
    """
    body: dict[str, Any] = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "request_id": g.get("request_id", ""),
        "faults": [{"place": one.place, "message": one.message} for one in faults],
    }
    response: Response = current_app.response_class(
        current_app.json.dumps(body), status=status, mimetype="application/problem+json"
    )
    response.headers.update(headers or {})
    return response


def status_of(error: PackwearError) -> int:
    """The HTTP status of an error raised on purpose: that of its class, or of the nearest class above.

    Args:
        error: Any error of the tree.
    """
    return next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)


def of_error(error: PackwearError) -> Response:
    """The body of an error raised on purpose.

    Args:
        error: Any error of the tree.
    """
    status = status_of(error)
    faults: Sequence[Fault] = error.faults if isinstance(error, StudyError) else ()
    detail = "The study has faults; each is listed with its place." if faults else str(error)
    headers = {"WWW-Authenticate": 'Bearer realm="packwear"'} if status == 401 else None
    return problem(status, detail, faults, headers)


def of_http(error: HTTPException) -> Response:
    """The body of an error of the web framework: no such page, wrong method, wrong content.

    Args:
        error: With its status.
    """
    status = error.code or 500
    given = error.get_headers() if error.response is None else []
    headers = {name: value for name, value in given if name.lower() in {"allow", "retry-after"}}
    return problem(status, error.description or HTTPStatus(status).phrase, headers=headers)
