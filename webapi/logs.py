"""Structured logs: one JSON object a line, a request id on each, never a token, a body or a query."""

import json
import logging
import re
import secrets
import sys
import time
from typing import Any, Final

from flask import Flask, Response, g, request

LOGGER: Final = logging.getLogger("packwear")
_GIVEN_ID: Final = re.compile(r"[A-Za-z0-9._-]{1,64}")


class JsonFormatter(logging.Formatter):
    """One log record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Write the record."""
        line: dict[str, Any] = {
            "time": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname.lower(),
            "message": record.getMessage(),
            **getattr(record, "facts", {}),
        }
        if record.exc_info:
            line["error"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


def start_logging(level: str) -> None:
    """Send this program's logs to standard error.

    Args:
        level: debug, info, warning or error.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonFormatter())
    LOGGER.handlers[:] = [handler]
    LOGGER.setLevel(level.upper())
    LOGGER.propagate = False


def log_requests(app: Flask) -> None:
    """Give every request an id and log how it ended.

    Args:
        app: The application.
    """

    @app.before_request
    def begin() -> None:
        given = request.headers.get("X-Request-Id", "")
        g.request_id = given if _GIVEN_ID.fullmatch(given) else secrets.token_hex(8)
        g.begun = time.perf_counter()

    @app.after_request
    def end(response: Response) -> Response:
        request_id = g.get("request_id", "")
        response.headers["X-Request-Id"] = request_id
        facts = {
            "request_id": request_id,
            "method": request.method,
            "route": request.url_rule.rule if request.url_rule else None,
            "status": response.status_code,
            "duration_ms": round(1000.0 * (time.perf_counter() - g.get("begun", time.perf_counter())), 1),
            "caller": g.get("caller"),
            "address": request.remote_addr,
        }
        LOGGER.info("request", extra={"facts": facts})
        return response
