"""Life of one source: run its duty for years, find the limits, and gather what the result has to say."""

from dataclasses import dataclass

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.assess.days import TracedDays
from lifetime.assess.remarks import blind_words, day_notices, grade_notice, life_notices, loss_notices
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH, LIFE_SEARCH_YEARS, SECONDS_PER_HOUR
from lifetime.notices import Notice
from lifetime.packs.cell import Cell
from lifetime.projection.duty import Duty, WornDay
from lifetime.projection.limits import Crossing, DutyMargin, health_crossings
from lifetime.projection.years import LOWEST_CAPACITY, Trajectory, project
from lifetime.results.records import HealthTrajectory, LifeState, SmallCycles, SourceResult
from lifetime.stress.source import Source


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """What ends a source's life, and over what time it is asked for.

    Args:
        capacity_fraction: Capacity or capacitance limit.
        resistance_ratio: Resistance or ESR limit.
        service_years: Service life [years].
        runs_per_year: How often a year holds the traced day.
        check_duty: Whether the day's bounds can end life; False for a bank behind a split, which never leaves them.
        first_only: True to stop looking, after service, as soon as one limit is reached; the others stay unknown.
    """

    capacity_fraction: float
    resistance_ratio: float
    service_years: float
    runs_per_year: float
    check_duty: bool
    first_only: bool = False


def assess_source(
    traced: TracedDays,
    source: Source,
    cell: Cell,
    law: AgeingLaw,
    ambient_K: FloatArray,
    limits: Limits,
    *,
    smallest_cycle_soc: float = 0.0,
) -> SourceResult:
    """Assess one source under one strategy.

    Args:
        traced: Its traced days.
        source: The source.
        cell: Its parameter set.
        law: Its ageing law.
        ambient_K: Monthly mean ambient temperature [K], shape (12,).
        limits: What ends its life.
        smallest_cycle_soc: Cycles of this depth or less are not counted.
    """
    counted = [worn.without_small_cycles(smallest_cycle_soc * source.capacity_As) for worn in traced.days]
    duty = Duty(source, counted, ambient_K, limits.runs_per_year)
    margin, deliverable, notices = _bounds(source, duty, traced, limits)
    notices = [*traced.notices, *notices]
    trajectory = _run(law, duty, limits, years=LIFE_SEARCH_YEARS if deliverable else 0.0)
    crossings = health_crossings(
        law,
        trajectory,
        capacity_limit=limits.capacity_fraction,
        resistance_limit=limits.resistance_ratio,
        kind=source.kind,
    )
    if not deliverable:
        smallest, bound = margin.smallest(1.0, 1.0)
        crossings.append(Crossing("requirement", 0.0, bound if smallest <= 0.0 else "power"))
    elif limits.check_duty:
        crossings.append(margin.crossing(law, trajectory))
    first = min((one for one in crossings if one.years is not None), key=lambda one: one.years or 0.0, default=None)
    state: LifeState = (
        "requirement_not_met" if not deliverable else "beyond_search_limit" if first is None else "reached"
    )
    life = None if first is None else first.years
    small = None
    if smallest_cycle_soc > 0.0 and deliverable:
        small = _small_cycles(traced, source, law, ambient_K, limits, trajectory, smallest_cycle_soc, counted)
    if deliverable:
        notices += law.range_notices(duty.stress(1.0, 1.0))
    notices += day_notices(traced, source)
    notices += life_notices(law, limits, trajectory, life)
    notices += loss_notices(cell, trajectory, life)
    notices += grade_notice(cell)
    return _result(source, cell, law, duty, limits, trajectory, tuple(crossings), first, state, small, notices)


def _run(law: AgeingLaw, duty: Duty, limits: Limits, years: float) -> Trajectory:
    def rates(capacity_fraction: float, resistance_ratio: float) -> FloatArray:
        return law.clocks(duty.stress(capacity_fraction, resistance_ratio))

    def enough(so_far: float, capacity_fraction: float, resistance_ratio: float) -> bool:
        reached = (
            capacity_fraction <= limits.capacity_fraction,
            resistance_ratio >= limits.resistance_ratio or (not law.has_resistance and not limits.first_only),
        )
        return so_far >= limits.service_years and (any(reached) if limits.first_only else all(reached))

    return project(law, rates, years=years, enough=enough)


def _bounds(source: Source, duty: Duty, traced: TracedDays, limits: Limits) -> tuple[DutyMargin, bool, list[Notice]]:
    """The margin to the day's bounds, whether the new source delivers its duty, and what to say about it."""
    margin = DutyMargin(source, duty)
    outside = {bound: value for bound, value in margin.by_bound(1.0, 1.0).items() if value <= 0.0}
    shortage = traced.days[0].day.drive.shortage
    if shortage > 0.0 and not outside:
        # Voltage bounds wider than half the open-circuit voltage do not catch a power that no current can deliver.
        return margin, False, [_powerless(source, shortage)]
    if not outside or not limits.check_duty:
        return margin, True, []
    by_soc = any("charge" in bound for bound in outside)
    named = ", ".join(sorted(outside))
    if traced.power_driven or by_soc:
        return (
            margin,
            False,
            [
                Notice(
                    "cannot_deliver_when_new",
                    f"Even the new {source.kind} does not deliver this day: it passes its bound of {named}. Use a "
                    "larger pack, fewer drive repeats, another start, or a split that asks less of it.",
                )
            ],
        )
    # A measured current shows that the source delivered; then it is our resistance or curve that does not fit.
    notice = Notice(
        "voltage_bound_exceeded_when_new",
        f"With this parameter set the new {source.kind} would pass its {named} on the given currents. As they were "
        "measured or simulated, this bound is not used to end its life; check resistance_ohm and open_circuit.",
    )
    return DutyMargin(source, duty, skip=frozenset(outside)), True, [notice]


def _powerless(source: Source, shortage: float) -> Notice:
    return Notice(
        "cannot_deliver_when_new",
        f"Even the new {source.kind} does not deliver this day: the power asked of it exceeds the most it can deliver "
        f"at any current (open-circuit voltage squared over four times its resistance) by {100.0 * shortage:.0f} %. "
        "Use a larger pack or a split that asks less of it, and check resistance_ohm.",
    )


def _small_cycles(
    traced: TracedDays,
    source: Source,
    law: AgeingLaw,
    ambient_K: FloatArray,
    limits: Limits,
    trajectory: Trajectory,
    threshold_soc: float,
    counted: list[WornDay],
) -> SmallCycles:
    """Run once more with every cycle, to say what the threshold left out."""
    duty = Duty(source, traced.days, ambient_K, limits.runs_per_year)
    full = _run(law, duty, limits, LIFE_SEARCH_YEARS)
    crossings = health_crossings(
        law, full, capacity_limit=limits.capacity_fraction, resistance_limit=limits.resistance_ratio, kind=source.kind
    )
    lives = [one.years for one in crossings if one.years is not None]
    removed = float(traced.days[0].day.cycles.count.sum() - counted[0].day.cycles.count.sum())
    loss = [1.0 - float(law.fade(run.clocks_at(limits.service_years)).capacity_fraction) for run in (full, trajectory)]
    return SmallCycles(
        threshold_soc=threshold_soc,
        removed_cycles_per_year=removed * limits.runs_per_year,
        removed_loss_fraction=loss[0] - loss[1],
        life_years_with_all=min(lives) if lives else None,
    )


def _result(
    source: Source,
    cell: Cell,
    law: AgeingLaw,
    duty: Duty,
    limits: Limits,
    trajectory: Trajectory,
    crossings: tuple[Crossing, ...],
    first: Crossing | None,
    state: LifeState,
    small: SmallCycles | None,
    notices: list[Notice],
) -> SourceResult:
    day = duty.days[0].day
    drive = day.drive
    capacity_As = source.capacity_As
    life = None if first is None else first.years
    shares = _shares(law, trajectory, min(limits.service_years, life or limits.service_years))
    health = law.fade(trajectory.clocks_at(limits.service_years))
    alive = trajectory.years[-1] >= limits.service_years - 1e-9 and float(health.capacity_fraction) > LOWEST_CAPACITY
    within = trajectory.years <= limits.service_years + 1e-9
    mean_resistance = float(np.mean(trajectory.resistance_ratio[within]))
    heat_J = source.resistance_ohm * day.squared_A2s * limits.runs_per_year
    return SourceResult(
        kind="battery" if source.is_battery else "ultracapacitor",
        cell=cell.id,
        grade=cell.lowest_grade,
        life_years=life,
        life_state=state,
        end_of_life_criterion=None if first is None else first.limit,
        crossings=crossings,
        capacity_fraction_at_service_end=float(health.capacity_fraction) if alive else None,
        resistance_ratio_at_service_end=float(health.resistance_ratio) if alive else None,
        calendar_share_fraction=shares[0],
        cyclic_share_fraction=shares[1],
        equivalent_full_cycles_per_year=0.5 * day.throughput_As / capacity_As * limits.runs_per_year,
        throughput_Ah_per_year=day.throughput_As / SECONDS_PER_HOUR * limits.runs_per_year,
        rms_current_A=float(np.sqrt(drive.squared_A2s / drive.duration_s)),
        peak_current_A=drive.peak_A,
        energy_losses_kWh_per_year=heat_J * mean_resistance / JOULES_PER_KWH,
        lowest_soc=source.start_soc - drive.highest_As / capacity_As,
        highest_soc=source.start_soc - drive.lowest_As / capacity_As,
        open_charge_Ah=day.open_charge_As / SECONDS_PER_HOUR,
        trajectory=_health(law, trajectory),
        cycles=day.cycles,
        bins=day.bins,
        loss_by_mechanism=law.capacity_loss_by_mechanism(
            trajectory.clocks_at(min(limits.service_years, float(trajectory.years[-1])))
        ),
        small_cycles=small,
        modelled=tuple(sorted(law.sees)),
        not_modelled=blind_words(law),
        notices=tuple(notices),
        provenance=cell.provenance,
        caveats=cell.caveats,
        references=cell.references,
        cell_sha256=cell.sha256,
        source=source,
        runs_per_year=limits.runs_per_year,
        morning_rise_K=day.starting_rise_K,
    )


def _shares(law: AgeingLaw, trajectory: Trajectory, years: float) -> tuple[float | None, float | None]:
    """Calendar and cycle share of the capacity loss at a time."""
    parts = law.capacity_loss_by_mechanism(trajectory.clocks_at(years))
    total = float(parts.sum())
    if total <= 0.0:
        return None, None
    calendar = float(sum(part for part, one in zip(parts, law.mechanisms, strict=True) if one.part == "calendar"))
    return calendar / total, 1.0 - calendar / total


def _health(law: AgeingLaw, trajectory: Trajectory) -> HealthTrajectory:
    parts = law.capacity_loss_by_mechanism(trajectory.clocks)
    calendar = np.array([one.part == "calendar" for one in law.mechanisms])
    return HealthTrajectory(
        years=trajectory.years,
        capacity_fraction=trajectory.capacity_fraction,
        resistance_ratio=trajectory.resistance_ratio,
        calendar_loss_fraction=parts[:, calendar].sum(axis=1),
        cyclic_loss_fraction=parts[:, ~calendar].sum(axis=1),
    )
