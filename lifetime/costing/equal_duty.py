"""Whether strategies do the same work, so that their costs compare like with like."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from lifetime.checks import as_floats
from lifetime.costing.ranking import TIE, TripFigures
from lifetime.notices import Notice
from lifetime.text import counted, percent, significant

SAME_DUTY: Final = 0.01
"""Largest relative difference between duties that still count as one, and largest net change that needs no word.

The scale is that of SAE J1711, which asks the net energy change of the storage in a hybrid vehicle's test to stay
within 1 % of the energy used (secondary source: later work on that criterion; the standard itself was not read). For
delivered energy, duration and distance the same 1 % is common practice, no source.
"""

MOST_NET_CHANGE: Final = 0.05
"""Share of the day's energy beyond which a corrected net change is no correction any more (common practice)."""

KEY: Final = "cost.rank_unequal_duty = true"


@dataclass(frozen=True, slots=True)
class DutyCheck:
    """What keeps strategies from being ranked with the others, or is worth a word.

    Args:
        unequal: By name of each strategy whose duty is not that of the others, a clause that says by how much.
        notices: Corrected net changes.
    """

    unequal: dict[str, str]
    notices: tuple[Notice, ...]


def check_duties(trips: Sequence[TripFigures]) -> DutyCheck:
    """Compare the day of every strategy with the duty that most of them have.

    That duty is one of the demands where the study has any, else one of the histories; where two are equally common
    nothing says which is meant. Strategies that split one demand do one work whatever their sources lose. Two days are
    the same where duration, distance, delivered energy and, unless the charger makes up for it, net change of the
    stored energy differ by 1 % or less. Behind a charger a net change counts by itself: it is corrected, beyond 1 % of
    the metered energy with a word, beyond 5 % the day is no repeating day.

    Args:
        trips: The figures of every strategy that could be ranked.

    Raises:
        NumberError: A figure is NaN or infinite.
    """
    for trip in trips:
        _refuse_what_is_no_number(trip)
    unequal = _unequal(trips)
    notices = []
    for trip in trips:
        share = _net_change_share(trip)
        if share > MOST_NET_CHANGE * (1.0 + TIE):
            reason = f"{_net_change(trip)}; beyond {percent(MOST_NET_CHANGE)} no correction makes up for it"
            unequal[trip.name] = f"{unequal[trip.name]}; {reason}" if trip.name in unequal else reason
        elif share > SAME_DUTY * (1.0 + TIE):
            notices.append(
                Notice("net_change_corrected", f"“{trip.name}”: {_net_change(trip)}. Energy bought is corrected by it.")
            )
    return DutyCheck({trip.name: unequal[trip.name] for trip in trips if trip.name in unequal}, tuple(notices))


def ranked_all_the_same(unequal: dict[str, str]) -> list[Notice]:
    """Warn of duties that differ where the study ranks them all the same.

    Args:
        unequal: By name of each strategy, what differs.
    """
    return [
        Notice("duty_differs", f"“{name}”: {reason}. It is ranked all the same, as {KEY} asks.")
        for name, reason in unequal.items()
    ]


def _unequal(trips: Sequence[TripFigures]) -> dict[str, str]:
    if len(trips) < 2:
        return {}
    common = _most_common(trips)
    if common is None:
        return {
            trip.name: _against(trip, _first_unlike(trip, trips), ", and both are equally common") for trip in trips
        }
    alike = [trip for trip in trips if not _differences(trip, common)]
    others = f" and {counted(len(alike) - 1, 'other')}" if len(alike) > 1 else ""
    return {trip.name: _against(trip, common, others) for trip in trips if trip not in alike}


def _most_common(trips: Sequence[TripFigures]) -> TripFigures | None:
    """The day that most others are like; None where two unlike days are equally common."""
    voters = [trip for trip in trips if trip.demand is not None] or list(trips)
    votes = [sum(not _differences(other, trip) for other in voters) for trip in voters]
    leaders = [trip for trip, count in zip(voters, votes, strict=True) if count == max(votes)]
    return None if any(_differences(one, leaders[0]) for one in leaders) else leaders[0]


def _first_unlike(trip: TripFigures, trips: Sequence[TripFigures]) -> TripFigures:
    """A day to name beside one where none is the common one; where only others clash, any other."""
    return next((one for one in trips if _differences(trip, one)), next(one for one in trips if one is not trip))


def _against(trip: TripFigures, common: TripFigures, others: str) -> str:
    differences = " and ".join(_differences(trip, common))
    if not differences:
        return f"its duty is that of “{common.name}”, but no duty is the common one"
    return f"its duty is not that of “{common.name}”{others}: {differences}"


def _differences(one: TripFigures, common: TripFigures) -> list[str]:
    """Clauses on what two days differ in; none where they are the same work."""
    energy = max(abs(one.energy_kWh), abs(common.energy_kWh), one.moved_kWh, common.moved_kWh)
    pairs = [("driving takes", "h", one.duration_s / 3600.0, common.duration_s / 3600.0)]
    if one.distance_km is not None and common.distance_km is not None:
        pairs.append(("the distance is", "km", one.distance_km, common.distance_km))
    clauses = [
        f"{words} {_pair(value, other, unit)}"
        for words, unit, value, other in pairs
        if _differs(value, other, max(abs(value), abs(other)))
    ]
    if one.demand is not None and one.demand == common.demand:
        return clauses
    if _differs(one.energy_kWh, common.energy_kWh, energy):
        clauses.append(f"the delivered energy is {_pair(one.energy_kWh, common.energy_kWh, 'kWh')}")
    corrected = one.metered_kWh is not None and common.metered_kWh is not None
    if not corrected and _differs(one.net_change_kWh, common.net_change_kWh, energy):
        clauses.append(
            f"the stored energy falls by {significant(one.net_change_kWh)} kWh, not "
            f"{significant(common.net_change_kWh)} kWh a day"
        )
    return clauses


def _differs(value: float, other: float, scale: float) -> bool:
    return abs(value - other) > SAME_DUTY * scale * (1.0 + TIE)


def _pair(value: float, other: float, unit: str) -> str:
    """Two values that may differ in their third digit, and by how much."""
    share = f" ({'+' if value > other else '-'}{percent(abs(value - other) / abs(other))})" if other else ""
    return f"{value:.4g} {unit}, not {other:.4g} {unit} a day{share}"


def _net_change_share(trip: TripFigures) -> float:
    """Of the metered energy; 0 where no charger makes up for it."""
    if trip.metered_kWh is None or trip.net_change_kWh == 0.0:
        return 0.0
    return abs(trip.net_change_kWh) / trip.metered_kWh if trip.metered_kWh > 0.0 else np.inf


def _net_change(trip: TripFigures) -> str:
    share = _net_change_share(trip)
    of = f" ({percent(share)} of the {significant(trip.metered_kWh or 0.0)} kWh metered)" if np.isfinite(share) else ""
    less = "less" if trip.net_change_kWh > 0.0 else "more"
    return f"the day ends with {significant(abs(trip.net_change_kWh))} kWh {less} in store than it began with{of}"


def _refuse_what_is_no_number(trip: TripFigures) -> None:
    for field in fields(trip):
        value = getattr(trip, field.name)
        if isinstance(value, float):
            as_floats([value], f'"{trip.name}": {field.name.replace("_", " ")}')
