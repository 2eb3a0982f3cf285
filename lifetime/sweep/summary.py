"""What a sweep shows: the lowest cost and its neighbours, the Pareto front, sensitivities, break-even prices."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.sweep.axis import Axis

if TYPE_CHECKING:
    import pandas as pd


class Problems(NamedTuple):
    """Candidates that are no study or cannot be assessed.

    Args:
        candidates: How many.
        first: Why the first of them has no result; empty where there is none.
    """

    candidates: int
    first: str


class Neighbour(NamedTuple):
    """A candidate one grid step off the best along one axis, the others kept.

    Args:
        key: The axis.
        value: What the key is there.
        net_present_cost: Of the same strategy there [currency].
    """

    key: str
    value: float
    net_present_cost: float


class Sensitivity(NamedTuple):
    """Effect of an axis on cost.

    Args:
        key: The axis.
        lowest_fifth_cost: Mean net present cost at the lowest fifth of its values [currency].
        highest_fifth_cost: The same at the highest fifth [currency].
    """

    key: str
    lowest_fifth_cost: float
    highest_fifth_cost: float


class BreakEven(NamedTuple):
    """Prices at which a strategy costs as much as the battery alone, where it costs least.

    Args:
        strategy: Its name.
        ultracapacitor_price: Of the whole bank [currency]; None where there is none.
        battery_price: Of the whole pack, in both strategies [currency]; None where there is none.
    """

    strategy: str
    ultracapacitor_price: float | None
    battery_price: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """What a sweep shows.

    Args:
        candidates: How many were run.
        rows: How many rows have a cost.
        without_cost: How many rows have none, because a source does not meet its requirement or lasts less than a day.
        problems: Candidates without any result.
        best: The row of the lowest cost.
        best_with_ultracapacitor: The row of the lowest cost among strategies with a bank.
        neighbours: Of the latter, or of ``best`` where no strategy has a bank.
        front: Pareto-optimal rows in cost, battery life and mass of cells, lowest cost first.
        sensitivity: Of the lowest cost of each candidate, of strategies with a bank where there are any; strongest
            effect first.
        break_even: One for each strategy that has a price.
    """

    candidates: int
    rows: int
    without_cost: int
    problems: Problems
    best: dict[str, Any] | None
    best_with_ultracapacitor: dict[str, Any] | None
    neighbours: tuple[Neighbour, ...]
    front: tuple[dict[str, Any], ...]
    sensitivity: tuple[Sensitivity, ...]
    break_even: tuple[BreakEven, ...]


def summarise(path: Path, axes: Sequence[Axis]) -> Summary:
    """Sum up a finished sweep.

    Args:
        path: Its Parquet file.
        axes: What was varied.
    """
    import pandas as pd  # noqa: PLC0415 - slow import

    return summarise_rows(pd.read_parquet(path), [axis.name for axis in axes])


def summarise_rows(frame: "pd.DataFrame", names: list[str]) -> Summary:
    """Sum up the rows of a sweep.

    Args:
        frame: One row a candidate and strategy, with the columns of a sweep's file.
        names: The keys that were varied, columns too.
    """
    failed = frame[frame["problem"].notna()]
    known = frame[frame["net_present_cost"].notna()].reset_index(drop=True)
    problems = Problems(int(failed["candidate"].nunique()), "" if failed.empty else str(failed["problem"].iloc[0]))
    candidates = int(frame["candidate"].nunique())
    without_cost = len(frame) - len(known) - len(failed)
    if known.empty:
        return Summary(candidates, 0, without_cost, problems, None, None, (), (), (), ())
    hybrids = known[known["has_ultracapacitor"] == 1.0]
    compared = known if hybrids.empty else hybrids.reset_index(drop=True)
    best = _lowest_cost(compared)
    return Summary(
        candidates=candidates,
        rows=len(known),
        without_cost=without_cost,
        problems=problems,
        best=_plain(_lowest_cost(known).to_dict()),
        best_with_ultracapacitor=None if hybrids.empty else _plain(best.to_dict()),
        neighbours=tuple(_neighbours(compared, best, names)),
        front=tuple(_plain(known.loc[at].to_dict()) for at in _front(known)),
        sensitivity=tuple(_sensitivity(compared, names)),
        break_even=tuple(_break_even(known)),
    )


def pareto(costs: FloatArray) -> NDArray[np.bool_]:
    """Which points are Pareto-optimal: no other is as low in every column and lower in one.

    Args:
        costs: Less is better in each column, shape (n, columns).

    Returns:
        Boolean, shape (n,).
    """
    order = np.lexsort(costs.T[::-1])
    kept: list[int] = []
    on_front = np.zeros(costs.shape[0], dtype=np.bool_)
    for at in order.tolist():
        if kept:
            others = costs[kept]
            beaten = np.all(others <= costs[at], axis=1) & np.any(others < costs[at], axis=1)
            if bool(beaten.any()):
                continue
        kept.append(at)
        on_front[at] = True
    return on_front


def _lowest_cost(rows: "pd.DataFrame") -> "pd.Series[Any]":
    return rows.iloc[int(rows["net_present_cost"].to_numpy(np.float64).argmin())]


def _front(known: "pd.DataFrame") -> list[int]:
    life = known["battery_life_years"].fillna(LIFE_SEARCH_YEARS).to_numpy(np.float64)
    mass = known["cells_kg"].fillna(0.0).to_numpy(np.float64)
    costs = np.column_stack([known["net_present_cost"].to_numpy(np.float64), -life, mass])
    _, first = np.unique(costs, axis=0, return_index=True)
    among = np.sort(first)
    front = among[pareto(costs[among])]
    return [int(at) for at in front[np.argsort(costs[front, 0], kind="stable")]]


def _neighbours(known: "pd.DataFrame", best: "pd.Series[Any]", names: list[str]) -> list[Neighbour]:
    """The same strategy one step off the best along each axis, to both sides where there is a step."""
    neighbours = []
    same_strategy = known["strategy"] == best["strategy"]
    for name in names:
        others = np.ones(len(known), dtype=np.bool_)
        for other in names:
            if other != name:
                others &= (known[other] == best[other]).to_numpy()
        line = known[same_strategy & others].sort_values(name)
        values = line[name].to_numpy(np.float64)
        here = float(best[name])
        sides = (np.searchsorted(values, here) - 1, np.searchsorted(values, here, side="right"))
        costs = line["net_present_cost"].to_numpy(np.float64)
        neighbours += [Neighbour(name, float(values[at]), float(costs[at])) for at in sides if 0 <= at < values.size]
    return neighbours


def _sensitivity(known: "pd.DataFrame", names: list[str]) -> list[Sensitivity]:
    """Mean of each candidate's lowest cost in the lowest and the highest fifth of each axis."""
    lowest = known.groupby("candidate").agg({"net_present_cost": "min", **dict.fromkeys(names, "first")})
    costs = lowest["net_present_cost"].to_numpy(np.float64)
    effects = []
    for name in names:
        values = lowest[name].to_numpy(np.float64)
        low, high = np.quantile(values, [0.2, 0.8])
        effects.append(Sensitivity(name, float(costs[values <= low].mean()), float(costs[values >= high].mean())))
    return sorted(effects, key=lambda effect: -abs(effect.highest_fifth_cost - effect.lowest_fifth_cost))


def _break_even(known: "pd.DataFrame") -> list[BreakEven]:
    prices = []
    for strategy, rows in known.groupby("strategy", sort=False):
        row = _plain(_lowest_cost(rows).to_dict())
        bank, battery = row["break_even_ultracapacitor_price"], row["break_even_battery_price"]
        if bank is not None or battery is not None:
            prices.append(BreakEven(str(strategy), bank, battery))
    return prices


def _plain(row: dict[Any, Any]) -> dict[str, Any]:
    """A row with numbers of Python, None in place of NaN."""
    return {
        str(key): None if isinstance(value, float) and np.isnan(value) else getattr(value, "item", lambda v=value: v)()
        for key, value in row.items()
    }
