"""The page that looks through every source of every assessment."""

from dataclasses import dataclass
from typing import Any, Final

from flask import render_template, request, url_for
from sqlalchemy import Row

from lifetime.report.words import CRITERIA, PARTS, STATES
from lifetime.text import printable, short_life
from webapi.context import context
from webapi.pages.base import asked_number, blueprint, moment
from webapi.services import assessments
from webapi.services.assessments import Filters

SORTS: Final = (
    ("-created_at", "newest first"),
    ("cost", "lowest cost first"),
    ("-cost", "highest cost first"),
    ("-life", "longest life first"),
    ("life", "shortest life first"),
    ("strategy", "by strategy name"),
)
_TEXTS: Final = ("kind", "cell", "strategy", "end_of_life_criterion")
_NUMBERS: Final = ("life_min_years", "life_max_years", "cost_min", "cost_max")


@dataclass(frozen=True, slots=True)
class FoundSource:
    """One source under one strategy as text.

    Args:
        link: Address of its assessment.
        title: The study's title.
        strategy: The strategy's name.
        rank: Its rank.
        part: Which source.
        cell: Id of its parameter set.
        life: Its life.
        criterion: Its end-of-life criterion.
        cost: Net present cost of the strategy.
        assessed: When it was stored.
    """

    link: str
    title: str
    strategy: str
    rank: str
    part: str
    cell: str
    life: str
    criterion: str
    cost: str
    assessed: str


@blueprint.get("/search", endpoint="search")
def search() -> str:
    """Sources under strategies, filtered and sorted."""
    given = {name: request.args[name].strip() for name in (*_TEXTS, *_NUMBERS) if request.args.get(name, "").strip()}
    sort = request.args.get("sort", SORTS[0][0])
    texts: dict[str, Any] = {name: given[name] for name in _TEXTS if name in given}
    numbers: dict[str, Any] = {name: asked_number(name, given[name]) for name in _NUMBERS if name in given}
    with context().factory() as session:
        page = assessments.search(session, Filters(**texts, **numbers), sort=sort, cursor=request.args.get("cursor"))
    return render_template(
        "pages/search.html",
        given=given,
        sort=sort,
        sorts=SORTS,
        parts=PARTS.items(),
        criteria=CRITERIA.items(),
        rows=[_row(one) for one in page.items],
        page=page,
    )


def _row(one: Row[Any]) -> FoundSource:
    cost = one.strategy_net_present_cost_currency
    return FoundSource(
        link=url_for("pages.assessment", key=one.assessment_id),
        title=printable(one.study),
        strategy=printable(one.strategy),
        rank="–" if one.rank is None else str(one.rank),
        part=PARTS[one.source],
        cell=printable(one.cell),
        life=STATES.get(one.life_state) or short_life(one.life_years),
        criterion=CRITERIA[one.end_of_life_criterion] if one.end_of_life_criterion else "–",
        cost="no result" if cost is None else f"{cost:,.0f} {printable(one.currency)}",
        assessed=moment(one.created_at_utc),
    )
