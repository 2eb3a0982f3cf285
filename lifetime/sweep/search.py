"""The best values of a few keys of one strategy, within bounds and a budget, without derivatives."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import Fault, StudyError
from lifetime.sweep.axes import Axis
from lifetime.sweep.candidate import rows_of_batch

_NO_COST: Final = 1e30
"""Stands for a candidate without a cost; the search turns away from it."""


@dataclass(frozen=True, slots=True)
class Tuned:
    """What a search found.

    Args:
        values: The best value of each axis.
        net_present: Cost there [currency].
        evaluations: How many candidates were assessed.
        tried: Every candidate: values and cost, None where it has none, in the order tried.
    """

    values: tuple[float, ...]
    net_present: float
    evaluations: int
    tried: tuple[tuple[tuple[float, ...], float | None], ...]


def tune(
    data: Mapping[str, Any],
    name: str,
    base: Path,
    axes: tuple[Axis, ...],
    strategy: str,
    budget: int,
    progress: Callable[[float], None],
) -> Tuned:
    """Search the least cost of a strategy over its axes' bounds.

    Args:
        data: The study as plain data.
        name: How messages call it.
        base: Folder that relative paths in it are relative to.
        axes: What is searched, at least one; their lowest and highest values are the bounds.
        strategy: Which strategy's cost counts.
        budget: Most candidates assessed, >= 3.
        progress: Called with the least cost so far after each candidate.

    Raises:
        StudyError: The study has no such strategy, or no candidate has a cost.

    Source:
        DIRECT: D. R. Jones, C. D. Perttunen, B. E. Stuckman, J. Optim. Theory Appl. 79 (1993) 157-181, as in SciPy:
        deterministic, bounded, without derivatives.
    """
    names = [one.get("name") for one in data.get("strategy", []) if isinstance(one, Mapping)]
    if strategy not in names:
        known = ", ".join(f'"{one}"' for one in names)
        raise StudyError(name, [Fault("strategy", f'there is none called "{strategy}"; there are {known}.')])
    # Only this strategy is assessed; what others would cost does not matter here.
    place = names.index(strategy)
    alone = {**data, "strategy": [data["strategy"][place]]}
    moved = tuple(_moved(axis, place, strategy, name) for axis in axes)
    tried: dict[tuple[float, ...], float | None] = {}

    def cost(shares: FloatArray) -> float:
        values = tuple(axis.at(float(share)) for axis, share in zip(axes, shares, strict=True))
        if values not in tried:
            if len(tried) >= budget:
                raise _BudgetSpent
            row = rows_of_batch(alone, str(base.absolute()), moved, [(len(tried), values)])[0]
            found = row["net_present"]
            tried[values] = found if isinstance(found, float) else None
            known = [one for one in tried.values() if one is not None]
            progress(min(known, default=float("nan")))
        return _NO_COST if tried[values] is None else float(tried[values] or 0.0)

    _search(cost, len(axes), budget)
    best = min((one for one in tried.items() if one[1] is not None), key=lambda one: one[1] or 0.0, default=None)
    if best is None or best[1] is None:
        raise StudyError(name, [Fault("strategy", f'"{strategy}" has no cost anywhere within the bounds.')])
    return Tuned(best[0], best[1], len(tried), tuple(tried.items()))


class _BudgetSpent(Exception):  # noqa: N818 - no error
    """Ends the search: its own limit is looked at only between rounds, and a round may take many candidates."""


def _search(cost: Callable[[FloatArray], float], axes: int, budget: int) -> None:
    from scipy.optimize import Bounds, direct  # noqa: PLC0415 - slow import

    # Where many shares lead to one value, as with whole numbers, most calls cost nothing; all the same they must end.
    with suppress(_BudgetSpent):
        direct(cost, Bounds(np.zeros(axes), np.ones(axes)), maxfun=50 * budget, maxiter=10 * budget, vol_tol=0.0)


def _moved(axis: Axis, place: int, strategy: str, name: str) -> Axis:
    """The axis as the study with one strategy has it."""
    if axis.path[0] != "strategy":
        return axis
    if axis.path[1] != place:
        text = f'varies another strategy than "{strategy}"; leave it out.'
        raise StudyError(name, [Fault(axis.name, text)])
    return replace(axis, path=("strategy", 0, *axis.path[2:]))
