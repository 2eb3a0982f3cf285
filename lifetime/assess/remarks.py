"""What a source's result has to say about itself, in sentences a person can act on."""

from typing import TYPE_CHECKING

import numpy as np

from lifetime.ageing.contract import AgeingLaw, Sight
from lifetime.assess.days import TracedDays
from lifetime.constants import SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.costing.discounting import ONE_DAY_YEARS
from lifetime.notices import Notice
from lifetime.packs.cell import Cell
from lifetime.projection.years import LOWEST_CAPACITY, Trajectory
from lifetime.split.rules.lookup import Lookup
from lifetime.split.share import Demand, SharedPass
from lifetime.stress.source import Source
from lifetime.study.schema import Strategy
from lifetime.study.split import LookupSplit, PowerLimitSplit

if TYPE_CHECKING:
    from lifetime.assess.source_life import Limits

_SIGHTS: dict[Sight, str] = {
    "c_rate": "current amplitude (C-rate)",
    "charge_c_rate": "charging rate",
    "depth": "cycle depth",
    "cycle_mean_soc": "mean state of charge of cycles",
    "temperature": "temperature at rest and in use",
    "cycle_temperature": "temperature while cycling",
    "soc": "state of charge over time",
}
_BATTERY_SIGHTS: tuple[Sight, ...] = tuple(_SIGHTS)
_LEAVES = {False: "Each working day leaves", True: "The log leaves"}
_CLOSING = {
    False: "Cycles are counted as if the next day began at the start again (ASTM E1049 5.4.5).",
    True: "It is scaled to a year all the same.",
}
_SAME_POWER = 1e-6
_SHORT_DRIVE_S = 60.0
"""A day driven for less than a minute is more likely a wrong unit than a duty."""
_OPEN_DAY = 0.01
"""Net charge a day may leave open, relative to capacity, before it is remarked on."""


def blind_words(law: AgeingLaw) -> tuple[str, ...]:
    """What the law does not respond to; a strategy that only changes that cannot gain under it."""
    return tuple(words for sight, words in _SIGHTS.items() if sight not in law.sees)


def rule_notices(strategy: Strategy, demand: Demand) -> list[Notice]:
    """What the split rule has to say about the demand."""
    if not isinstance(strategy.split, LookupSplit):
        return []
    rule = strategy.split.build()
    return rule.notices(demand.power_W) if isinstance(rule, Lookup) else []


def limit_notices(strategy: Strategy, day: list[SharedPass]) -> list[Notice]:
    """Where a battery with a power limit passes it all the same, because the bank cannot take the rest."""
    split = strategy.split
    if not isinstance(split, PowerLimitSplit):
        return []
    at_machine = split.losses().battery.at_machine
    power = np.concatenate([at_machine(one.battery_W) for one in day])
    length = np.concatenate([one.length_s for one in day])
    words = (
        ("discharge", split.discharge_limit_W, power, "empty"),
        ("charge", split.charge_limit_W, -power, "full"),
    )
    parts = []
    for way, limit_W, towards_W, state in words:
        above = towards_W > (limit_W + split.hysteresis_W) * (1.0 + _SAME_POWER) + _SAME_POWER
        if above.any():
            largest = float(towards_W[above].max())
            parts.append(
                f"its {way} limit of {limit_W / 1000:.4g} kW for {float(length[above].sum()):,.0f} s of the day "
                f"(largest {largest / 1000:.4g} kW), because the bank is {state} then or at its own limits"
            )
    return [Notice("battery_limit_passed", f"The battery passes {'; and '.join(parts)}.")] if parts else []


def day_notices(traced: TracedDays, source: Source) -> list[Notice]:
    """Remarks on the day itself: open charge, missing thermal model, measured temperature."""
    day = traced.days[0].day
    notices = []
    whole = day.length_s != SECONDS_PER_DAY
    open_share = day.open_charge_As / source.capacity_As
    if abs(open_share) > _OPEN_DAY and (source.is_battery or not traced.power_driven):
        way = "taken from" if open_share > 0.0 else "added to"
        notices.append(
            Notice(
                "day_does_not_close",
                f"{_LEAVES[whole]} {abs(day.open_charge_As) / SECONDS_PER_HOUR:.3g} Ah "
                f"({100 * abs(open_share):.1f} % of capacity) {way} the {source.kind} that nothing in the study brings "
                f"back. {_CLOSING[whole]}",
            )
        )
    if not whole and source.is_battery and day.drive.duration_s < _SHORT_DRIVE_S:
        notices.append(
            Notice(
                "short_drive",
                f"A working day is driven for {day.drive.duration_s:.3g} s in all. Check the history's time unit and "
                "service.day.drive_repeats.",
            )
        )
    measured = day.drive.end_measured_K is not None
    if source.thermal is None and not measured:
        notices.append(
            Notice(
                "no_thermal_model",
                f"The {source.kind} has neither a thermal section nor a measured temperature, so it is taken to be at "
                "ambient temperature however much it is loaded.",
            )
        )
    if measured:
        notices.append(
            Notice(
                "measured_temperature",
                f"While driving, the {source.kind} is at its measured temperature; heat is not added to it again.",
                "note",
            )
        )
    return notices


def life_notices(law: AgeingLaw, limits: "Limits", trajectory: Trajectory, life_years: float | None) -> list[Notice]:
    """Remarks on the projection: no resistance law, scrap before the service ends, life far beyond any test."""
    notices = []
    if not law.has_resistance:
        notices.append(
            Notice("no_resistance_law", "This law predicts no resistance growth; capacity alone ends it.", "note")
        )
    if life_years is not None and 0.0 < life_years < ONE_DAY_YEARS:
        notices.append(Notice("life_below_a_day", "It does not last a day, so no cost is given."))
    if trajectory.years[-1] < limits.service_years - 1e-9 and trajectory.years.size > 1:
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
                f"A life of {life_years:.0f} years goes far beyond the tests behind any published law (up to about "
                "three years); a sudden late drop of capacity (knee) would not be foreseen.",
            )
        )
    return notices


_LONGEST_TEST_YEARS = 10.0


def loss_notices(cell: Cell, trajectory: Trajectory, life_years: float | None) -> list[Notice]:
    """Whether the source lives on beyond the loss of capacity that its law was tested to."""
    if cell.tested_loss is None:
        return []
    left, tested = trajectory.capacity_fraction, 1.0 - cell.tested_loss
    end = float(trajectory.years[-1]) if life_years is None else life_years
    if float(np.interp(end, trajectory.years, left)) >= tested:
        return []
    # Capacity only falls, so turned round it rises as interpolation asks.
    passed = float(np.interp(-tested, -left, trajectory.years))
    return [
        Notice(
            "extrapolated_in_loss",
            f"The tests behind {cell.id} reached {100.0 * cell.tested_loss:.3g} % loss of capacity, which is passed "
            f"after {passed:.3g} of {end:.3g} years. From there on the law is extrapolated beyond "
            f"{100.0 * cell.tested_loss:.3g} %: a knee would shorten the life.",
        )
    ]


def grade_notice(cell: Cell) -> list[Notice]:
    """How sure the parameter set's numbers are."""
    if cell.lowest_grade == "primary source":
        return []
    weakest = [entry.key for entry in cell.provenance if entry.grade == cell.lowest_grade]
    return [
        Notice(
            "parameter_grade",
            f"Of the {len(cell.provenance)} numbers of {cell.id}, {len(weakest)} have the grade "
            f'"{cell.lowest_grade}", its weakest. The report lists the source of each.',
            "note",
        )
    ]
