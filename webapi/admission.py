"""Whose large bodies are received at all: nothing big is held, in memory or on disk, before its sender is known."""

import io
from typing import Any

from flask import Flask, request
from werkzeug.exceptions import HTTPException

from lifetime.errors import PackwearError
from webapi.auth import COOKIE, bearer, identify


def admits(app: Flask, environ: dict[str, Any]) -> bool:
    """Whether the rest of a request may be received, judged by its header alone.

    Args:
        app: The application, whose checks before a request are made.
        environ: The request without its body.
    """
    without_body = {**environ, "CONTENT_LENGTH": "0", "wsgi.input": io.BytesIO()}
    with app.request_context(without_body):
        try:
            for check in app.before_request_funcs.get(None, ()):
                check()
            identify(bearer() or request.cookies.get(COOKIE))
        except (HTTPException, PackwearError):
            return False
    return True
