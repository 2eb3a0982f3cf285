"""The application factory: one call makes the whole web side from settings."""

import errno
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Final

from apiflask import APIFlask, HTTPError
from flask import Response, request
from sqlalchemy.exc import DatabaseError, DataError, InternalError, OperationalError, SQLAlchemyError
from werkzeug.exceptions import HTTPException

from lifetime.errors import Fault, PackwearError
from lifetime.report.html import report_templates
from webapi import migrate, problems
from webapi.api import blueprints
from webapi.api.description import describe
from webapi.context import Context
from webapi.forwarding import answer_this_machine_alone, believe_proxies
from webapi.logs import LOGGER, log_requests
from webapi.readiness import make_ready
from webapi.security import Sessions, answer_only_to, protect
from webapi.settings import Settings
from webapi.strict_json import StrictProvider

_NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT)
FORM_OVERHEAD_BYTES = 100_000
"""What a multipart form may add to the file it carries."""


def create_app(settings: Settings, limits_file: Path | None = None) -> APIFlask:
    """Make the application.

    Args:
        settings: Everything that can be set.
        limits_file: Where several web processes count what callers do; None counts in this one alone.

    Raises:
        DatabaseStateError: The database does not fit the program, or tokens are needed and there are none; the message
            names the command that helps.
    """
    held = Context.open(settings, limits_file)
    try:
        make_ready(held.engine, settings)
    except BaseException:
        # A refused start leaves no connection open.
        held.engine.dispose()
        raise
    app = APIFlask(
        __name__,
        title="packwear",
        version=version("packwear"),
        spec_path="/api/openapi.json",
        docs_path=None,
        json_errors=False,
        static_folder=None,  # type: ignore[arg-type]
    )
    app.json = StrictProvider(app)
    app.extensions["packwear"] = held
    app.config["MAX_CONTENT_LENGTH"] = settings.upload_bytes + FORM_OVERHEAD_BYTES
    app.config["MAX_FORM_MEMORY_SIZE"] = settings.study_bytes
    app.config["SECRET_KEY"] = _secret(settings)
    app.config["SESSION_COOKIE_SAMESITE"] = "Strict"
    app.config["SESSION_COOKIE_HTTPONLY"] = True
    app.session_interface = Sessions()
    app.jinja_loader = report_templates()
    believe_proxies(app, settings)
    log_requests(app)
    protect(app)
    if not settings.needs_token:
        answer_only_to(app, frozenset({"localhost", "127.0.0.1", "::1", settings.host.lower()}))
        answer_this_machine_alone(app)
    _accept_only_while_current(app, held)
    _answer_errors(app)
    for blueprint in blueprints():
        app.register_blueprint(blueprint)
    describe(app)
    _add_pages(app)
    return app


def _accept_only_while_current(app: APIFlask, held: Context) -> None:
    """Take nothing more once another program has changed the database's tables."""

    @app.before_request
    def check() -> None:
        if request.method in {"POST", "DELETE"}:
            migrate.require_current(held.engine)


def _secret(settings: Settings) -> str:
    import secrets  # noqa: PLC0415 - only here

    return settings.secret_key.get_secret_value() if settings.secret_key else secrets.token_hex(32)


def _answer_errors(app: APIFlask) -> None:
    @app.errorhandler(PackwearError)
    def on_purpose(error: PackwearError) -> Response:
        return problems.of_error(error)

    @app.errorhandler(HTTPError)
    def query(error: HTTPError) -> Response:
        places = error.detail if isinstance(error.detail, dict) else {}
        faults = [
            Fault(field, message)
            for fields in places.values()
            if isinstance(fields, dict)
            for field, messages in fields.items()
            for message in messages
        ]
        return problems.problem(error.status_code, error.message or "The request cannot be read.", faults)

    @app.errorhandler(HTTPException)
    def framework(error: HTTPException) -> Response:
        return problems.of_http(error)

    @app.errorhandler(OSError)
    def no_room(error: OSError) -> Response:
        if error.errno not in _NO_ROOM:
            return unexpected(error)
        LOGGER.warning("no room", exc_info=error)
        return problems.problem(503, "The disk is full. Nothing was kept; free some room, then try again.")

    @app.errorhandler(SQLAlchemyError)
    @app.errorhandler(Exception)
    def unexpected(error: Exception) -> Response:
        LOGGER.error("unexpected", exc_info=error)
        return problems.problem(500, "Internal error. The server's log has it under this request id.")

    _answer_database_errors(app, unexpected)


def _answer_database_errors(app: APIFlask, unexpected: Callable[[Exception], Response]) -> None:
    @app.errorhandler(OperationalError)
    def busy(error: OperationalError) -> Response:
        LOGGER.warning("database", exc_info=error)
        return problems.problem(
            503, "The database is busy or cannot be reached. Try again in a moment.", headers={"Retry-After": "2"}
        )

    @app.errorhandler(InternalError)
    def closed(error: InternalError) -> Response:
        LOGGER.warning("database", exc_info=error)
        return problems.problem(503, "The database takes no changes at the moment. Try again later.")

    @app.errorhandler(DataError)
    def unusable(error: DataError) -> Response:
        LOGGER.warning("database", exc_info=error)
        return problems.problem(400, "The request holds text or a number that no database can hold. Correct it.")

    @app.errorhandler(DatabaseError)
    def damaged(error: DatabaseError) -> Response:
        if type(error) is not DatabaseError:
            return unexpected(error)  # its kinds are other faults than a damaged file
        LOGGER.error("damaged", exc_info=error)
        return problems.problem(
            503, "The database's file is damaged. Ask its administrator to run packwear db check and restore a backup."
        )


def _add_pages(app: APIFlask) -> None:
    from webapi.pages import blueprint  # noqa: PLC0415 - pages stand above the application's parts

    app.register_blueprint(blueprint)
