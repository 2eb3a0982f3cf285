"""The drawing library, served from the installed package: no other host is asked."""

import gzip
from functools import cache
from importlib.metadata import version
from importlib.resources import files

from flask import Response, request, url_for

from webapi.pages.base import blueprint

_YEAR_S = 31_536_000


@blueprint.get("/pages/plotly/<release>/plotly.min.js", endpoint="plotly")
def plotly(release: str) -> Response:
    """The library; its release stands in the address, so browsers may keep it for a year.

    Args:
        release: Release in the address; any address answers with the installed one.
    """
    del release
    packed = "gzip" in request.headers.get("Accept-Encoding", "")
    response = Response(_packed() if packed else _plain(), mimetype="text/javascript")
    if packed:
        response.headers["Content-Encoding"] = "gzip"
    response.headers["Vary"] = "Accept-Encoding"
    response.headers["Cache-Control"] = f"public, max-age={_YEAR_S}, immutable"
    return response


@blueprint.app_template_global()
def plotly_address() -> str:
    """The library's address, for templates."""
    return url_for("pages.plotly", release=version("plotly"))


@cache
def _plain() -> bytes:
    return files("plotly").joinpath("package_data/plotly.min.js").read_bytes()


@cache
def _packed() -> bytes:
    return gzip.compress(_plain(), 6, mtime=0)
