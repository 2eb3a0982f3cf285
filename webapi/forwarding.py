"""Requests that a proxy passed on: believed from proxies that the settings name, refused where nobody needs a token.

Without tokens everybody who can reach the service is its administrator, so it answers this machine alone. A proxy on
the same machine makes the whole network look like this machine; what it adds to a request gives it away.
"""

import ipaddress
from collections.abc import Iterable
from typing import Any, Final

from flask import Flask, abort, request
from werkzeug.middleware.proxy_fix import ProxyFix

from webapi.settings import Settings

Network = ipaddress.IPv4Network | ipaddress.IPv6Network

_SAFE_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_OWN_SITES: Final = frozenset({"same-origin", "none"})
"""What a browser says of a request from our own pages, or from the person at its address bar."""


class Forwarding:
    """Stands before the application: takes client, scheme and host from trusted proxies, and from nobody else.

    Args:
        app: The application.
        trusted: Networks whose proxies are believed.
    """

    def __init__(self, app: Any, trusted: tuple[Network, ...]) -> None:
        self._app = app
        self._behind_proxy = ProxyFix(app, x_for=1, x_proto=1, x_host=1)
        self._trusted = trusted

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Answer one request."""
        if self._trusted and _lies_in(environ.get("REMOTE_ADDR", ""), self._trusted):
            return self._behind_proxy(environ, start_response)
        return self._app(environ, start_response)  # type: ignore[no-any-return]


def believe_proxies(app: Flask, settings: Settings) -> None:
    """Make an application believe the proxies that its settings name.

    Args:
        app: The application.
        settings: With ``trusted_proxies``.
    """
    app.wsgi_app = Forwarding(app.wsgi_app, settings.proxy_networks)  # type: ignore[method-assign]


def answer_this_machine_alone(app: Flask) -> None:
    """Refuse what came through a proxy, and what another site's page wants to change.

    Args:
        app: An application that asks for no token.
    """

    @app.before_request
    def check() -> None:
        through = next((name for name, _ in request.headers if _is_of_a_proxy(name)), None)
        if through is not None:
            abort(
                403,
                f"The request came through a proxy (it carries {through}), and this service asks for no token. Set "
                "PACKWEAR_REQUIRE_TOKEN=true and PACKWEAR_TRUSTED_PROXIES, and make a token.",
            )
        if request.method not in _SAFE_METHODS and is_foreign():
            abort(403, "The request came from another site's page. Send it from the service's own pages, or a program.")


def is_foreign() -> bool:
    """True where a browser says that another site's page sent the request at hand."""
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None and site.lower() not in _OWN_SITES:
        return True
    origin = request.headers.get("Origin")
    return origin is not None and origin.lower() != f"{request.scheme}://{request.host}".lower()


def _is_of_a_proxy(name: str) -> bool:
    lower = name.lower()
    return lower in {"forwarded", "via", "x-real-ip"} or lower.startswith("x-forwarded")


def _lies_in(address: str, networks: tuple[Network, ...]) -> bool:
    try:
        one = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(one in network for network in networks)
