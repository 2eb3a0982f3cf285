"""Signing in and out: the pages keep the token in a cookie that scripts cannot read."""

from typing import Final
from urllib.parse import urlsplit

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from lifetime.errors import Fault
from webapi.auth import COOKIE, identify
from webapi.errors import TokenError
from webapi.pages.base import blueprint

_DAYS_S: Final = 30 * 86_400


@blueprint.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Response:
    """Ask for a token and keep it."""
    target = _own(request.values.get("next", ""))
    faults = []
    if request.method == "POST":
        token = request.form.get("token", "").strip()
        try:
            identify(token or None)
        except TokenError as error:
            faults.append(Fault("Token", str(error)))
        else:
            response = redirect(target)
            # Lax: a link in a letter leads to the page, but no other site can send one of our forms.
            response.set_cookie(
                COOKIE, token, max_age=_DAYS_S, httponly=True, samesite="Lax", secure=request.is_secure, path="/"
            )
            return response
    page = render_template("pages/sign_in.html", found=faults, next=target)
    return make_response(page, 401 if faults else 200)


@blueprint.post("/sign-out")
def sign_out() -> Response:
    """Forget the token."""
    response = redirect(url_for("pages.sign_in"))
    response.delete_cookie(COOKIE, path="/")
    return response


def _own(target: str) -> str:
    """Where to go afterwards: one of our own pages, never another site's."""
    parts = urlsplit(target)
    inside = target.startswith("/") and not target.startswith(("//", "/\\")) and not parts.scheme and not parts.netloc
    return target if inside and target.isprintable() else url_for("pages.assessments")
