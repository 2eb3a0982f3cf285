"""What is said where a day is not served whole: braking for the friction brakes, traction that nobody serves."""

from collections.abc import Sequence
from typing import Final

from lifetime.assessment.months_day import MonthsDay
from lifetime.notices import Notice
from lifetime.results.feasibility import Feasibility
from lifetime.text import MONTH_NAMES, percent, significant

_NAMES: Final = {
    "beginning_of_life": "at the beginning of life",
    "end_of_life": "at the end of life",
    "coldest_month": "in the coldest month",
}


def unserved_words(feasible: Feasibility) -> str:
    """Traction that is missing, as a phrase.

    Args:
        feasible: What a day serves.
    """
    return (
        f"{significant(feasible.unserved_kWh)} kWh of traction per day unserved for {significant(feasible.unserved_s)} "
        f"s, the largest gap {significant(feasible.largest_gap_W / 1000.0)} kW at "
        f"{significant(feasible.largest_gap_at_s)} s into the day"
    )


def friction_words(feasible: Feasibility) -> str:
    """Braking that neither source takes, as a clause.

    Args:
        feasible: What a day serves.
    """
    return (
        f"{significant(feasible.friction_kWh)} kWh of braking per day ({percent(feasible.friction_share)} of the "
        "traction) is taken by neither source within its limits and goes to the friction brakes"
    )


def friction_notices(feasible: Feasibility, bought_kWh_per_year: float) -> list[Notice]:
    """Braking energy that neither source takes.

    Args:
        feasible: What the day serves at the beginning of life.
        bought_kWh_per_year: What is bought in its place [kWh/year].
    """
    if feasible.friction_kWh <= 0.0:
        return []
    return [
        Notice(
            "regeneration_to_friction_brakes",
            f"{friction_words(feasible)}. It is bought again: {significant(bought_kWh_per_year)} kWh per year over all "
            "months, part of the energy bought.",
            "note" if feasible.takes_braking else "warning",
        )
    ]


def months_notices(in_months: Sequence[MonthsDay], bought_kWh_per_year: float) -> list[Notice]:
    """Months in which the battery's limits are others than at the year's mean temperature.

    Args:
        in_months: Their days.
        bought_kWh_per_year: What is bought in place of braking that no source takes, over all months [kWh/year].
    """
    parts = [
        f"in {', '.join(MONTH_NAMES[month] for month in one.months)} {significant(one.feasible.friction_kWh)} kWh of "
        f"braking goes to the friction brakes{_and_unserved(one.feasible)}"
        for one in in_months
        if one.feasible is not None and (one.feasible.friction_kWh > 0.0 or not one.feasible.serves_power)
    ]
    if not parts:
        return []
    served = all(one.feasible is None or one.feasible.serves_power for one in in_months)
    unequal = "" if served else " Traction not served is bought too; ageing is by what the battery serves."
    return [
        Notice(
            "months_with_other_limits",
            "The battery's limits of current change with the month's temperature, so the demand is split anew for the "
            f"months that differ from the year's mean. Per day, {'; '.join(parts)}. In place of braking that no source "
            f"takes, {significant(bought_kWh_per_year)} kWh per year is bought.{unequal}",
            "note" if served else "warning",
        )
    ]


def _and_unserved(feasible: Feasibility) -> str:
    return "" if feasible.serves_power else f" and {unserved_words(feasible)}"


def feasibility_notices(conditions: Sequence[Feasibility]) -> list[Notice]:
    """Whether the demand is served new, at the end of life and in the coldest month.

    Args:
        conditions: What is served in each.
    """
    parts = [f"{_NAMES[one.condition]} {_verdict(one)}" for one in conditions]
    met = all(one.is_met for one in conditions)
    return [
        Notice(
            "requirement_by_condition",
            f"Requirement {'; '.join(parts)}.",
            "note" if met else "warning",
        )
    ]


def _verdict(one: Feasibility) -> str:
    words = "met" if one.is_met else "not met:"
    faults = []
    if not one.serves_power:
        faults.append(unserved_words(one))
    if not one.serves_energy:
        faults.append(
            f"the day needs {significant(one.needed_kWh)} kWh, the window holds {significant(one.held_kWh)} kWh"
        )
    friction = f" ({significant(one.friction_kWh)} kWh of braking per day to the friction brakes)"
    return f"{' '.join([words, ' and '.join(faults)]).strip()}{friction if one.friction_kWh > 0.0 else ''}"
