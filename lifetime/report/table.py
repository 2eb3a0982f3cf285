"""The ranking as text for an 80-column terminal, readable without the manual."""

from collections.abc import Iterable

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lifetime.notices import Notice
from lifetime.result import Assessment, SourceResult, StrategyResult

CAUTION = (
    "A predicted life is an estimate for comparing designs, not a safety statement. Keep every cell within its "
    "maker's limits; high voltage, lithium cells and charged capacitors can kill and burn, so local codes and "
    "qualified people decide."
)


def ranking_view(assessment: Assessment) -> RenderableType:
    """Everything a person wants to read first: the ranking, why each source ends, what to beware of."""
    return Group(
        Text(assessment.title, style="bold"),
        Text(
            f"Net present cost over {assessment.service_years:g} years of service, cheapest first "
            f"[{assessment.currency}]"
        ),
        Text(),
        _table(assessment),
        Text(),
        *[_reasons(one) for one in assessment.strategies],
        *_remarks(assessment),
        Text(),
        Text(CAUTION, style="italic"),
        Text(f"Assessment {assessment.id}, packwear {assessment.program_version}", style="dim"),
    )


def print_ranking(assessment: Assessment, console: Console) -> None:
    """Print the ranking."""
    console.print(ranking_view(assessment))


def _table(assessment: Assessment) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("", justify="right")
    table.add_column("strategy", overflow="fold")
    table.add_column("battery\nlife", justify="right")
    table.add_column("bank\nlife", justify="right")
    table.add_column("battery\nbuys", justify="right")
    table.add_column("net present\ncost", justify="right")
    table.add_column("per km", justify="right")
    for one in assessment.strategies:
        cost = one.cost
        table.add_row(
            "-" if one.rank is None else str(one.rank),
            Text(one.name),
            life_words(one.battery),
            "none" if one.ultracapacitor is None else life_words(one.ultracapacitor),
            "-" if cost is None else str(1 + cost.replacements["battery"]),
            "no result" if cost is None else f"{cost.net_present:,.0f}",
            "-" if cost is None or cost.per_km is None else f"{cost.per_km:.3f}",
        )
    return table


def life_words(source: SourceResult) -> str:
    """A life in as many digits as it deserves."""
    if source.life_state == "cannot_deliver":
        return "fails new"
    if source.life_years is None:
        return "> 50 y"
    return f"{source.life_years:.1f} y"


def _reasons(one: StrategyResult) -> RenderableType:
    lines = [Text(one.name, style="bold")]
    lines.append(Text("battery  " + source_sentence(one.battery)))
    if one.ultracapacitor is not None:
        lines.append(Text("bank     " + source_sentence(one.ultracapacitor)))
    return Group(lines[0], *[Padding(line, (0, 0, 0, 2)) for line in lines[1:]])


def source_sentence(source: SourceResult) -> str:
    """Why and when a source ends, and where its wear comes from, in one line or two."""
    if source.life_state == "cannot_deliver":
        detail = next((one.detail for one in source.crossings if one.limit == "duty"), "")
        return f"cannot deliver the day even when new ({detail})"
    words = {"esr": "ESR", "duty": "no longer delivers its duty"}
    if source.end_of_life_by is None:
        ends = "outlasts the 50 years searched"
    else:
        ends = f"ends by {words.get(source.end_of_life_by, source.end_of_life_by)} after {source.life_years:.1f} y"
    later = [
        f"{words.get(one.limit, one.limit)} {one.years:.1f} y"
        for one in source.crossings
        if one.years is not None and one.limit != source.end_of_life_by
    ]
    parts = [ends + (f" (then {', '.join(later)})" if later else "")]
    if source.calendar_share is not None:
        parts.append(f"wear {100 * source.calendar_share:.0f} % calendar")
    parts.append(f"{source.rms_current_A:.0f} A rms, {source.peak_current_A:.0f} A peak")
    return "; ".join(parts)


def _remarks(assessment: Assessment) -> list[RenderableType]:
    """Warnings, each once, with the strategies it concerns."""
    where: dict[str, list[str]] = {}
    for message in _warnings(assessment.notices):
        where.setdefault(message, [])
    for one in assessment.strategies:
        sources = [one.battery] + ([one.ultracapacitor] if one.ultracapacitor else [])
        for notices in (one.notices, *(source.notices for source in sources)):
            for message in _warnings(notices):
                places = where.setdefault(message, [])
                if one.name not in places:
                    places.append(one.name)
    if not where:
        return []
    lines: list[RenderableType] = [Text(), Text("Beware", style="bold")]
    everywhere = len(assessment.strategies)
    for message, places in where.items():
        named = "" if not places or len(places) == everywhere else f" [{'; '.join(places)}]"
        lines.append(Padding(Text(f"- {message}{named}"), (0, 0, 0, 2)))
    return lines


def _warnings(notices: Iterable[Notice]) -> list[str]:
    return [one.message for one in notices if one.severity == "warning"]
