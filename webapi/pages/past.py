"""Pages of assessments on record: the list, a ranking, one strategy, a comparison, the report."""

from typing import Any

from flask import Response, abort, make_response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from lifetime.report.html import report_html
from lifetime.report.page.premises import assumption_rows, pack_facts, service_facts
from lifetime.report.page.ranking import answer, beware, ranking_rows
from lifetime.report.page.sets import blind_facts, set_texts
from lifetime.report.page.strategies import day_picture, strategy_text
from lifetime.report.words import PARTS, end_sentence
from lifetime.text import printable
from lifetime.version import program_version
from webapi import models
from webapi.context import context
from webapi.errors import NotFoundError
from webapi.pages.base import blueprint, moment
from webapi.pages.comparing import cautions, compared_rows, differences
from webapi.pages.figures import compared_json, compared_names, figure_json, figure_names, figure_svg
from webapi.services import assessments, histories

MOST_COMPARED = 6
_REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


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
        elsewhere=[key for key in ticked if key not in {row["key"] for row in rows}],
        first_time=not rows and "cursor" not in request.args,
    )


@blueprint.get("/assessments/<key>", endpoint="assessment")
def ranking(key: str) -> str:
    """One assessment's ranking.

    Args:
        key: Its id.
    """
    row = _get(key)
    document, detail = row.document, row.detail
    return render_template(
        "pages/ranking.html",
        key=key,
        title=printable(row.title),
        document=document,
        study_id=row.study_id,
        assessed=moment(row.created_at),
        currency=printable(row.currency),
        answer=answer(document),
        ranking=ranking_rows(document),
        has_cost=any(one["cost"]["net_present"] is not None for one in document["strategies"]),
        ends=[_ends(one) for one in document["strategies"]],
        blind=blind_facts(detail),
        beware=beware(document),
        service_facts=service_facts(document, detail),
        pack_facts=pack_facts(detail),
        assumptions=assumption_rows(detail),
        inputs=[(printable(one["name"]), one["sha256"]) for one in document["study"]["inputs"]],
    )


@blueprint.get("/assessments/<key>/strategies/<int:number>", endpoint="strategy")
def strategy_page(key: str, number: int) -> str:
    """One strategy of an assessment.

    Args:
        key: The assessment's id.
        number: Strategy, from 1 in the order of rank.
    """
    row = _get(key)
    document, detail = row.document, row.detail
    if not 1 <= number <= len(document["strategies"]):
        raise NotFoundError("strategy", f"{key}/{number}")
    one, shown = document["strategies"][number - 1], detail["strategies"][number - 1]
    parts = [part for part in PARTS if one[part] is not None]
    return render_template(
        "pages/strategy.html",
        key=key,
        number=number,
        count=len(document["strategies"]),
        title=printable(row.title),
        currency=printable(row.currency),
        one=strategy_text(number, one, shown),
        figures={part: figure_names(document, detail, number - 1, part) for part in parts},
        histories=_histories(detail, one["name"]),
        sets=[one for one in set_texts(detail) if one["part"] in parts],
    )


@blueprint.get("/assessments/<key>/days/<int:number>.svg", endpoint="day")
def day(key: str, number: int) -> ResponseReturnValue:
    """The day of a strategy as a picture.

    Args:
        key: The assessment's id.
        number: Strategy, from 1 in the order of rank.
    """
    strategies = _get(key).detail["strategies"]
    picture = day_picture(strategies[number - 1], "day") if 1 <= number <= len(strategies) else None
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
    row = _get(key)
    response = make_response(report_html(row.document, row.detail))
    response.headers["Content-Type"] = "text/html; charset=utf-8"
    response.headers["Content-Disposition"] = f'attachment; filename="packwear-report-{row.id[:8]}.html"'
    response.headers["Content-Security-Policy"] = _REPORT_POLICY
    return response


@blueprint.get("/compare", endpoint="compare")
def compare() -> str:
    """Two or more assessments beside each other."""
    rows = _compared()
    found = [(row.document, row.detail) for row in rows]
    keys = [row.id for row in rows]
    return render_template(
        "pages/compare.html",
        compared=[_row(row) for row in rows],
        cautions=cautions(found),
        rows=compared_rows(rows),
        figures=[
            (url_for("pages.compared_figure", part=part, quantity=quantity, id=keys), words)
            for part, quantity, words in compared_names(found)
        ],
        differences=differences([detail["study"] for _, detail in found]),
    )


@blueprint.get("/compare/<part>-<quantity>.json", endpoint="compared_figure")
def compared_figure(part: str, quantity: str) -> ResponseReturnValue:
    """One quantity of several assessments.

    Args:
        part: ``battery`` or ``ultracapacitor``.
        quantity: ``capacity`` or ``resistance``.
    """
    if part not in PARTS or quantity not in {"capacity", "resistance"}:
        raise NotFoundError("figure", f"{part}-{quantity}")
    found = compared_json([(row.document, row.detail) for row in _compared()], part, quantity)
    if found is None:
        raise NotFoundError("figure", f"{part}-{quantity}")
    return found


def _get(key: str) -> models.Assessment:
    with context().factory() as session:
        return assessments.get(session, key)


def _compared() -> list[models.Assessment]:
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
        row = _get(key)
        draw = figure_json if kind == "json" else figure_svg
        found: Any = draw(row.document, row.detail, name)
        if found is None:
            raise NotFoundError("figure", f"{key}/{name}")
        response = make_response(found)
        if kind == "svg":
            response.headers["Content-Type"] = "image/svg+xml"
    response.set_etag(tag)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def _row(one: models.Assessment) -> dict[str, Any]:
    return {
        "key": one.id,
        "title": printable(one.title),
        "strategies": one.strategies,
        "service": f"{one.service_years:g}",
        "currency": printable(one.currency),
        "assessed": moment(one.created_at),
        "version": one.program_version,
    }


def _ends(one: dict[str, Any]) -> dict[str, str]:
    bank = one["ultracapacitor"]
    return {
        "name": printable(one["name"]),
        "battery": end_sentence(one["battery"]),
        "bank": "no bank" if bank is None else end_sentence(bank),
    }


def _histories(detail: dict[str, Any], name: str) -> list[dict[str, str]]:
    """The histories a strategy used, with a link where they are stored here."""
    strategy = next(one for one in detail["study"]["strategy"] if one["name"] == name)
    uses = {role: strategy[role] for role in ("demand", "battery", "ultracapacitor") if role in strategy}
    words = {"demand": "demand", "battery": "battery", "ultracapacitor": "bank"}
    found = [
        (words[role], next(one for one in detail["histories"] if _is_meant(one, spec))) for role, spec in uses.items()
    ]
    return [
        {
            "name": printable(one["name"]),
            "use": use,
            "samples": f"{one['samples']:,}",
            "length": f"{one['duration_s']:,.0f} s",
            "sha256": one["sha256"],
            "link": _link(one["sha256"]),
        }
        for use, one in found
    ]


def _is_meant(one: dict[str, Any], spec: dict[str, Any]) -> bool:
    """Whether a history of the detail document is the one a strategy's input means."""
    given = {key: value for key, value in spec.items() if key != "file"}
    return one["file"] == spec["file"] and all(one["columns"].get(key) == value for key, value in given.items())


def _link(key: str) -> str:
    with context().factory() as session:
        try:
            histories.get(session, key)
        except NotFoundError:
            return ""
    return url_for("pages.history", key=key)
