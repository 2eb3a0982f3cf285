"""The ranking as text for an 80-column terminal, readable without the manual.

It is drawn from the result document alone, so that a recorded assessment reads as a fresh one.
"""

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lifetime.report.gathered_warnings import gathered_warnings
from lifetime.report.page.conventions import (
    CONVENTION_HEADINGS,
    convention_rows,
    indistinct_sentences,
    order_sentence,
)
from lifetime.report.page.marks import apart_words, mark_sentences, marks
from lifetime.report.page.ranking import lever_rows
from lifetime.report.words import (
    PARTS,
    SHORT_PARTS,
    design_sentence,
    end_sentence,
    energy_sentence,
    life_words,
    reference_sentence,
)
from lifetime.results.document import ResultDocument
from lifetime.results.source import SourceView
from lifetime.results.strategy import StrategyView
from lifetime.text import percent, printable, significant

CAUTION = (
    "A predicted life is an estimate for comparing designs, not a safety statement. Keep every cell within its "
    "maker's limits; high voltage, lithium cells and charged capacitors can kill and burn, so local codes and "
    "qualified people decide."
)


def ranking_view(document: ResultDocument) -> RenderableType:
    """Everything a person wants to read first: the ranking, the end of life of each source, the warnings.

    Args:
        document: The result document.
    """
    study, currency = document.study, printable(document.study.currency)
    return Group(
        Text(printable(study.title), style="bold"),
        Text(f"Net present cost over {study.service_years:g} years of service, lowest first [{currency}]"),
        Text(),
        _table(document),
        *(Text(one) for one in mark_sentences(document)),
        Text(),
        *_conventions(document),
        *_levers(document),
        *[_reasons(one, study.currency) for one in document.strategies],
        *_warnings(document),
        Text(),
        Text(CAUTION, style="italic"),
        Text(f"Assessment {study.id}, packwear {study.program_version}", style="dim"),
    )


def print_ranking(document: ResultDocument, console: Console) -> None:
    """Print the ranking.

    Args:
        document: The result document.
        console: Where.
    """
    console.print(ranking_view(document))


def _table(document: ResultDocument) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("", justify="right")
    table.add_column("strategy", overflow="fold")
    lives = [f"{words}\nlife" for words in SHORT_PARTS.values()]
    for heading in (*lives, "batteries\nrequired", "net present\ncost", "cost\nper km"):
        table.add_column(heading, justify="right")
    marked, alike = marks(document), apart_words(document)
    for one in document.strategies:
        name = Text(printable(one.name))
        if one.name in alike:
            name.append(f"\n≈ {alike[one.name]} in battery life", style="dim")
        table.add_row(
            ("-" if one.rank is None else str(one.rank)) + marked[one.name],
            name,
            life_words(one.battery),
            life_words(one.ultracapacitor),
            *_cost_cells(one),
        )
    return table


def _conventions(document: ResultDocument) -> list[RenderableType]:
    """Battery lives under the four conventions, and whether the order depends on them."""
    rows = convention_rows(document)
    if not rows:
        return []
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("battery life", overflow="fold")
    for heading in CONVENTION_HEADINGS:
        table.add_column(heading.replace(", ", ",\n"), justify="right")
    for name, lives in rows:
        table.add_row(Text(name), *lives)
    sentences = [order_sentence(document), *(f"* {one}" for one in indistinct_sentences(document))]
    return [table, *(Text(one) for one in sentences if one), Text()]


def _cost_cells(one: StrategyView) -> tuple[str, str, str]:
    cost = one.known_cost
    if cost is None:
        return "-", "no result", "-"
    per_km = "-" if cost.cost_per_km is None else significant(cost.cost_per_km)
    return str(1 + cost.replacements.battery), f"{cost.net_present_cost:,.0f}", per_km


def _levers(document: ResultDocument) -> list[RenderableType]:
    """What else would move the best strategy."""
    rows = lever_rows(document)
    if not rows:
        return []
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column(f"What else would move “{printable(document.strategies[0].name)}”", overflow="fold")
    for heading in ("battery\nlife", "net present\ncost"):
        table.add_column(heading, justify="right")
    for row in rows:
        table.add_row(row.words, row.battery_life, row.difference)
    return [table, Text()]


def _reasons(one: StrategyView, currency: str) -> RenderableType:
    lines: list[RenderableType] = [Text(printable(one.name), style="bold")]
    sentences = [f"{PARTS[kind]}. {_source_sentences(source)}" for kind, source in one.sources.items()]
    design = design_sentence(one)
    if design:
        sentences.insert(0, f"Design. {design}")
    compared = reference_sentence(one.reference_split)
    if compared:
        sentences.append(f"Split. {compared}")
    bought = energy_sentence(one, currency)
    if bought:
        sentences.append(f"Energy. {bought}")
    return Group(*lines, *[Padding(Text(words), (0, 0, 0, 2)) for words in sentences])


def _source_sentences(source: SourceView) -> str:
    text = end_sentence(source)
    if source.calendar_share_fraction is not None:
        text += f" Calendar ageing causes {percent(source.calendar_share_fraction)} of the capacity loss."
    if source.not_counted_throughput_fraction:
        share = percent(source.not_counted_throughput_fraction)
        text += f" Small cycles with {share} of the throughput are not counted."
    return f"{text} {significant(source.rms_current_A)} A rms, {significant(source.peak_current_A)} A peak."


def _warnings(document: ResultDocument) -> list[RenderableType]:
    lines = [Text(f"- {one.where}: {one.message}") for one in gathered_warnings(document)]
    if not lines:
        return []
    return [Text(), Text("Warnings", style="bold"), *[Padding(line, (0, 0, 0, 2)) for line in lines]]
