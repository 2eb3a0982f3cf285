"""Reading the audit trail."""

from typing import Any

from apiflask import APIBlueprint

from webapi.api.shapes import AuditOut, AuditPage, PageQuery, dumped
from webapi.auth import needs
from webapi.context import session
from webapi.services import audit

blueprint = APIBlueprint("audit", __name__, url_prefix="/api/v1/audit", tag="Audit trail")


@blueprint.get("")
@needs("administrator")
@blueprint.input(PageQuery, location="query", arg_name="query")
@blueprint.output(AuditPage)
@blueprint.doc(
    summary="Read the audit trail",
    description="Who uploaded, submitted, cancelled or deleted what and when, and who made or revoked tokens.",
)
def list_audit(query: PageQuery) -> Any:
    """One page of the audit trail."""
    with session() as opened:
        found = audit.listed(opened, cursor=query.cursor, limit=query.limit, sort=query.sort)
        return {"items": [dumped(AuditOut, row) for row in found.items], "next_cursor": found.next_cursor}
