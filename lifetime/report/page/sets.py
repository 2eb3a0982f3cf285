"""Parameter sets in words: every number with its source, and what the law does not see."""

from collections.abc import Mapping
from typing import Any

from lifetime.report.words import PARTS


def blind_facts(detail: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What each source's law does not respond to.

    Args:
        detail: The detail document.
    """
    return [
        (f"{PARTS[part]} ({one['cell']})", "; ".join(one["blind_to"]) or "nothing that the stress summary holds")
        for part, one in detail["sets"].items()
        if one is not None
    ]


def set_texts(detail: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The parameter sets with their numbers as text.

    Args:
        detail: The detail document.
    """
    return [
        {
            **one,
            "part": part,
            "heading": f"{PARTS[part]}: {one['title']}",
            "provenance": [{**entry, "value": _value_text(entry["value"])} for entry in one["provenance"]],
        }
        for part, one in detail["sets"].items()
        if one is not None
    ]


def _value_text(value: float | str | list[float]) -> str:
    if isinstance(value, str):
        return value
    return ", ".join(f"{one:.10g}" for one in value) if isinstance(value, list) else f"{value:.10g}"
