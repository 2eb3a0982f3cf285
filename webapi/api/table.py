"""The flat table of life and cost inputs, made for a spreadsheet or another program's cost model."""

import csv
import io
from datetime import datetime
from typing import Any

from apiflask import APIBlueprint
from flask import Response, request

from webapi.api.assessments import as_json, filters
from webapi.api.shapes import SearchPage, TableQuery
from webapi.auth import needs
from webapi.context import session
from webapi.services import assessments

blueprint = APIBlueprint("table", __name__, url_prefix="/api/v1/life-table", tag="Cost model")


@blueprint.get("")
@needs("reader")
@blueprint.input(TableQuery, location="query", arg_name="query")
@blueprint.output(SearchPage)
@blueprint.doc(
    summary="Life and cost inputs as one flat table",
    description="JSON, or CSV with `Accept: text/csv` or `?format=csv`; the unit stands in each column's name.",
)
def read_table(query: TableQuery) -> Any:
    """The table."""
    with session() as opened:
        rows = assessments.shown(assessments.flat_table(opened, filters(query), query.limit))
    best = request.accept_mimetypes.best_match(["application/json", "text/csv"], default="application/json")
    if query.format == "csv" or (query.format is None and best == "text/csv"):
        headers = {"Content-Disposition": 'attachment; filename="packwear-life-table.csv"'}
        return Response(as_csv(rows), mimetype="text/csv", headers=headers)
    return as_json({"items": rows, "next_cursor": None})


def as_csv(rows: list[dict[str, Any]]) -> str:
    """Rows as CSV; text that a spreadsheet would take for a formula is marked as text, numbers stay numbers.

    Args:
        rows: With the same keys each.
    """
    if not rows:
        return ""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({key: _safe(value) for key, value in row.items()} for row in rows)
    return text.getvalue()


def _safe(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, str) and value.lstrip()[:1] in {"=", "+", "-", "@", "\t", "\r"}:
        return "'" + value
    return value
