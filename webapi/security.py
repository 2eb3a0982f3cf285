"""Headers that every answer carries, and the names the service answers to."""

from typing import Final
from urllib.parse import urlsplit

from flask import Flask, Response, abort, request
from flask.sessions import SecureCookieSessionInterface

# Plotly sets the style attribute of what it draws, so styles may be inline; scripts may not, and nothing may come from
# another host.
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "connect-src 'self'; font-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS: Final = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


_HSTS: Final = "max-age=31536000"


class Sessions(SecureCookieSessionInterface):
    """Sessions whose cookie is sent over TLS alone wherever the request came that way."""

    def get_cookie_secure(self, app: Flask) -> bool:
        """Whether the cookie of the answer at hand is for TLS alone."""
        return request.is_secure or super().get_cookie_secure(app)


def protect(app: Flask) -> None:
    """Put the headers on every answer of an application.

    Args:
        app: The application.
    """

    @app.after_request
    def add(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.setdefault("Cache-Control", "no-store")
        if request.is_secure:
            response.headers.setdefault("Strict-Transport-Security", _HSTS)
        return response


def answer_only_to(app: Flask, names: frozenset[str]) -> None:
    """Refuse requests that reached the service under another name.

    Without tokens, a page of the internet could otherwise let a name of its own lead to this machine and ask as if it
    were one of ours. The framework's own list of trusted hosts cannot hold an IPv6 address.

    Args:
        app: The application.
        names: Host names and addresses, in lower case and without ports.
    """

    @app.before_request
    def check() -> None:
        try:
            name = urlsplit(f"//{request.host}").hostname
        except ValueError:
            name = None
        if name not in names:
            abort(400, "The service answers only to this machine's own name. Open it as localhost, or ask for tokens.")
