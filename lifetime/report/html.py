"""The one-file report: everything a design review needs, opened offline, printed on A4, under two megabytes."""

from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup, escape

from lifetime.report.detail import detail as detail_of
from lifetime.report.document import document as document_of
from lifetime.report.figures.ranking_data import cost_bars, life_bars
from lifetime.report.figures.ranking_svg import cost_svg, life_svg
from lifetime.report.page.premises import assumption_rows, pack_facts, service_facts
from lifetime.report.page.ranking import answer, beware, ranking_rows
from lifetime.report.page.sets import blind_facts, set_texts
from lifetime.report.page.strategies import day_picture, source_pictures, strategy_text
from lifetime.report.table import CAUTION
from lifetime.results.records import Assessment
from lifetime.text import printable

if TYPE_CHECKING:
    from jinja2 import Environment

MOST_BYTES = 2_000_000
_FOR_PICTURES = 1_900_000
_IN_FULL = 40
"""Strategies described one by one; a ranking may be longer, a review reads no more."""
_PICTURED_RANKING = 60
"""Strategies in the two overview pictures; beyond, only the table shows them."""

_HISTORY_KEYS = frozenset({"demand", "battery", "ultracapacitor"})
_CONTENTS = (
    ("question", "Question"),
    ("ranking", "Ranking"),
    ("strategies", "Strategies one by one"),
    ("laws", "What the laws do not see"),
    ("assumptions", "Assumptions"),
    ("sets", "Parameter sets"),
    ("payments", "Payments"),
    ("cautions", "Cautions"),
    ("reproduce", "Reproduce"),
)


def write_report(assessment: Assessment, path: Path) -> None:
    """Write the report of a fresh assessment.

    Args:
        assessment: What ``assess`` returned.
        path: Where to; an existing file is replaced.

    Raises:
        OSError: The file cannot be written.
    """
    path.write_text(report_html(document_of(assessment), detail_of(assessment)), encoding="utf-8", newline="\n")


def report_html(document: Mapping[str, Any], detail: Mapping[str, Any]) -> str:
    """The report as one HTML text without any outside reference or script.

    Args:
        document: The result document.
        detail: The detail document of the same assessment.
    """
    environment = page_environment()
    template = environment.get_template("report.html")
    context = _context(document, detail)
    # Pictures take what the text leaves, best-ranked strategies first.
    room = _FOR_PICTURES - len(template.render(context).encode())
    context["left_out"]["pictures"] = _add_pictures(context["strategies"], document, detail, room)
    return template.render(context)


def _context(document: Mapping[str, Any], detail: Mapping[str, Any]) -> dict[str, Any]:
    strategies = document["strategies"]
    pairs = list(zip(strategies, detail["strategies"], strict=True))[:_IN_FULL]
    pictured = {**document, "strategies": strategies[:_PICTURED_RANKING]}
    costs = cost_bars(pictured)
    return {
        "css": Markup(files("lifetime.report.page").joinpath("report.css").read_text(encoding="utf-8")),  # noqa: S704
        "document": document,
        "study": {**document["study"], "title": printable(document["study"]["title"])},
        "contents": _CONTENTS,
        "answer": answer(document),
        "currency": printable(strategies[0]["cost"]["currency"]),
        "service_facts": service_facts(document, detail),
        "pack_facts": pack_facts(detail),
        "ranking": ranking_rows(document),
        "beware": beware(document),
        "pictures": {
            "life": Markup(life_svg(life_bars(pictured))),  # noqa: S704 - its texts are escaped by the drawing library
            "cost": Markup(cost_svg(costs)) if costs.names else None,  # noqa: S704
        },
        "strategies": [strategy_text(number, one, shown) for number, (one, shown) in enumerate(pairs, start=1)],
        "left_out": {"pictures": 0, "sections": len(strategies) - len(pairs)},
        "blind_facts": blind_facts(detail),
        "assumptions": assumption_rows(detail),
        "sets": set_texts(detail),
        "caution": CAUTION,
        "inputs": [
            {
                "name": printable(one["name"]),
                "samples": f"{one['samples']:,}",
                "length": f"{one['duration_s']:,.0f} s",
                "sha256": one["sha256"],
            }
            for one in detail["histories"]
        ],
        "study_toml": study_toml(detail),
    }


def study_toml(detail: Mapping[str, Any]) -> str:
    """The study as the text of a study file, with the names of its histories where a service knew them by their ids.

    Args:
        detail: The detail document.
    """
    names = {one["file"]: one["name"] for one in detail["histories"]}
    study = {key: value for key, value in detail["study"].items() if key != "strategy"}
    strategies = [
        {
            key: {**value, "file": printable(names[value["file"]])} if key in _HISTORY_KEYS else value
            for key, value in strategy.items()
        }
        for strategy in detail["study"]["strategy"]
    ]
    return toml_text({**study, "strategy": strategies})


def toml_text(study: Mapping[str, Any]) -> str:
    """A study as the text of a study file, histories as they are named in it.

    Args:
        study: The study as plain data.
    """
    import tomli_w  # noqa: PLC0415

    return tomli_w.dumps(study)


def _add_pictures(
    strategies: list[dict[str, Any]], document: Mapping[str, Any], detail: Mapping[str, Any], room: int
) -> int:
    """Put pictures in while there is room; returns how many strategies go without."""
    for position, one in enumerate(strategies):
        parts = [source["part"] for source in one["sources"]]
        day = day_picture(detail["strategies"][position], f"day{position}")
        room -= 0 if day is None else len(day.encode()) + 300
        found = {part: source_pictures(document, detail, position, part) for part in parts}
        room -= sum(len(svg.encode()) + 300 for pictures in found.values() for svg, _ in pictures)
        if room < 0:
            return len(strategies) - position
        one["day_picture"] = day
        for source in one["sources"]:
            source["pictures"] = found[source["part"]]
    return 0


def _breakable(key: str) -> Markup:
    """A long key that may break after a dot or an underscore."""
    return Markup(str(escape(key)).replace(".", ".<wbr>").replace("_", "_<wbr>"))  # noqa: S704


def page_environment() -> "Environment":
    """The template environment of every page that stands alone: escaping on, nothing undefined."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415

    environment = Environment(
        loader=PackageLoader("lifetime.report", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["breakable"] = _breakable
    return environment
