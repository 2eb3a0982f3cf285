"""The rank of strategies by cost, and what their days come to."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.costing.terms import RESIDUALS, Residual
from lifetime.errors import NumberError
from lifetime.notices import Notice

TIE: Final = 1e-9
"""Relative difference of cost up to which two strategies share a rank: rounding, not a saving."""


@dataclass(frozen=True, slots=True)
class TripFigures:
    """The day of one strategy as seen from outside, charging included; a log of weeks as its mean day.

    Args:
        name: The strategy's name.
        energy_kWh: Net energy delivered to the machine per day [kWh], after what a split says is lost on the way there.
        duration_s: Time driven per day [s], >= 0.
        net_battery_charge_Ah: Charge taken from the battery and not put back by the end of the day [Ah]; 0 where the
            day closes.
        net_ultracapacitor_energy_kWh: Energy taken from the bank and not put back by the end of the day [kWh]; 0
            where the day closes or there is no bank.
        net_battery_energy_kWh: Energy of the battery's net charge at its open-circuit voltage [kWh].
        moved_kWh: Half of what goes into and out of the battery per day, at its open-circuit voltage [kWh], >= 0.
        distance_km: Driven per day [km]; None where no speed says so.
        demand: Which demand it splits, alike for strategies that split the same; None for histories.
        metered_kWh: Energy that the charger takes per day [kWh]; None where nothing charges from outside.
    """

    name: str
    energy_kWh: float
    duration_s: float
    net_battery_charge_Ah: float
    net_ultracapacitor_energy_kWh: float
    net_battery_energy_kWh: float = 0.0
    moved_kWh: float = 0.0
    distance_km: float | None = None
    demand: Hashable | None = None
    metered_kWh: float | None = None

    @property
    def net_change_kWh(self) -> float:
        """Energy taken from both sources and not put back by the end of the day [kWh]."""
        return self.net_battery_energy_kWh + self.net_ultracapacitor_energy_kWh


def rank(costs: Sequence[float | None]) -> list[int | None]:
    """Rank strategies by net present cost, lowest first, as in competitions: two firsts are followed by a third.

    Costs within 1e-9 (relative) of the lowest of their group share its rank.

    Args:
        costs: Net present cost of each strategy [currency], finite; None where there is no result.

    Returns:
        The rank of each strategy from 1, in the order given; None where there is no result.

    Raises:
        NumberError: A cost is NaN or infinite. Give None for a missing result: NaN breaks every sort silently.
    """
    known = [(_finite(cost, place), place) for place, cost in enumerate(costs) if cost is not None]
    ranks: list[int | None] = [None] * len(costs)
    leader, leader_rank = 0.0, 0
    for position, (cost, place) in enumerate(sorted(known), start=1):
        if leader_rank == 0 or cost - leader > TIE * max(abs(cost), abs(leader)):
            leader, leader_rank = cost, position
        ranks[place] = leader_rank
    return ranks


def order(costs: Sequence[float | None]) -> list[int]:
    """List the strategies from the lowest to the highest cost, those without a result last.

    Args:
        costs: As for :func:`rank`.

    Returns:
        Positions in ``costs``; ties and missing results keep the order in which they were given.

    Raises:
        NumberError: A cost is NaN or infinite.
    """
    last = len(costs) + 1
    ranks = [last if place is None else place for place in rank(costs)]
    return sorted(range(len(costs)), key=ranks.__getitem__)  # sorted() is stable


RESIDUAL_WORDS: Final[Mapping[Residual, str]] = {
    "straight_line": "valued straight-line",
    "second_life": "valued at second life",
    "none": "worth nothing",
}


def residual_notices(costs: Mapping[str, Mapping[Residual, float]], chosen: Residual) -> list[Notice]:
    """Say where the lowest cost hangs on how the last packs are valued at the end of service.

    Args:
        costs: By name of each ranked strategy its net present cost with each way [currency].
        chosen: The way that the ranking takes.

    Returns:
        At most one warning.
    """
    if len(costs) < 2:
        return []
    lowest = {way: min(costs, key=lambda name: costs[name][way]) for way in RESIDUALS}
    best = costs[lowest[chosen]]
    others = [
        f'"{name}" by {best[way] - costs[name][way]:,.0f} where they are {RESIDUAL_WORDS[way]}'
        for way, name in lowest.items()
        if best[way] - costs[name][way] > TIE * abs(best[way])
    ]
    if not others:
        return []
    return [
        Notice(
            code="order_depends_on_residual_value",
            message=(
                f'Which strategy costs least depends on what the last packs are worth at the end of service: "'
                f'{lowest[chosen]}" where they are {RESIDUAL_WORDS[chosen]}, as in this ranking; '
                f"{'; '.join(others)}. Treat these strategies as equal unless you know that value."
            ),
        )
    ]


def _finite(cost: float, place: int) -> float:
    if not np.isfinite(cost):
        raise NumberError(
            f"Net present cost of strategy {place + 1} is {cost}, expected a finite number. Give None for no result."
        )
    return float(cost)
