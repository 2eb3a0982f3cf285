"""What is said about a projected life: no resistance in the model, scrap before the service ends, extrapolation."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from lifetime.ageing.assumed_growth import AssumedGrowth
from lifetime.ageing.contract import AgeingLaw, Stress
from lifetime.costing.discounting import ONE_DAY_YEARS
from lifetime.notices import Notice
from lifetime.packs.cell import Cell
from lifetime.projection.years import LOWEST_CAPACITY, Trajectory
from lifetime.text import short_life, significant

_LONGEST_TEST_YEARS = 10.0
_LOSS_SLACK = 1e-6
"""A life that ends just at the tested loss does not go beyond it."""


def life_notices(
    model: AgeingLaw, trajectory: Trajectory, life_years: float | None, service_years: float
) -> list[Notice]:
    """Notes and warnings on the projection.

    Args:
        model: The ageing model.
        trajectory: Health by month.
        life_years: Predicted life [years]; None beyond the search.
        service_years: Service life [years].
    """
    notices = []
    if not model.has_resistance:
        notices.append(
            Notice(
                "no_resistance_law", "This ageing model predicts no resistance growth; capacity alone ends it.", "note"
            )
        )
    if life_years is not None and 0.0 < life_years < ONE_DAY_YEARS:
        notices.append(Notice("life_below_a_day", "Its life is shorter than a day, so no cost is given."))
    if trajectory.years[-1] < service_years - 1e-9 and trajectory.years.size > 1:
        notices.append(
            Notice(
                "scrap_before_service_end",
                f"If it stayed in service it would be under {100 * LOWEST_CAPACITY:.0f} % of its capacity or over ten "
                f"times its resistance after {trajectory.years[-1]:.1f} years; no health is given at service end.",
            )
        )
    if life_years is not None and life_years > _LONGEST_TEST_YEARS:
        notices.append(
            Notice(
                "extrapolated_in_time",
                f"A life of {life_years:.0f} years goes far beyond the tests behind any published ageing model (up to "
                "about three years); a sudden late drop of capacity (knee) would not be foreseen.",
            )
        )
    return notices


def tested_years(cell: Cell, trajectory: Trajectory, life_years: float | None) -> float | None:
    """When the source passes the capacity loss that its ageing model was tested to; None where its life ends before.

    Args:
        cell: Its parameter set.
        trajectory: Health by month.
        life_years: Predicted life [years]; None beyond the search.
    """
    if cell.tested_loss is None:
        return None
    left, tested = trajectory.capacity_fraction, 1.0 - cell.tested_loss
    end = float(trajectory.years[-1]) if life_years is None else life_years
    if float(np.interp(end, trajectory.years, left)) >= tested - _LOSS_SLACK:
        return None
    # Capacity only falls, so turned round it rises as interpolation asks.
    return float(np.interp(-tested, -left, trajectory.years))


def growth_notices(model: AssumedGrowth, lives_years: Mapping[float, float | None]) -> list[Notice]:
    """Say by what convention the resistance grows, and what the life is with others where that decides it.

    Args:
        model: The ageing model with the growth that is assumed.
        lives_years: Life by other ratios of growth to loss [years], None beyond the search; empty where resistance
            does not end it.
    """
    assumed = (
        "This ageing model predicts no resistance growth. By convention the resistance grows by "
        f"{significant(model.per_calendar_loss)} times the calendar and {significant(model.per_cyclic_loss)} times the "
        "cyclic loss of capacity (battery.resistance_per_calendar_loss, battery.resistance_per_cyclic_loss; 0.5 to 5 "
        "are in use)."
    )
    if not lives_years:
        return [Notice("resistance_growth_assumed", assumed, "note")]
    others = " and ".join(f"{short_life(years)} at {significant(ratio)}" for ratio, years in lives_years.items())
    return [
        Notice(
            "resistance_growth_decides",
            f"{assumed} It ends the life here: with another ratio the life is {others}. Measure the resistance of aged "
            "cells before this decides.",
        )
    ]


def loss_notices(cell: Cell, trajectory: Trajectory, life_years: float | None) -> list[Notice]:
    """Warn where the source lives on beyond the capacity loss that its ageing model was tested to.

    Args:
        cell: Its parameter set.
        trajectory: Health by month.
        life_years: Predicted life [years]; None beyond the search.
    """
    passed = tested_years(cell, trajectory, life_years)
    if passed is None or cell.tested_loss is None:
        return []
    end = float(trajectory.years[-1]) if life_years is None else life_years
    reached = (
        f"The tests behind {cell.id} reached"
        if cell.tested_loss_is_stated
        else f"{cell.id} states no tested_loss. As ageing tests usually end there, its tests are taken to have reached"
    )
    return [
        Notice(
            "extrapolated_in_loss",
            f"{reached} {100.0 * cell.tested_loss:.3g} % capacity loss, which is passed "
            f"after {passed:.3g} of {end:.3g} years. From there on the ageing model is extrapolated beyond "
            f"{100.0 * cell.tested_loss:.3g} %: a knee would shorten the life.",
        )
    ]


def range_notices(model: AgeingLaw, new: Stress, aged: Stress) -> list[Notice]:
    """Warn where the stress leaves the range an ageing model was fitted on, at the beginning of life or later.

    Health only falls, so what is within the range at both ends of the life is within it in between.

    Args:
        model: The ageing model.
        new: Stress at the beginning of life.
        aged: Stress at its end.
    """
    notices = model.range_notices(new)
    said = {notice.code for notice in notices}
    later = [notice for notice in model.range_notices(aged) if notice.code not in said]
    return notices + [
        replace(notice, message=f"At the end of life, not at its beginning: {notice.message}") for notice in later
    ]
