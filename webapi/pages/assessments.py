"""Pages of assessments on record: the list, a ranking, one strategy, a comparison, the report."""

from dataclasses import dataclass

from flask import Response, abort, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from lifetime.report.gathered_warnings import gathered_warnings
from lifetime.report.html import report_html
from lifetime.report.page.assumptions import assumption_rows, pack_facts, service_facts
from lifetime.report.page.ranking import ranking_context
from lifetime.report.page.sets import not_modelled_facts, set_texts
from lifetime.report.page.strategies import day_picture, strategy_section
from lifetime.report.words import end_sentence
from lifetime.results.document import ResultDocument
from lifetime.results.strategy import StrategyView
from lifetime.results.view import SourceKind
from lifetime.text import printable
from lifetime.version import program_version
from webapi import models
from webapi.auth import actor
from webapi.context import context
from webapi.errors import NotFoundError
from webapi.pages.base import blueprint, moment
from webapi.pages.comparison import compared_rows, differences, warnings
from webapi.pages.figures import Quantity, compared_json, compared_names, figure_json, figure_names, figure_svg
from webapi.pages.used_histories import used_histories
from webapi.services import assessments, deletion

MOST_COMPARED = 6
_REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


@dataclass(frozen=True, slots=True)
class ListedAssessment:
    """One assessment in a list, as text.

    Args:
        key: Its id.
        title: The study's title.
        strategies: How many.
        service: Service life in years.
        currency: Of every amount.
        assessed: When it was stored.
        version: Of the program.
    """

    key: str
    title: str
    strategies: int
    service: str
    currency: str
    assessed: str
    version: str


@blueprint.get("/", endpoint="assessments")
def assessment_list() -> str:
    """The newest assessments, to open or to tick for a comparison."""
    ticked = request.args.getlist("beside")[:MOST_COMPARED]
    with context().factory() as session:
        page = assessments.listed(session, cursor=request.args.get("cursor"))
    rows = [_row(one) for one in page.items]
    return render_template(
        "pages/assessments.html",
        rows=rows,
        page=page,
        ticked=ticked,
        elsewhere=[key for key in ticked if key not in {row.key for row in rows}],
        first_time=not rows and "cursor" not in request.args,
    )


@blueprint.get("/assessments/<key>", endpoint="assessment")
def ranking(key: str) -> str:
    """One assessment's ranking.

    Args:
        key: Its id.
    """
    row, document = _get(key)
    return render_template(
        "pages/ranking.html",
        key=key,
        title=printable(row.title),
        document=document,
        study_id=row.study_id,
        assessed=moment(row.created_at),
        currency=printable(row.currency),
        **ranking_context(document),
        links=[url_for("pages.strategy", key=key, number=number) for number in range(1, len(document.strategies) + 1)],
        has_cost=any(one.known_cost is not None for one in document.strategies),
        ends=[_ends(one) for one in document.strategies],
        not_modelled=not_modelled_facts(document),
        warnings=gathered_warnings(document),
        service_facts=service_facts(document),
        pack_facts=pack_facts(document),
        assumptions=assumption_rows(document),
        inputs=[(printable(one.name), one.sha256) for one in document.study.inputs],
    )


@blueprint.post("/assessments/<key>/delete", endpoint="delete_assessment")
def delete_assessment(key: str) -> ResponseReturnValue:
    """Delete an assessment; its study stays.

    Args:
        key: Its id.
    """
    with context().factory() as session:
        study = assessments.get(session, key).study_id
        deletion.delete_assessment(session, key, actor())
    return redirect(url_for("pages.study", key=study))


@blueprint.get("/assessments/<key>/strategies/<int:number>", endpoint="strategy")
def strategy_page(key: str, number: int) -> str:
    """One strategy of an assessment.

    Args:
        key: The assessment's id.
        number: Strategy, from 1 in the order of rank.
    """
    row, document = _get(key)
    one = _strategy(document, key, number)
    return render_template(
        "pages/strategy.html",
        key=key,
        number=number,
        count=len(document.strategies),
        title=printable(row.title),
        currency=printable(row.currency),
        one=strategy_section(number, one, document.study.currency),
        figures={part: figure_names(document, number - 1, part) for part in one.sources},
        histories=used_histories(document, one),
        sets=[text for text in set_texts(document) if text.part in one.sources],
    )


@blueprint.get("/assessments/<key>/days/<int:number>.svg", endpoint="day")
def day(key: str, number: int) -> ResponseReturnValue:
    """The day of a strategy as a picture.

    Args:
        key: The assessment's id.
        number: Strategy, from 1 in the order of rank.
    """
    picture = day_picture(_strategy(_get(key)[1], key, number), "day")
    if picture is None:
        raise NotFoundError("picture", f"{key}/{number}")
    return Response(str(picture), mimetype="image/svg+xml")


@blueprint.get("/assessments/<key>/figures/<name>.json", endpoint="figure")
def figure(key: str, name: str) -> ResponseReturnValue:
    """A figure for Plotly.

    Args:
        key: The assessment's id.
        name: The figure's name.
    """
    return _figure(key, name, "json")


@blueprint.get("/assessments/<key>/figures/<name>.svg", endpoint="still")
def still(key: str, name: str) -> ResponseReturnValue:
    """The same figure as a still picture.

    Args:
        key: The assessment's id.
        name: The figure's name.
    """
    return _figure(key, name, "svg")


@blueprint.get("/assessments/<key>/report", endpoint="report")
def report(key: str) -> Response:
    """The one-file report as a download.

    Args:
        key: The assessment's id.
    """
    row, document = _get(key)
    response = make_response(report_html(document))
    response.headers["Content-Type"] = "text/html; charset=utf-8"
    response.headers["Content-Disposition"] = f'attachment; filename="packwear-report-{row.id[:8]}.html"'
    response.headers["Content-Security-Policy"] = _REPORT_POLICY
    return response


@blueprint.get("/compare", endpoint="compare")
def compare() -> str:
    """Two or more assessments compared."""
    pairs = _compared()
    found = [document for _, document in pairs]
    keys = [row.id for row, _ in pairs]
    return render_template(
        "pages/compare.html",
        compared=[_row(row) for row, _ in pairs],
        warnings=warnings(found),
        rows=compared_rows(found),
        figures=[
            (url_for("pages.compared_figure", part=part, quantity=quantity, id=keys), words)
            for part, quantity, words in compared_names(found)
        ],
        differences=differences([document.study.given for document in found]),
    )


@blueprint.get(
    "/compare/<any(battery, ultracapacitor):part>-<any(capacity, resistance):quantity>.json", endpoint="compared_figure"
)
def compared_figure(part: SourceKind, quantity: Quantity) -> ResponseReturnValue:
    """One quantity of several assessments.

    Args:
        part: ``battery`` or ``ultracapacitor``.
        quantity: ``capacity`` or ``resistance``.
    """
    found = compared_json([document for _, document in _compared()], part, quantity)
    if found is None:
        raise NotFoundError("figure", f"{part}-{quantity}")
    return found


def _get(key: str) -> tuple[models.Assessment, ResultDocument]:
    with context().factory() as session:
        row = assessments.get(session, key)
        return row, assessments.document_of(row)


def _strategy(document: ResultDocument, key: str, number: int) -> StrategyView:
    if not 1 <= number <= len(document.strategies):
        raise NotFoundError("strategy", f"{key}/{number}")
    return document.strategies[number - 1]


def _compared() -> list[tuple[models.Assessment, ResultDocument]]:
    keys = list(dict.fromkeys(request.args.getlist("id")))
    if not 2 <= len(keys) <= MOST_COMPARED:
        abort(400, f"Tick 2 to {MOST_COMPARED} assessments to compare; {len(keys)} were ticked.")
    return [_get(key) for key in keys]


def _figure(key: str, name: str, kind: str) -> ResponseReturnValue:
    # What an assessment says never changes; how this program draws it may.
    tag = f"{key}-{name}-{kind}-{program_version()}"
    if request.if_none_match.contains(tag):
        response = Response(status=304)
    else:
        _, document = _get(key)
        found = figure_json(document, name) if kind == "json" else figure_svg(document, name)
        if found is None:
            raise NotFoundError("figure", f"{key}/{name}")
        response = make_response(found)
        if kind == "svg":
            response.headers["Content-Type"] = "image/svg+xml"
    response.set_etag(tag)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def _row(one: models.Assessment) -> ListedAssessment:
    return ListedAssessment(
        key=one.id,
        title=printable(one.title),
        strategies=one.strategies,
        service=f"{one.service_years:g}",
        currency=printable(one.currency),
        assessed=moment(one.created_at),
        version=one.program_version,
    )


def _ends(one: StrategyView) -> tuple[str, str, str]:
    bank = one.ultracapacitor
    bank_words = "no ultracapacitor bank" if bank is None else end_sentence(bank)
    return printable(one.name), end_sentence(one.battery), bank_words
