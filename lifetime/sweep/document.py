"""What a sweep shows as plain data, for programs."""

from collections.abc import Mapping
from typing import Any

from lifetime.sweep.summary import Summary


def summary_document(summary: Summary, data: Mapping[str, Any]) -> dict[str, Any]:
    """The summary as plain data without NaN; costs and prices in the study's currency.

    Args:
        summary: What the sweep shows.
        data: Its study as plain data.
    """
    return {
        "currency": data["cost"]["currency"],
        "candidates": summary.candidates,
        "rows_with_cost": summary.rows,
        "rows_without_cost": summary.without_cost,
        "candidates_without_result": summary.problems.candidates,
        "first_problem": summary.problems.first or None,
        "lowest_cost": summary.best,
        "lowest_cost_with_ultracapacitor": summary.best_with_ultracapacitor,
        "neighbours": [neighbour._asdict() for neighbour in summary.neighbours],
        "pareto_optimal": list(summary.front),
        "sensitivity": [effect._asdict() for effect in summary.sensitivity],
        "break_even": [prices._asdict() for prices in summary.break_even],
    }
