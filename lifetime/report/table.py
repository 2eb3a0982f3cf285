"""The ranking as text for an 80-column terminal, readable without the manual.

It is drawn from the result document alone, so that a recorded assessment reads as a fresh one.
"""

from collections.abc import Mapping
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lifetime.report.words import end_sentence, gain_sentence, life_words
from lifetime.text import printable

CAUTION = (
    "A predicted life is an estimate for comparing designs, not a safety statement. Keep every cell within its "
    "maker's limits; high voltage, lithium cells and charged capacitors can kill and burn, so local codes and "
    "qualified people decide."
)
_SOURCES = (("battery", "Battery"), ("ultracapacitor", "Bank"))


def ranking_view(document: Mapping[str, Any]) -> RenderableType:
    """Everything a person wants to read first: the ranking, why each source ends, what to beware of.

    Args:
        document: The result document.
    """
    study, strategies = document["study"], document["strategies"]
    currency = strategies[0]["cost"]["currency"] if strategies else ""
    return Group(
        Text(printable(study["title"]), style="bold"),
        Text(f"Net present cost over {study['service_years']:g} years of service, cheapest first [{currency}]"),
        Text(),
        _table(strategies),
        Text(),
        *[_reasons(one) for one in strategies],
        *_remarks(document),
        Text(),
        Text(CAUTION, style="italic"),
        Text(f"Assessment {study['id']}, packwear {study['program_version']}", style="dim"),
    )


def print_ranking(document: Mapping[str, Any], console: Console) -> None:
    """Print the ranking.

    Args:
        document: The result document.
        console: Where.
    """
    console.print(ranking_view(document))


def _table(strategies: list[dict[str, Any]]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("", justify="right")
    table.add_column("strategy", overflow="fold")
    for heading in ("battery\nlife", "bank\nlife", "battery\nbuys", "net present\ncost", "per km"):
        table.add_column(heading, justify="right")
    for one in strategies:
        cost = one["cost"]
        bought = cost["replacements"]["battery"]
        table.add_row(
            "-" if one["rank"] is None else str(one["rank"]),
            Text(printable(one["name"])),
            life_words(one["battery"]),
            life_words(one["ultracapacitor"]),
            "-" if bought is None else str(1 + bought),
            "no result" if cost["net_present"] is None else f"{cost['net_present']:,.0f}",
            "-" if cost["per_km"] is None else f"{cost['per_km']:.3f}",
        )
    return table


def _reasons(one: Mapping[str, Any]) -> RenderableType:
    lines: list[RenderableType] = [Text(printable(one["name"]), style="bold")]
    for key, name in _SOURCES:
        source = one[key]
        if source is not None:
            text = f"{name}. {end_sentence(source)}"
            if source["calendar_share_fraction"] is not None:
                text += f" Wear {100 * source['calendar_share_fraction']:.0f} % calendar."
            text += f" {source['rms_current_A']:.0f} A rms, {source['peak_current_A']:.0f} A peak."
            lines.append(Padding(Text(text), (0, 0, 0, 2)))
    compared = gain_sentence(one.get("gain"))
    if compared:
        lines.append(Padding(Text(f"Split. {compared}"), (0, 0, 0, 2)))
    return Group(*lines)


def _remarks(document: Mapping[str, Any]) -> list[RenderableType]:
    """Warnings, one of each kind: the best-ranked strategy's words stand for the others it also concerns."""
    where: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for one in document["strategies"]:
        parts = [("Strategy", one), *((name, one[key]) for key, name in _SOURCES if one[key] is not None)]
        for part, holder in parts:
            for warning in holder["warnings"]:
                where.setdefault((part, warning["code"]), (warning["message"], []))[1].append(printable(one["name"]))
    lines = [f"- {warning['message']}" for warning in document["warnings"]]
    for (part, _), (message, names) in where.items():
        others = len(set(names)) - 1
        also = f"; likewise in {others} other{'s' if others > 1 else ''}" if others else ""
        lines.append(f"- {part}, {names[0]}{also}: {message}")
    if not lines:
        return []
    return [Text(), Text("Beware", style="bold"), *[Padding(Text(line), (0, 0, 0, 2)) for line in lines]]
