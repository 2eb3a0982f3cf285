"""The page of the audit trail, for administrators."""

from flask import render_template, request

from lifetime.text import printable
from webapi.context import context
from webapi.pages.base import blueprint, moment
from webapi.services import audit


@blueprint.get("/audit", endpoint="audit")
def audit_list() -> str:
    """Who changed what, the newest first."""
    with context().factory() as session:
        page = audit.listed(session, cursor=request.args.get("cursor"))
    rows = [
        {
            "when": moment(one.created_at),
            "who": printable(one.who) if one.token_id is None else f"{printable(one.who)} ({one.token_id})",
            "what": f"{one.action} {one.subject}",
            "title": printable(one.title),
            "key": one.subject_id,
        }
        for one in page.items
    ]
    return render_template("pages/audit.html", rows=rows, page=page)
