"""Parameter sets in words: every number with its source, and what the ageing model does not contain."""

from collections.abc import Iterator
from dataclasses import dataclass

from lifetime.report.words import PARTS
from lifetime.results.document import ResultDocument
from lifetime.results.parameters import ParameterSetView, ProvenanceView
from lifetime.results.view import SourceKind


@dataclass(frozen=True, slots=True)
class SetText:
    """A parameter set and how it is headed.

    Args:
        part: Which source it belongs to.
        heading: Of its section.
        set: The set.
        numbers: Every number with its value as text.
    """

    part: SourceKind
    heading: str
    set: ParameterSetView
    numbers: tuple[tuple[ProvenanceView, str], ...]


def used_sets(document: ResultDocument) -> Iterator[tuple[SourceKind, ParameterSetView]]:
    """The parameter sets that were used, by source.

    Args:
        document: The result document.
    """
    sets = document.study.parameter_sets
    if sets.battery is not None:
        yield "battery", sets.battery
    if sets.ultracapacitor is not None:
        yield "ultracapacitor", sets.ultracapacitor


def not_modelled_facts(document: ResultDocument) -> list[tuple[str, str]]:
    """The stresses that each source's ageing model does not respond to.

    Args:
        document: The result document.
    """
    return [
        (f"{PARTS[part]} ({one.cell})", "; ".join(one.not_modelled) or "none of the stresses considered here")
        for part, one in used_sets(document)
    ]


def set_texts(document: ResultDocument) -> list[SetText]:
    """The parameter sets with their numbers as text.

    Args:
        document: The result document.
    """
    return [
        SetText(
            part,
            f"{PARTS[part]}: {one.title}",
            one,
            tuple((entry, _value_text(entry.value)) for entry in one.provenance),
        )
        for part, one in used_sets(document)
    ]


def _value_text(value: float | str | tuple[float, ...]) -> str:
    if isinstance(value, str):
        return value
    return ", ".join(f"{one:.10g}" for one in value) if isinstance(value, tuple) else f"{value:.10g}"
