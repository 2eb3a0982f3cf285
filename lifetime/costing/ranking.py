"""The rank of strategies by cost, and whether they did the same work, so that the rank means something."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray, as_floats
from lifetime.costing.terms import RESIDUALS, Residual
from lifetime.errors import NumberError
from lifetime.notices import Notice

TIE: Final = 1e-9
"""Relative difference of cost up to which two strategies share a rank: rounding, not a saving."""

SAME_TRIP: Final = 0.01
"""Largest relative difference between trips that still count as the same.

The scale is that of SAE J1711, which asks the net energy change of the storage in a hybrid vehicle's test to stay
within 1 % of the energy used (secondary source: later work on that criterion; the standard itself was not read). For
trip energy and duration the same 1 % is common practice, no source.
"""


@dataclass(frozen=True, slots=True)
class TripFigures:
    """The day of one strategy as seen from outside, charging included.

    Args:
        name: The strategy's name.
        energy_kWh: Net energy delivered to the machine per day [kWh], after what a split says is lost on the way there.
        duration_s: Time driven per day [s], >= 0.
        net_battery_charge_Ah: Charge taken from the battery and not put back by the end of the day [Ah]; 0 where the
            day closes.
        net_ultracapacitor_energy_kWh: Energy taken from the bank and not put back by the end of the day [kWh]; 0
            where the day closes or there is no bank.
        battery_throughput_Ah: Charge moved through the battery per day, both ways [Ah], >= 0.
    """

    name: str
    energy_kWh: float
    duration_s: float
    net_battery_charge_Ah: float
    net_ultracapacitor_energy_kWh: float
    battery_throughput_Ah: float


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


def comparability_notices(trips: Sequence[TripFigures]) -> list[Notice]:
    """Say where the strategies did not do the same work, so that their costs do not compare like with like.

    For each quantity the smallest and the largest value are compared. They may differ by 1 % of a scale: for trip
    energy and duration the largest of their own values; for the battery's net charge the largest battery throughput;
    for the bank's net energy the largest trip energy. A strategy that ends its day with an emptier store has borrowed
    from it, and looks better than it is.

    Args:
        trips: The figures of every strategy that is ranked.

    Returns:
        At most one warning per quantity, naming the two strategies that differ most.

    Raises:
        NumberError: A figure is NaN or infinite.
    """
    if len(trips) < 2:
        return []
    names = [trip.name for trip in trips]
    energy = as_floats([trip.energy_kWh for trip in trips], "trip energy [kWh per day]")
    duration = as_floats([trip.duration_s for trip in trips], "trip duration [s per day]")
    charge = as_floats([trip.net_battery_charge_Ah for trip in trips], "net battery charge [Ah per day]")
    stored = as_floats([trip.net_ultracapacitor_energy_kWh for trip in trips], "net ultracapacitor energy [kWh/day]")
    throughput = as_floats([trip.battery_throughput_Ah for trip in trips], "battery throughput [Ah per day]")
    compared = (
        ("trip_energy_differs", "trip energy", "kWh", energy, energy, "the larger"),
        ("trip_duration_differs", "trip duration", "s", duration, duration, "the larger"),
        ("net_battery_charge_differs", "net battery charge", "Ah", charge, throughput, "the battery throughput"),
        ("net_ultracapacitor_energy_differs", "net ultracapacitor energy", "kWh", stored, energy, "the trip energy"),
    )
    found = [_spread_notice(names, *row) for row in compared]
    return [notice for notice in found if notice is not None]


def _finite(cost: float, place: int) -> float:
    if not np.isfinite(cost):
        raise NumberError(
            f"Net present cost of strategy {place + 1} is {cost}, expected a finite number. Give None for no result."
        )
    return float(cost)


def _spread_notice(
    names: Sequence[str], code: str, quantity: str, unit: str, values: FloatArray, scales: FloatArray, basis: str
) -> Notice | None:
    low, high = int(np.argmin(values)), int(np.argmax(values))
    spread, scale = float(values[high] - values[low]), float(np.max(np.abs(scales)))
    if spread <= SAME_TRIP * scale * (1 + TIE):
        return None
    share = f" by {spread / scale:.1%} of {basis}" if scale else ""
    return Notice(
        code=code,
        message=(
            f'The {quantity} per day differs{share}: {values[low]:.6g} {unit} for "{names[low]}", {values[high]:.6g} '
            f'{unit} for "{names[high]}". Beyond {SAME_TRIP:.0%} the strategies did not do the same work, and their '
            "order may come from that; give them the same trip and the same state at its end."
        ),
    )
