"""The one-file report: everything a design review needs, opened offline, printed on A4, under two megabytes."""

from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup, escape

from lifetime.report.figures.ranking_data import cost_bars, life_bars
from lifetime.report.figures.ranking_svg import cost_svg, life_svg
from lifetime.report.gathered_warnings import gathered_warnings
from lifetime.report.page.assumptions import assumption_rows, pack_facts, service_facts
from lifetime.report.page.ranking import ranking_context
from lifetime.report.page.sets import not_modelled_facts, set_texts
from lifetime.report.page.strategies import StrategySection, day_picture, source_pictures, strategy_section
from lifetime.report.table import CAUTION
from lifetime.results.document import ResultDocument
from lifetime.text import printable
from lifetime.toml_text import toml_text

if TYPE_CHECKING:
    from jinja2 import Environment, PackageLoader

MOST_BYTES = 2_000_000
_FOR_PICTURES = 1_900_000
_IN_FULL = 40
"""Strategies described one by one; a ranking may be longer, a review reads no more."""
_PICTURED_RANKING = 60
"""Strategies in the two overview pictures; beyond, only the table shows them."""

_CONTENTS = (
    ("question", "Question"),
    ("ranking", "Ranking"),
    ("strategies", "Each strategy"),
    ("not-modelled", "Not modelled"),
    ("assumptions", "Assumptions"),
    ("sets", "Parameter sets"),
    ("cash-flows", "Cash flows"),
    ("cautions", "Cautions"),
    ("reproduce", "Reproduce"),
)


def write_report(document: ResultDocument, path: Path) -> None:
    """Write the report.

    Args:
        document: The result document.
        path: Where to; an existing file is replaced.

    Raises:
        OSError: The file cannot be written.
    """
    path.write_text(report_html(document), encoding="utf-8", newline="\n")


def report_html(document: ResultDocument) -> str:
    """The report as one HTML text without any outside reference or script.

    Args:
        document: The result document.
    """
    template = page_environment().get_template("report.html")
    sections = [
        strategy_section(number, one, document.study.currency)
        for number, one in enumerate(document.strategies[:_IN_FULL], start=1)
    ]
    context = _context(document)
    left_out = {"pictures": 0, "sections": len(document.strategies) - len(sections)}
    # Pictures take what the text leaves, best-ranked strategies first.
    text = template.render(**context, strategies=sections, left_out=left_out)
    left_out["pictures"] = _add_pictures(sections, document, _FOR_PICTURES - len(text.encode()))
    return template.render(**context, strategies=sections, left_out=left_out)


def _context(document: ResultDocument) -> dict[str, object]:
    """What the template is filled with, strategies apart."""
    study = document.study
    costs = cost_bars(document, _PICTURED_RANKING)
    life = life_svg(life_bars(document, _PICTURED_RANKING))
    return {
        "study": study,
        "title": printable(study.title),
        "contents": _CONTENTS,
        "currency": printable(study.currency),
        "service_facts": service_facts(document),
        "pack_facts": pack_facts(document),
        **ranking_context(document),
        "warnings": gathered_warnings(document),
        "life_picture": Markup(life),  # noqa: S704 - its texts are escaped by the drawing library
        "cost_picture": Markup(cost_svg(costs)) if costs.names else None,  # noqa: S704
        "not_modelled": not_modelled_facts(document),
        "assumptions": assumption_rows(document),
        "sets": set_texts(document),
        "caution": CAUTION,
        "histories": [(printable(one.name), one) for one in study.histories],
        "study_toml": study_toml(document),
    }


def study_toml(document: ResultDocument) -> str:
    """The study as the text of a study file, with the names of its histories where a service knew them by their ids.

    Args:
        document: The result document.
    """
    names = {one.file: printable(one.name) for one in document.study.histories}
    return toml_text(_with_names(document.study.given, names))


def _with_names(value: Any, names: Mapping[str, str]) -> Any:
    """Plain data of a study in which every history has its name; a split function's file keeps its own."""
    if isinstance(value, Mapping):
        return {
            key: names.get(item, item) if key == "file" and "time" in value else _with_names(item, names)
            for key, item in value.items()
        }
    return [_with_names(item, names) for item in value] if isinstance(value, list) else value


def _add_pictures(sections: list[StrategySection], document: ResultDocument, room: int) -> int:
    """Put pictures in while there is room; returns how many strategies go without."""
    for position, one in enumerate(sections):
        day = day_picture(one.view, f"day{position}")
        room -= 0 if day is None else len(day.encode()) + 300
        found = {source.part: source_pictures(document, position, source.part) for source in one.sources}
        room -= sum(len(svg.encode()) + 300 for pictures in found.values() for svg, _ in pictures)
        if room < 0:
            return len(sections) - position
        one.day_picture = day
        for source in one.sources:
            source.pictures = found[source.part]
    return 0


def report_templates() -> "PackageLoader":
    """The templates of the report; pages share its tables."""
    from jinja2 import PackageLoader  # noqa: PLC0415

    return PackageLoader("lifetime.report", "page")


def _breakable(key: str) -> Markup:
    """A long key that may break after a dot or an underscore."""
    return Markup(str(escape(key)).replace(".", ".<wbr>").replace("_", "_<wbr>"))  # noqa: S704


def page_environment() -> "Environment":
    """The template environment of every page that stands alone: escaping on, nothing undefined, style sheet there."""
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415

    environment = Environment(
        loader=report_templates(),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["breakable"] = _breakable
    css = files("lifetime.report.page").joinpath("report.css").read_text(encoding="utf-8")
    environment.globals["css"] = Markup(css)  # noqa: S704 - our own file
    return environment
