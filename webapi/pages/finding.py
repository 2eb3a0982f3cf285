"""The page that looks through every source of every assessment."""

import math
from typing import Any, Final

from flask import render_template, request, url_for

from lifetime.report.words import LIMITS, PARTS, life_words
from lifetime.text import printable
from webapi.context import context
from webapi.errors import QueryError
from webapi.models import AssessmentSource
from webapi.pages.base import blueprint, moment
from webapi.services import assessments
from webapi.services.assessments import Filters

SORTS: Final = (
    ("-created_at", "newest first"),
    ("cost", "cheapest first"),
    ("-cost", "dearest first"),
    ("-life", "longest life first"),
    ("life", "shortest life first"),
    ("strategy", "by strategy name"),
)
_TEXTS: Final = ("kind", "cell", "strategy", "end_of_life_criterion")
_NUMBERS: Final = ("life_min_years", "life_max_years", "cost_min", "cost_max")


@blueprint.get("/find", endpoint="find")
def find() -> str:
    """Sources under strategies, filtered and sorted."""
    given = {name: request.args[name].strip() for name in (*_TEXTS, *_NUMBERS) if request.args.get(name, "").strip()}
    sort = request.args.get("sort", SORTS[0][0])
    texts: dict[str, Any] = {name: given[name] for name in _TEXTS if name in given}
    numbers: dict[str, Any] = {name: _number(name, given[name]) for name in _NUMBERS if name in given}
    with context().factory() as session:
        page = assessments.search(session, Filters(**texts, **numbers), sort=sort, cursor=request.args.get("cursor"))
    return render_template(
        "pages/find.html",
        given=given,
        sort=sort,
        sorts=SORTS,
        parts=PARTS.items(),
        limits=LIMITS.items(),
        rows=[_row(one) for one in page.items],
        page=page,
    )


def _row(one: AssessmentSource) -> dict[str, Any]:
    life = {"life_state": one.life_state, "life_years": one.life_years}
    return {
        "link": url_for("pages.assessment", key=one.assessment_id),
        "title": printable(one.title),
        "strategy": printable(one.strategy),
        "rank": "–" if one.rank is None else str(one.rank),
        "part": PARTS[one.kind],
        "cell": printable(one.cell),
        "life": life_words(life),
        "by": LIMITS.get(one.end_of_life_criterion or "", "–"),
        "cost": "no result" if one.net_present is None else f"{one.net_present:,.0f} {printable(one.currency)}",
        "assessed": moment(one.created_at),
    }


def _number(name: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise QueryError(name, f'must be a number, got "{text[:40]}".')
    return value
