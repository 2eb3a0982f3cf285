"""Life of one source: run its yearly duty until a limit of its health or its requirement ends it."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lifetime.ageing.assumed_growth import AssumedGrowth
from lifetime.ageing.contract import AgeingLaw
from lifetime.assessment.requirement import Requirement
from lifetime.assessment.setups import HealthLimits, SourceSetup, YearlyDuty
from lifetime.assessment.traces import DayTraces
from lifetime.checks import FloatArray
from lifetime.constants import LIFE_SEARCH_YEARS, MONTHS_PER_YEAR, ZERO_CELSIUS_K
from lifetime.errors import AssessmentError
from lifetime.projection.duty import Duty
from lifetime.projection.limits import Crossing, health_crossings
from lifetime.projection.power_corner import PowerMargin
from lifetime.projection.years import Further, Trajectory, project
from lifetime.results.records import SmallCycles
from lifetime.results.view import LifeState

_FASTEST_PER_DAY: Final = 1e100
"""Turns of an ageing clock a day above which sums over the years would overflow; a life under a day has some 1e3."""
_HOTTEST_SAID_C: Final = 1e6
OTHER_GROWTHS: Final = (1.0, 3.0)
"""Ratios of resistance growth to loss of capacity that a life is told for besides the study's own [1]."""


@dataclass(frozen=True, slots=True, eq=False)
class ProjectedLife:
    """Health over the years, and what ends the life.

    Args:
        trajectory: Health by month.
        crossings: When each limit comes.
        requirement_is_met: Whether the new source meets its requirement.
    """

    trajectory: Trajectory
    crossings: tuple[Crossing, ...]
    requirement_is_met: bool

    @property
    def end(self) -> Crossing | None:
        """The first limit reached, or None."""
        reached = (crossing for crossing in self.crossings if crossing.years is not None)
        return min(reached, key=lambda crossing: crossing.years or 0.0, default=None)

    @property
    def years(self) -> float | None:
        """Time to the first limit [years]; None beyond the search."""
        return None if self.end is None else self.end.years

    @property
    def state(self) -> LifeState:
        """How the search ended."""
        if not self.requirement_is_met:
            return "requirement_not_met"
        return "beyond_search_limit" if self.end is None else "reached"


def projected_life(
    setup: SourceSetup, duty: Duty, requirement: Requirement, yearly: YearlyDuty, *, first_limit_only: bool
) -> ProjectedLife:
    """Run a source's duty for years.

    Args:
        setup: The source.
        duty: Its duty.
        requirement: Its day against its bounds.
        yearly: How often and how long the duty is worked.
        first_limit_only: Stop, after service, as soon as one limit is reached; the others stay unknown.

    Raises:
        AssessmentError: The day is so far beyond any cell that its ageing cannot be computed.
    """
    years = LIFE_SEARCH_YEARS if requirement.is_met else 0.0
    trajectory = _trajectory(setup, duty, yearly, years, first_limit_only=first_limit_only)
    crossings = _health_crossings(setup, trajectory)
    unmet = requirement.crossing(setup, trajectory)
    if unmet is not None:
        crossings.append(unmet)
    if requirement.power is not None:
        crossings.append(requirement.power.crossing(setup.model, trajectory))
    return ProjectedLife(trajectory, tuple(crossings), requirement.is_met)


def lives_by_growth(
    setup: SourceSetup, duty: Duty, requirement: Requirement, yearly: YearlyDuty
) -> dict[float, float | None]:
    """Life with other ratios of resistance growth to loss of capacity [years], by ratio; None beyond the search.

    Args:
        setup: The source, whose model's growth is assumed.
        duty: Its duty.
        requirement: Its day against its bounds.
        yearly: How often and how long the duty is worked.
    """
    model = setup.model
    if not isinstance(model, AssumedGrowth):
        return {}
    lives = {}
    for ratio in OTHER_GROWTHS:
        other = replace(setup, model=replace(model, per_calendar_loss=ratio, per_cyclic_loss=ratio))
        lives[ratio] = projected_life(other, duty, requirement, yearly, first_limit_only=True).years
    return lives


def small_cycles(
    setup: SourceSetup,
    traces: DayTraces,
    counted: DayTraces,
    yearly: YearlyDuty,
    life: ProjectedLife,
    power: PowerMargin | None,
    *,
    first_limit_only: bool,
) -> SmallCycles:
    """Run once more with every cycle, to say what the smallest-cycle threshold left out.

    Args:
        setup: The source.
        traces: Its traced days with every cycle.
        counted: The same without the small cycles.
        yearly: How often and how long they are worked.
        life: Its life without the small cycles.
        power: Its power in the corner of the study; None where power does not end its life.
        first_limit_only: As it was projected.
    """
    duty = yearly.duty(setup.source, traces.days, setup.counting, traces.beside)
    full = _trajectory(setup, duty, yearly, LIFE_SEARCH_YEARS, first_limit_only=first_limit_only)
    crossings = _health_crossings(setup, full)
    if power is not None:
        crossings.append(power.crossing(setup.model, full))
    lives = [crossing.years for crossing in crossings if crossing.years is not None]
    removed = float(traces.new.cycles.count.sum() - counted.new.cycles.count.sum())
    loss_of_all, loss_of_counted = (
        1.0 - float(setup.model.fade(run.clocks_at(yearly.service_years)).capacity_fraction)
        for run in (full, life.trajectory)
    )
    return SmallCycles(
        threshold_soc=setup.smallest_cycle_soc,
        removed_cycles_per_year=removed * yearly.runs_per_year,
        removed_loss_fraction=loss_of_all - loss_of_counted,
        life_years_with_all=min(lives) if lives else None,
    )


def _trajectory(
    setup: SourceSetup, duty: Duty, yearly: YearlyDuty, years: float, *, first_limit_only: bool
) -> Trajectory:
    model: AgeingLaw = setup.model
    limits: HealthLimits = setup.limits

    def rates(capacity_fraction: float, resistance_ratio: float) -> FloatArray:
        return _turns(setup, duty, capacity_fraction, resistance_ratio)

    def enough(so_far: float, capacity_fraction: float, resistance_ratio: float) -> bool:
        reached = (
            capacity_fraction <= limits.capacity_fraction,
            resistance_ratio >= limits.resistance_ratio or (not model.has_resistance and not first_limit_only),
        )
        return so_far >= yearly.service_years and (any(reached) if first_limit_only else all(reached))

    return project(model, rates, years=years, enough=enough, further=_beside_worn_bank(setup, duty, years))


def _turns(setup: SourceSetup, duty: Duty, capacity_fraction: float, resistance_ratio: float) -> FloatArray:
    """Turns of the clocks on an average day in each month, shape (12, mechanisms)."""
    with np.errstate(over="ignore", invalid="ignore"):
        stress = duty.stress(capacity_fraction, resistance_ratio)
        turns = setup.model.clocks(stress)
    if not np.all(turns < _FASTEST_PER_DAY):
        raise _beyond_any_cell(setup.kind, stress.temperature_K)
    return duty.by_month(turns)


def _beside_worn_bank(setup: SourceSetup, duty: Duty, years: float) -> Further | None:
    """What a battery's clocks turn more as the bank beside it wears; None where no bank does."""
    beside = duty.beside
    if beside is None:
        return None

    def rates(capacity_fraction: float, resistance_ratio: float) -> FloatArray:
        return beside.turns(lambda one: _turns(setup, one, capacity_fraction, resistance_ratio))

    return Further(rates, beside.shares(round(years * MONTHS_PER_YEAR)))


def _beyond_any_cell(kind: str, temperature_K: FloatArray) -> AssessmentError:
    hottest_C = float(np.nan_to_num(temperature_K, nan=np.inf).max() - ZERO_CELSIUS_K)
    heat = f"more than {_HOTTEST_SAID_C:g}" if hottest_C > _HOTTEST_SAID_C else f"{hottest_C:.3g}"
    return AssessmentError(
        f"The {kind} is used so far beyond any cell that its ageing cannot be computed: its hottest cell reaches "
        f"{heat} °C. Look at its thermal resistance and resistance, the number of its cells, and its current."
    )


def _health_crossings(setup: SourceSetup, trajectory: Trajectory) -> list[Crossing]:
    return health_crossings(
        setup.model,
        trajectory,
        capacity_limit=setup.limits.capacity_fraction,
        resistance_limit=setup.limits.resistance_ratio,
        kind=setup.kind,
    )
