"""A result as flat rows, one a source and strategy: for tables, frames, searching, and another program's cost model."""

from lifetime.results.document import ResultDocument
from lifetime.results.source import Criterion, SourceView
from lifetime.results.strategy import StrategyView
from lifetime.results.view import LifeState, SourceKind, View


class SourceRow(View):
    """One source under one strategy; the unit is part of each name, costs belong to the whole strategy.

    Capacity means capacitance and resistance means ESR for an ultracapacitor bank. A null life lies beyond the search
    limit; a null cost says that there is none.
    """

    assessment_id: str
    study: str
    strategy: str
    rank: int | None
    source: SourceKind
    cell: str
    life_years: float | None
    life_state: LifeState
    end_of_life_criterion: Criterion | None
    service_years: float
    capacity_fraction_at_service_end: float | None
    resistance_ratio_at_service_end: float | None
    calendar_share_fraction: float | None
    cyclic_share_fraction: float | None
    equivalent_full_cycles_per_year: float
    throughput_Ah_per_year: float
    rms_current_A: float
    peak_current_A: float
    energy_losses_kWh_per_year: float
    replacements: int | None
    currency: str
    strategy_net_present_cost_currency: float | None
    strategy_equivalent_annual_cost_currency_per_year: float | None
    strategy_cost_currency_per_km: float | None
    parameter_grade: str
    program_version: str


def source_rows(document: ResultDocument) -> list[SourceRow]:
    """All sources of a document, strategies in the order of rank, the battery before the bank.

    Args:
        document: The result document.
    """
    return [
        _row(document, strategy, kind, source)
        for strategy in document.strategies
        for kind, source in strategy.sources.items()
    ]


def _row(document: ResultDocument, strategy: StrategyView, kind: SourceKind, source: SourceView) -> SourceRow:
    study, cost = document.study, strategy.known_cost
    return SourceRow(
        assessment_id=study.id,
        study=study.title,
        strategy=strategy.name,
        rank=strategy.rank,
        source=kind,
        cell=source.cell,
        life_years=source.life_years,
        life_state=source.life_state,
        end_of_life_criterion=source.end_of_life_criterion,
        service_years=study.service_years,
        capacity_fraction_at_service_end=source.capacity_left,
        resistance_ratio_at_service_end=source.resistance_left,
        calendar_share_fraction=source.calendar_share_fraction,
        cyclic_share_fraction=source.cyclic_share_fraction,
        equivalent_full_cycles_per_year=source.equivalent_full_cycles_per_year,
        throughput_Ah_per_year=source.throughput_Ah_per_year,
        rms_current_A=source.rms_current_A,
        peak_current_A=source.peak_current_A,
        energy_losses_kWh_per_year=source.energy_losses_kWh_per_year,
        replacements=None if cost is None else getattr(cost.replacements, kind),
        currency=study.currency,
        strategy_net_present_cost_currency=None if cost is None else cost.net_present_cost,
        strategy_equivalent_annual_cost_currency_per_year=None if cost is None else cost.equivalent_annual_cost,
        strategy_cost_currency_per_km=None if cost is None else cost.cost_per_km,
        parameter_grade=source.parameter_grade,
        program_version=study.program_version,
    )
