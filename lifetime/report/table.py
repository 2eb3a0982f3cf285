"""The ranking as text for an 80-column terminal, readable without the manual."""

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


_LIMIT_WORDS = {
    "capacity": "capacity",
    "resistance": "resistance",
    "capacitance": "capacitance",
    "esr": "ESR",
    "duty": "not delivering its day",
}


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
    if source.end_of_life_by is None:
        parts = ["outlasts the 50 years searched"]
    else:
        reached = [one for one in source.crossings if one.years is not None]
        together = [_LIMIT_WORDS[one.limit] for one in reached if _same_time(one.years, source.life_years)]
        parts = [f"ends by {' and '.join(together)} after {source.life_years:.1f} y"]
        later = [f"{_LIMIT_WORDS[one.limit]} at {one.years:.1f} y" for one in reached
                 if not _same_time(one.years, source.life_years)]
        if later:
            parts.append("later " + ", ".join(later))
    if source.calendar_share is not None:
        parts.append(f"wear {100 * source.calendar_share:.0f} % calendar")
    parts.append(f"{source.rms_current_A:.0f} A rms, {source.peak_current_A:.0f} A peak")
    return "; ".join(parts)


def _same_time(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and abs(one - other) <= 1e-6 * max(one, other)


def _remarks(assessment: Assessment) -> list[RenderableType]:
    """Warnings, one of each kind: the best-ranked strategy's words stand for the others it also concerns."""
    where: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for one in assessment.strategies:
        for part, notices in _notices_of(one):
            for notice in notices:
                if notice.severity == "warning":
                    where.setdefault((part, notice.code), (notice.message, []))[1].append(one.name)
    lines = [f"- {notice.message}" for notice in assessment.notices if notice.severity == "warning"]
    for (part, _), (message, names) in where.items():
        others = len(set(names)) - 1
        also = f"; likewise in {others} other{'s' if others > 1 else ''}" if others else ""
        lines.append(f"- {part}, {names[0]}{also}: {message}")
    if not lines:
        return []
    return [Text(), Text("Beware", style="bold"), *[Padding(Text(line), (0, 0, 0, 2)) for line in lines]]


def _notices_of(one: StrategyResult) -> list[tuple[str, tuple[Notice, ...]]]:
    parts = [("Strategy", one.notices), ("Battery", one.battery.notices)]
    if one.ultracapacitor is not None:
        parts.append(("Bank", one.ultracapacitor.notices))
    return parts
