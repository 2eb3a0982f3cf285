"""What a sweep shows: the best candidate and its neighbours, the Pareto front, sensitivities, break-even prices."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.sweep.axes import Axis

if TYPE_CHECKING:
    import pandas as pd

HORIZON_YEARS: Final = 50.0
"""A battery that outlasts the years searched counts with these in the Pareto front."""


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """What a sweep shows.

    Args:
        candidates: How many were run.
        rows: How many rows have a cost.
        undelivered: How many rows have none, because a source does not meet its requirement or lasts less than a day.
        problems: How many candidates have none, and the first reason.
        best: The cheapest row.
        best_with_bank: The cheapest row of a strategy with a bank.
        neighbours: One grid step off the latter along each axis, the others kept: name, value, cost.
        front: Rows that no other beats in cost, battery life and mass at once, cheapest first.
        sensitivity: By axis the mean of the cheapest cost with a bank, at its lowest and at its highest values,
            strongest first; without a bank where no strategy has one.
        break_even: By strategy the factors on bank and battery price at which it costs as much as the battery alone,
            at its cheapest.
    """

    candidates: int
    rows: int
    undelivered: int
    problems: tuple[int, str]
    best: dict[str, Any] | None
    best_with_bank: dict[str, Any] | None
    neighbours: tuple[tuple[str, float, float], ...]
    front: tuple[dict[str, Any], ...]
    sensitivity: tuple[tuple[str, float, float], ...]
    break_even: tuple[tuple[str, float | None, float | None], ...]


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
    known = frame[frame["net_present"].notna()].reset_index(drop=True)
    problems = (int(failed["candidate"].nunique()), "" if failed.empty else str(failed["problem"].iloc[0]))
    candidates = int(frame["candidate"].nunique())
    undelivered = len(frame) - len(known) - len(failed)
    if known.empty:
        return Summary(candidates, 0, undelivered, problems, None, None, (), (), (), ())
    with_bank = known[known["has_bank"] == 1.0]
    moved = known if with_bank.empty else with_bank.reset_index(drop=True)
    sized = moved.iloc[int(moved["net_present"].to_numpy(np.float64).argmin())]
    best = known.iloc[int(known["net_present"].to_numpy(np.float64).argmin())]
    return Summary(
        candidates=candidates,
        rows=len(known),
        undelivered=undelivered,
        problems=problems,
        best=_plain(best.to_dict()),
        best_with_bank=None if with_bank.empty else _plain(sized.to_dict()),
        neighbours=tuple(_neighbours(moved, sized, names)),
        front=tuple(_plain(known.loc[at].to_dict()) for at in _front(known)),
        sensitivity=tuple(_sensitivity(moved, names)),
        break_even=tuple(_break_even(known)),
    )


def pareto(costs: FloatArray) -> NDArray[np.bool_]:
    """Which points no other beats in every column, ties kept.

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


def _front(known: "pd.DataFrame") -> list[int]:
    life = known["battery_life_years"].fillna(HORIZON_YEARS).to_numpy(np.float64)
    mass = known["cells_kg"].fillna(0.0).to_numpy(np.float64)
    costs = np.column_stack([known["net_present"].to_numpy(np.float64), -life, mass])
    _, first = np.unique(costs, axis=0, return_index=True)
    among = np.sort(first)
    front = among[pareto(costs[among])]
    return [int(at) for at in front[np.argsort(costs[front, 0], kind="stable")]]


def _neighbours(known: "pd.DataFrame", best: "pd.Series[Any]", names: list[str]) -> list[tuple[str, float, float]]:
    """Cost of the same strategy one step off the best along each axis."""
    found = []
    same_strategy = known["strategy"] == best["strategy"]
    for name in names:
        others = np.ones(len(known), dtype=np.bool_)
        for other in names:
            if other != name:
                others &= (known[other] == best[other]).to_numpy()
        line = known[same_strategy & others].sort_values(name)
        values = line[name].to_numpy(np.float64)
        here = float(best[name])
        beside = (np.searchsorted(values, here) - 1, np.searchsorted(values, here, side="right"))
        costs = line["net_present"].to_numpy(np.float64)
        found += [(name, float(values[at]), float(costs[at])) for at in beside if 0 <= at < values.size]
    return found


def _sensitivity(known: "pd.DataFrame", names: list[str]) -> list[tuple[str, float, float]]:
    """Mean of each candidate's cheapest cost in the lowest and the highest fifth of each axis."""
    cheapest = known.groupby("candidate").agg({"net_present": "min", **dict.fromkeys(names, "first")})
    found = []
    for name in names:
        values = cheapest[name].to_numpy(np.float64)
        low, high = np.quantile(values, [0.2, 0.8])
        costs = cheapest["net_present"].to_numpy(np.float64)
        ends = [float(costs[mask].mean()) for mask in (values <= low, values >= high)]
        found.append((name, ends[0], ends[1]))
    return sorted(found, key=lambda one: -abs(one[2] - one[1]))


def _break_even(known: "pd.DataFrame") -> list[tuple[str, float | None, float | None]]:
    found = []
    for strategy, rows in known.groupby("strategy", sort=False):
        row = rows.iloc[int(rows["net_present"].to_numpy(np.float64).argmin())]
        factors = [None if np.isnan(row[key]) else float(row[key]) for key in _BREAK_EVEN]
        if factors != [None, None]:
            found.append((str(strategy), factors[0], factors[1]))
    return found


_BREAK_EVEN: Final = ("break_even_bank_price", "break_even_battery_price")


def _plain(row: dict[Any, Any]) -> dict[str, Any]:
    return {
        str(key): None if isinstance(value, float) and np.isnan(value) else getattr(value, "item", lambda v=value: v)()
        for key, value in row.items()
    }
