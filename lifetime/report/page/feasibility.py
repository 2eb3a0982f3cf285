"""Whether each demand is served new, at the end of life and in the coldest month, as a table."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lifetime.results.document import ResultDocument
from lifetime.results.feasibility import Condition, FeasibilityView
from lifetime.text import printable, significant

_CONDITIONS: Final[Mapping[Condition, str]] = {
    "beginning_of_life": "beginning of life",
    "end_of_life": "end of life",
    "coldest_month": "coldest month",
}
_NONE: Final = "–"
_LEAST: Final = 1e-3

FEASIBILITY_HEADINGS: Final = (
    "Unserved [kWh/day]",
    "Unserved [s/day]",
    "Largest gap [kW]",
    "Gap at [s]",
    "To friction brakes [kWh/day]",
    "Day needs [kWh]",
    "Window holds [kWh]",
)
"""Columns of figures, in the order of ``FeasibilityRow.cells``."""


@dataclass(frozen=True, slots=True)
class FeasibilityRow:
    """One condition of one strategy as text.

    Args:
        condition: When.
        requirement: Whether it is met.
        is_met: The same as a fact.
        cells: Figures under ``FEASIBILITY_HEADINGS``; a dash where nothing is missing.
    """

    condition: str
    requirement: str
    is_met: bool
    cells: tuple[str, ...]


def feasibility_rows(document: ResultDocument) -> list[tuple[str, list[FeasibilityRow]]]:
    """Name and conditions of each strategy that splits a demand; empty for older results.

    Args:
        document: The result document.
    """
    return [
        (printable(one.name), [_row(condition) for condition in one.feasibility])
        for one in document.strategies
        if one.feasibility
    ]


def _row(one: FeasibilityView) -> FeasibilityRow:
    gap = (
        (significant(one.largest_gap_W / 1000.0), significant(one.largest_gap_at_s)) if one.unserved_s else (_NONE,) * 2
    )
    return FeasibilityRow(
        condition=_CONDITIONS[one.condition],
        requirement="met" if one.is_met else "not met",
        is_met=one.is_met,
        cells=(
            _small(one.unserved_kWh),
            _small(one.unserved_s),
            *gap,
            _small(one.friction_kWh),
            significant(one.needed_kWh),
            significant(one.held_kWh),
        ),
    )


def _small(amount: float) -> str:
    """An amount that may be next to nothing."""
    return f"< {_LEAST:g}" if 0.0 < amount < _LEAST else significant(amount)
