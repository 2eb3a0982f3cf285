"""The values of a few keys at which one strategy costs least, within bounds and a budget, without derivatives."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import Fault, StudyError
from lifetime.sweep.axis import Axis
from lifetime.sweep.candidate import rows_of_batch

_NO_COST: Final = 1e30
"""In place of the cost of a candidate without one; the search turns away from it."""


class Trial(NamedTuple):
    """A candidate that a search assessed.

    Args:
        values: The value of each axis.
        net_present_cost: Cost there [currency]; None where the candidate has none.
    """

    values: tuple[float, ...]
    net_present_cost: float | None


@dataclass(frozen=True, slots=True)
class SearchResult:
    """What a search found.

    Args:
        values: The best value of each axis.
        net_present_cost: Cost there [currency].
        trials: Every candidate assessed, in order.
    """

    values: tuple[float, ...]
    net_present_cost: float
    trials: tuple[Trial, ...]


def search_lowest_cost(
    data: Mapping[str, Any],
    name: str,
    base: Path,
    axes: tuple[Axis, ...],
    strategy: str,
    budget: int,
    progress: Callable[[], None],
) -> SearchResult:
    """Search the lowest net present cost of a strategy over its axes' bounds.

    Args:
        data: The study as plain data.
        name: How messages call it.
        base: Folder that relative paths in it are relative to.
        axes: What is searched, at least one; their lowest and highest values are the bounds.
        strategy: Name of the strategy whose cost counts.
        budget: Largest number of candidates assessed, >= 3.
        progress: Called after each candidate.

    Raises:
        StudyError: The study has no such strategy, or no candidate has a cost.

    Source:
        DIRECT: D. R. Jones, C. D. Perttunen, B. E. Stuckman, J. Optim. Theory Appl. 79 (1993) 157-181, as in SciPy:
        deterministic, bounded, without derivatives.
    """
    names = [section.get("name") for section in data.get("strategy", []) if isinstance(section, Mapping)]
    if strategy not in names:
        known = ", ".join(f'"{each}"' for each in names)
        raise StudyError(name, [Fault("strategy", f'there is none called "{strategy}"; there are {known}.')])
    # Only this strategy is assessed; what others would cost does not matter here.
    place = names.index(strategy)
    alone = {**data, "strategy": [data["strategy"][place]]}
    own_axes = tuple(_own_axis(axis, place, strategy, name) for axis in axes)
    trials: dict[tuple[float, ...], float | None] = {}

    def cost(fractions: FloatArray) -> float:
        values = tuple(axis.at(float(fraction)) for axis, fraction in zip(axes, fractions, strict=True))
        if values not in trials:
            if len(trials) >= budget:
                raise _BudgetSpent
            row = rows_of_batch(alone, str(base.absolute()), own_axes, [(len(trials), values)])[0]
            net_present_cost = row["net_present_cost"]
            trials[values] = net_present_cost if isinstance(net_present_cost, float) else None
            progress()
        known_cost = trials[values]
        return _NO_COST if known_cost is None else known_cost

    _search(cost, len(axes), budget)
    costs = [(known, values) for values, known in trials.items() if known is not None]
    if not costs:
        raise StudyError(name, [Fault("strategy", f'"{strategy}" has no cost anywhere within the bounds.')])
    lowest, values = min(costs, key=lambda pair: pair[0])
    return SearchResult(values, lowest, tuple(Trial(*pair) for pair in trials.items()))


class _BudgetSpent(Exception):  # noqa: N818 - no error
    """Ends the search: its own limit is looked at only between rounds, and a round may take many candidates."""


def _search(cost: Callable[[FloatArray], float], axes: int, budget: int) -> None:
    from scipy.optimize import Bounds, direct  # noqa: PLC0415 - slow import

    # Where many fractions give one value, as with whole numbers, most calls cost nothing; they must end all the same.
    with suppress(_BudgetSpent):
        direct(cost, Bounds(np.zeros(axes), np.ones(axes)), maxfun=50 * budget, maxiter=10 * budget, vol_tol=0.0)


def _own_axis(axis: Axis, place: int, strategy: str, name: str) -> Axis:
    """The axis as the study with one strategy has it."""
    if axis.path[0] != "strategy":
        return axis
    if axis.path[1] != place:
        text = f'varies another strategy than "{strategy}"; leave it out.'
        raise StudyError(name, [Fault(axis.name, text)])
    return replace(axis, path=("strategy", 0, *axis.path[2:]))
