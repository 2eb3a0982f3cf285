"""One source under one strategy: its life, what it is loaded with, and what there is to say about both."""

from dataclasses import replace

import numpy as np

from lifetime.ageing.assumed_growth import AssumedGrowth
from lifetime.ageing.contract import AgeingLaw, Stress
from lifetime.assessment.judged_day import judged_day
from lifetime.assessment.life_bound import MOSTLY_INSIDE, life_bound
from lifetime.assessment.notices.climate import LifeInClimate, hourly_climate
from lifetime.assessment.notices.day import charging_notices, cycling_notices, day_notices
from lifetime.assessment.notices.life import growth_notices, life_notices, loss_notices, range_notices, tested_years
from lifetime.assessment.notices.magnitudes import current_notices
from lifetime.assessment.notices.parameters import grade_notices, not_modelled
from lifetime.assessment.notices.ultracapacitor import bank_notices
from lifetime.assessment.requirement import Requirement
from lifetime.assessment.setups import SourceSetup, UltracapacitorSetup, YearlyDuty
from lifetime.assessment.source_life import ProjectedLife, lives_by_growth, projected_life, small_cycles
from lifetime.assessment.traces import DayTraces
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH, LIFE_SEARCH_YEARS, SECONDS_PER_HOUR
from lifetime.costing.discounting import ONE_DAY_YEARS
from lifetime.notices import Notice
from lifetime.packs.climate import is_hourly, monthly_means_K
from lifetime.projection.duty import Duty
from lifetime.projection.years import LOWEST_CAPACITY, Trajectory
from lifetime.results.records import HealthTrajectory, SmallCycles, SourceResult
from lifetime.results.view import LifeState
from lifetime.stress.day import Day

_FACTOR_NODES = 5
"""Resistances at which the months' temperatures are found; between them the factor is straight."""


def assess_source(
    setup: SourceSetup, traces: DayTraces, yearly: YearlyDuty, *, first_limit_only: bool = False
) -> SourceResult:
    """Assess one source under one strategy.

    Args:
        setup: The source.
        traces: Its traced days.
        yearly: How often and how long they are worked.
        first_limit_only: Stop, after service, as soon as one limit is reached; the others stay unknown.
    """
    judged = judged_day(setup, traces, yearly)
    traces, requirement = judged.traces, judged.requirement
    counted = traces.without_small_cycles(setup.smallest_cycle_soc * setup.source.capacity_As)
    duty = yearly.duty(setup.source, counted.days, setup.counting, counted.beside)
    life = projected_life(setup, duty, requirement, yearly, first_limit_only=first_limit_only)
    left_out = None
    if setup.smallest_cycle_soc > 0.0 and requirement.is_met:
        left_out = small_cycles(
            setup, traces, counted, yearly, life, requirement.power, first_limit_only=first_limit_only
        )
    notices = [
        *traces.notices,
        *requirement.notices,
        *judged.drift_notices(setup, life.trajectory),
        *(_range_notices(setup, duty, life) if requirement.is_met else ()),
        *day_notices(traces.new, setup.source, power_driven=traces.power_driven),
        *charging_notices(traces.new, setup),
        *cycling_notices(setup.source),
        *current_notices(traces.new, setup.source, power_driven=traces.power_driven),
        *(bank_notices(setup, traces.new, duty.stress(1.0, 1.0)) if isinstance(setup, UltracapacitorSetup) else ()),
        *life_notices(setup.model, life.trajectory, life.years, yearly.service_years),
        *_growth_notices(setup, duty, requirement, yearly, life, first_limit_only=first_limit_only),
        *loss_notices(setup.cell, life.trajectory, life.years),
        *grade_notices(setup.cell),
        *(() if first_limit_only else _climate_notices(setup, counted, requirement, yearly, life)),
    ]
    result = _result(setup, counted, yearly, duty, life, duty.stress(1.0, 1.0), left_out, notices)
    return replace(result, breaks_limit=requirement.breaks, power=requirement.power)


def _growth_notices(
    setup: SourceSetup,
    duty: Duty,
    requirement: Requirement,
    yearly: YearlyDuty,
    life: ProjectedLife,
    *,
    first_limit_only: bool,
) -> list[Notice]:
    """What is assumed of the resistance, and where that ends the life, the life with other assumptions."""
    if not isinstance(setup.model, AssumedGrowth):
        return []
    by_growth = requirement.is_met and life.end is not None and life.end.limit in {"resistance", "power"}
    lives = lives_by_growth(setup, duty, requirement, yearly) if by_growth and not first_limit_only else {}
    return growth_notices(setup.model, lives)


def _climate_notices(
    setup: SourceSetup, traces: DayTraces, requirement: Requirement, yearly: YearlyDuty, life: ProjectedLife
) -> list[Notice]:
    """How far the hours of a weather file move the life against their monthly means."""
    if not is_hourly(yearly.ambient_K) or not requirement.is_met:
        return []
    by_means = replace(yearly, ambient_K=monthly_means_K(yearly.ambient_K))
    duty = by_means.duty(setup.source, traces.days, setup.counting, traces.beside)
    means = projected_life(setup, duty, requirement, by_means, first_limit_only=True)
    in_climate = (
        LifeInClimate(
            one.years,
            1.0 - float(setup.model.fade(one.trajectory.clocks_at(yearly.service_years)).capacity_fraction),
        )
        for one in (life, means)
    )
    return [hourly_climate(setup.kind, *in_climate)]


def _range_notices(setup: SourceSetup, duty: Duty, life: ProjectedLife) -> list[Notice]:
    """What leaves the ageing model's range, from the beginning of life to its end or that of the search."""
    trajectory = life.trajectory
    end = setup.model.fade(trajectory.clocks_at(float(trajectory.years[-1]) if life.years is None else life.years))
    aged = duty.stress(float(end.capacity_fraction), float(end.resistance_ratio))
    return range_notices(setup.model, duty.stress(1.0, 1.0), aged)


def _result(
    setup: SourceSetup,
    traces: DayTraces,
    yearly: YearlyDuty,
    duty: Duty,
    life: ProjectedLife,
    new: Stress,
    left_out: SmallCycles | None,
    notices: list[Notice],
) -> SourceResult:
    source, model, cell, trajectory = setup.source, setup.model, setup.cell, life.trajectory
    day = traces.new
    drive, end = day.drive, life.end
    per_year, service = yearly.runs_per_year, yearly.service_years
    shares = _shares(model, trajectory, min(service, life.years or service))
    health = model.fade(trajectory.clocks_at(service))
    alive = trajectory.years[-1] >= service - 1e-9 and float(health.capacity_fraction) > LOWEST_CAPACITY
    in_range = model.share_in_range(new)
    searched = min(service, float(trajectory.years[-1]))
    passed = tested_years(cell, trajectory, life.years)
    return SourceResult(
        kind=setup.kind,
        cell=cell.id,
        grade=cell.lowest_grade,
        life_years=life.years,
        life_state=_life_state(setup, life, beyond_tests=passed is not None),
        end_of_life_criterion=None if end is None else end.limit,
        crossings=life.crossings,
        capacity_fraction_at_service_end=float(health.capacity_fraction) if alive else None,
        resistance_ratio_at_service_end=float(health.resistance_ratio) if alive else None,
        calendar_share_fraction=shares[0],
        cyclic_share_fraction=shares[1],
        equivalent_full_cycles_per_year=0.5 * day.throughput_As / source.capacity_As * per_year,
        throughput_Ah_per_year=day.throughput_As / SECONDS_PER_HOUR * per_year,
        rms_current_A=drive.rms_A,
        peak_current_A=drive.peak_A,
        energy_losses_kWh_per_year=_energy_losses_kWh_per_year(setup, traces, yearly, duty, life),
        lowest_soc=source.start_soc - drive.highest_As / source.capacity_As,
        highest_soc=source.start_soc - drive.lowest_As / source.capacity_As,
        open_charge_Ah=day.open_charge_As / SECONDS_PER_HOUR,
        trajectory=_trajectory(model, trajectory),
        cycles=day.cycles,
        bins=day.bins,
        loss_by_mechanism=model.capacity_loss_by_mechanism(trajectory.clocks_at(searched)),
        small_cycles=left_out,
        modelled=tuple(sorted(model.sees)),
        not_modelled=not_modelled(model),
        notices=tuple(notices),
        provenance=cell.provenance,
        caveats=cell.caveats,
        references=cell.references,
        cell_sha256=cell.sha256,
        source=source,
        runs_per_year=per_year,
        morning_rise_K=day.starting_rise_K,
        in_range_fraction=in_range,
        life_bound=life_bound(model, new) if in_range < MOSTLY_INSIDE else None,
        longest_life_years=setup.longest_life_years,
        averaged_out_fraction=_averaged_out(day),
        not_counted_fraction=_not_counted(setup, day),
        resistance_factors=duty.resistance_factors(1.0, 1.0),
        tested_years=passed,
    )


def _life_state(setup: SourceSetup, life: ProjectedLife, *, beyond_tests: bool) -> LifeState:
    """How the search ended; a life beyond what anybody rates, or tests saw, is no number to go by."""
    longest = setup.longest_life_years
    if life.state == "requirement_not_met":
        return life.state
    if longest is not None and longest < LIFE_SEARCH_YEARS and (life.years is None or life.years > longest):
        return "not_limited_by_model"
    return "beyond_tested_loss" if beyond_tests and setup.kind == "battery" and life.years is not None else life.state


def _averaged_out(day: Day) -> float:
    if day.throughput_As <= 0.0:
        return 0.0
    return max(day.drive.throughput_As - day.drive.counted_throughput_As, 0.0) / day.throughput_As


def _not_counted(setup: SourceSetup, day: Day) -> float:
    moved = day.cycles.count * day.cycles.range_As
    total = float(moved.sum())
    if total <= 0.0:
        return 0.0
    return 1.0 - float(moved @ setup.counting.weight(day.cycles.range_As / setup.source.capacity_As)) / total


def _energy_losses_kWh_per_year(
    setup: SourceSetup, traces: DayTraces, yearly: YearlyDuty, duty: Duty, life: ProjectedLife
) -> float:
    """Heat in the resistance, mean over the service; a replaced source begins with its initial resistance."""
    as_new = _mean_heat_A2s(replace(traces, beside=()), yearly.service_years)
    wear = _mean_heat_A2s(traces, yearly.service_years) / as_new if traces.beside and as_new > 0.0 else 1.0
    heat_J = setup.source.resistance_ohm * traces.new.heat_A2s * wear * yearly.runs_per_year
    return heat_J * _mean_heat_ratio(setup, duty, life, yearly.service_years) / JOULES_PER_KWH


def _mean_heat_A2s(traces: DayTraces, service_years: float) -> float:
    return sum(share * day.heat_A2s for share, day, _ in traces.in_service(service_years))


def _mean_heat_ratio(setup: SourceSetup, duty: Duty, life: ProjectedLife, service_years: float) -> float:
    """Mean heat over that at the stated resistance, over all sources that follow each other."""
    trajectory = life.trajectory
    heat = trajectory.resistance_ratio * _seasonal_factor(duty, trajectory, service_years)
    if setup.source.keeps_soc_limits:
        heat = heat * trajectory.capacity_fraction**2
    if life.years is None or not ONE_DAY_YEARS <= life.years < service_years:
        return float(np.mean(heat[trajectory.years <= service_years + 1e-9]))
    lives = np.floor(service_years / life.years * (1.0 + 1e-9))
    rest_years = max(service_years - lives * life.years, 0.0)
    total = lives * _integral(trajectory.years, heat, life.years) + _integral(trajectory.years, heat, rest_years)
    return float(total / service_years)


def _seasonal_factor(duty: Duty, trajectory: Trajectory, service_years: float) -> FloatArray:
    """Mean of the months' heat over that at one resistance, over the years [1]; it moves slowly with health."""
    ratio = trajectory.resistance_ratio
    # What is looked for after service must not move what is told of it.
    served = ratio[trajectory.years <= service_years + 1e-9]
    nodes = np.linspace(float(served.min()), float(served.max()), _FACTOR_NODES)
    heat = duty.heat_by_month()
    factors = [float((duty.resistance_factors(1.0, node) * heat).mean()) for node in nodes]
    return np.asarray(np.interp(ratio, nodes, factors))


def _integral(years: FloatArray, values: FloatArray, end: float) -> float:
    """Integral of values over the years from the first to an end."""
    time = np.append(years[years < end], end)
    return float(np.trapezoid(np.interp(time, years, values), time))


def _shares(model: AgeingLaw, trajectory: Trajectory, years: float) -> tuple[float | None, float | None]:
    """Calendar and cyclic share of the capacity loss at a time."""
    losses = model.capacity_loss_by_mechanism(trajectory.clocks_at(years))
    total = float(losses.sum())
    if total <= 0.0:
        return None, None
    pairs = zip(losses, model.mechanisms, strict=True)
    calendar = float(sum(loss for loss, mechanism in pairs if mechanism.part == "calendar"))
    return calendar / total, 1.0 - calendar / total


def _trajectory(model: AgeingLaw, trajectory: Trajectory) -> HealthTrajectory:
    losses = model.capacity_loss_by_mechanism(trajectory.clocks)
    calendar = np.array([mechanism.part == "calendar" for mechanism in model.mechanisms])
    return HealthTrajectory(
        years=trajectory.years,
        capacity_fraction=trajectory.capacity_fraction,
        resistance_ratio=trajectory.resistance_ratio,
        calendar_loss_fraction=losses[:, calendar].sum(axis=1),
        cyclic_loss_fraction=losses[:, ~calendar].sum(axis=1),
    )
