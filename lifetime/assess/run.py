"""Assess a study: every strategy by itself, then all of them together."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from lifetime.assess import build
from lifetime.assess.costing import cost_of_lives, priced_anew
from lifetime.assess.day_split import split_day
from lifetime.assess.days import (
    NO_CHARGING,
    TracedDays,
    WornHealth,
    bank_days_from_demand,
    battery_days_from_demand,
    days_from_history,
)
from lifetime.assess.fingerprint import fingerprint, input_hashes, program_version
from lifetime.assess.gain import Shared, best_day, gain_of
from lifetime.assess.remarks import limit_notices, rule_notices
from lifetime.assess.sharing import Sharing, sharing
from lifetime.assess.source_life import Limits, assess_source
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_HOUR
from lifetime.costing.ranking import TripFigures, comparability_notices, order, rank
from lifetime.errors import AssessmentError
from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice
from lifetime.results.records import Assessment, StrategyResult
from lifetime.split.bank import Bank
from lifetime.split.share import Demand, SharedPass, read_demand
from lifetime.stress.day import Charging
from lifetime.stress.drive import Drive
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Strategy
from lifetime.study.split import BatteryOnlySplit, PowerLimitSplit

_ENERGY_POINTS = 513


def assess(
    loaded: LoadedStudy,
    progress: Callable[[str], None] | None = None,
    *,
    in_detail: bool = True,
    known: Mapping[str, StrategyResult] | None = None,
) -> Assessment:
    """Assess every strategy of a study and rank them.

    Args:
        loaded: The study with everything it names.
        progress: Called with each strategy's name as it is finished.
        in_detail: Also compare with the best possible split, and lay the wear over the day; a sweep does without.
        known: Results by strategy of a study that differs only in what these do not feel (prices, other strategies):
            they are only priced anew. Of use without detail only.

    Raises:
        AssessmentError: A day does not fit into 24 h, or an iteration does not settle.
    """
    study = loaded.study
    run = _Run(loaded, in_detail=in_detail)
    results = []
    for strategy in study.strategy:
        before = None if known is None else known.get(strategy.name)
        with _named(strategy.name):
            results.append(run.assess(strategy) if before is None else priced_anew(loaded, before))
        if progress is not None:
            progress(strategy.name)
    results = run.with_gains(results)
    costs = [None if one.cost is None else one.cost.net_present for one in results]
    ranks = rank(costs)
    ranked = [replace(one, rank=place) for one, place in zip(results, ranks, strict=True)]
    return Assessment(
        id=fingerprint(loaded),
        title=study.title,
        program_version=program_version(),
        currency=study.cost.currency,
        service_years=study.service.years,
        strategies=tuple(ranked[at] for at in order(costs)),
        inputs=input_hashes(loaded),
        loaded=loaded,
        # What fails has no cost and is not ranked, so its trip need not compare.
        notices=tuple(comparability_notices([one.trip for one in results if one.cost is not None])),
    )


@contextmanager
def _named(strategy: str) -> Iterator[None]:
    """Say of which strategy an error is."""
    try:
        yield
    except AssessmentError as error:
        raise type(error)(f'Strategy "{strategy}": {error}') from error


class _Run:
    """One run over a study; what several strategies share is made once."""

    def __init__(self, loaded: LoadedStudy, *, in_detail: bool) -> None:
        self._loaded = loaded
        self._in_detail = in_detail
        self._demands: dict[HistoryInput, Demand] = {}
        self._with_bank: dict[str, tuple[HistoryInput, Shared]] = {}

    def assess(self, strategy: Strategy) -> StrategyResult:
        """Assess one strategy."""
        loaded = self._loaded
        battery, bank = self._sources(has_bank=strategy.has_bank)
        if strategy.demand is None:
            days = _days_from_histories(loaded, strategy, battery, bank)
            return _judge(loaded, strategy, (battery, bank), days, first_only=not self._in_detail)
        demand = self._demand(strategy.demand)
        share = sharing(loaded, strategy, demand, battery, _start_voltage(loaded))
        this = self._shared(strategy, share)
        result = replace(this.result, notices=(*this.result.notices, *rule_notices(strategy, demand)))
        if not self._in_detail:
            return result
        result = replace(
            result,
            notices=(*result.notices, *limit_notices(strategy, this.day)),
            day=split_day(loaded, this, (battery, bank)),
        )
        if bank is not None:
            self._with_bank[strategy.name] = (strategy.demand, this)
        return result

    def with_gains(self, results: list[StrategyResult]) -> list[StrategyResult]:
        """Compare every strategy that shares a demand with a bank with the best possible split.

        The best may leave the bank as empty as any of the strategies does; else one could beat it by borrowing.
        """
        references: dict[HistoryInput, tuple[Shared, Shared]] = {}
        for spec, _ in self._with_bank.values():
            if spec not in references:
                ends = [float(one.day[-1].bank_V[-1]) for other, one in self._with_bank.values() if other == spec]
                references[spec] = self._reference(spec, min(ends))
        return [
            replace(one, gain=gain_of(found[1], *references[found[0]]))
            if (found := self._with_bank.get(one.name)) is not None
            else one
            for one in results
        ]

    def _demand(self, spec: HistoryInput) -> Demand:
        if spec not in self._demands:
            self._demands[spec] = read_demand(self._loaded.histories[spec], build.vehicle(self._loaded.study))
        return self._demands[spec]

    def _sources(self, *, has_bank: bool) -> tuple[Source, Source | None]:
        study = self._loaded.study
        battery = build.battery_source(study.battery, self._loaded.battery, study.service.day)
        if not has_bank or study.ultracapacitor is None or self._loaded.ultracapacitor is None:
            return battery, None
        return battery, build.bank_source(study.ultracapacitor, self._loaded.ultracapacitor)

    def _shared(self, strategy: Strategy, share: Sharing) -> Shared:
        """Assess a strategy that shares its demand in a given way."""
        battery, bank = self._sources(has_bank=strategy.has_bank)
        days, shared = _days_from_demand(self._loaded, strategy, battery, bank, share)
        traced = (days[0].days[0].day, None if days[1] is None else days[1].days[0].day)
        result = _judge(self._loaded, strategy, (battery, bank), days, first_only=not self._in_detail)
        return Shared(result, shared, traced)

    def _reference(self, spec: HistoryInput, lowest_end_V: float) -> tuple[Shared, Shared]:
        """The battery alone and the best possible split of a demand."""
        loaded, demand = self._loaded, self._demand(spec)
        alone = Strategy(name="battery alone", demand=spec, split=BatteryOnlySplit(rule="battery_only"))
        best = Strategy(name="best", demand=spec, split=_ANY_BANK)
        battery, _ = self._sources(has_bank=False)
        start_V, repeats = _start_voltage(loaded), loaded.study.service.day.drive_repeats
        plain = sharing(loaded, alone, demand, battery, start_V)

        def taut(bank: Bank | None) -> list[SharedPass]:
            assert bank is not None  # noqa: S101 - asked for with a bank only
            return best_day(demand, bank, (start_V, min(start_V, lowest_end_V)), repeats)

        return self._shared(alone, plain), self._shared(best, taut)


_ANY_BANK = PowerLimitSplit(rule="power_limit", discharge_limit_W=0.0, charge_limit_W=0.0)
"""Only says that there is a bank; the best possible split follows no rule."""


def _start_voltage(loaded: LoadedStudy) -> float:
    section = loaded.study.ultracapacitor
    return 0.0 if section is None else section.start_voltage_V


def _battery_worn(loaded: LoadedStudy) -> WornHealth:
    limits = loaded.study.end_of_life
    resistance = limits.battery_resistance if loaded.battery.law.has_resistance else None
    return WornHealth(limits.battery_capacity, resistance)


def _bank_worn(loaded: LoadedStudy) -> WornHealth:
    limits = loaded.study.end_of_life
    return WornHealth(limits.ultracapacitor_capacitance, limits.ultracapacitor_esr, coupled=True)


def _days_from_demand(
    loaded: LoadedStudy, strategy: Strategy, battery: Source, bank: Source | None, share: Sharing
) -> tuple[tuple[TracedDays, TracedDays | None], list[SharedPass]]:
    section, cell = loaded.study.ultracapacitor, loaded.ultracapacitor
    split_bank = None
    if bank is not None and section is not None and cell is not None and strategy.split is not None:
        split_bank = build.split_bank(section, cell, strategy.split.pull())
    shared = share(split_bank)
    charging = build.battery_charging(loaded.study.battery, loaded.battery, loaded.study.service)
    battery_days = battery_days_from_demand(shared, battery, charging, _battery_worn(loaded))
    if bank is None or split_bank is None:
        return (battery_days, None), shared
    bank_days = bank_days_from_demand(share, split_bank, shared, bank, _no_charging(loaded), _bank_worn(loaded))
    return (battery_days, bank_days), shared


def _days_from_histories(
    loaded: LoadedStudy, strategy: Strategy, battery: Source, bank: Source | None
) -> tuple[TracedDays, TracedDays | None]:
    study = loaded.study
    repeats = study.service.day.drive_repeats
    charging = build.battery_charging(study.battery, loaded.battery, study.service)
    assert strategy.battery is not None  # noqa: S101 - the schema asks for it
    history = loaded.histories[strategy.battery]
    battery_days = days_from_history(history, repeats, battery, charging, _battery_worn(loaded))
    if bank is None or strategy.ultracapacitor is None:
        return battery_days, None
    history = loaded.histories[strategy.ultracapacitor]
    return battery_days, days_from_history(history, repeats, bank, _no_charging(loaded), _bank_worn(loaded))


def _no_charging(loaded: LoadedStudy) -> Charging:
    return replace(NO_CHARGING, whole_log=loaded.study.service.histories_cover == "everything")


def _judge(
    loaded: LoadedStudy,
    strategy: Strategy,
    sources: tuple[Source, Source | None],
    days: tuple[TracedDays, TracedDays | None],
    *,
    first_only: bool,
) -> StrategyResult:
    study, ends = loaded.study, loaded.study.end_of_life
    battery_source, bank_source = sources
    service = (study.service.years, study.service.runs_per_year(days[0].days[0].day.length_s))
    battery = assess_source(
        days[0],
        battery_source,
        loaded.battery,
        loaded.battery.law,
        loaded.ambient_K,
        Limits(ends.battery_capacity, ends.battery_resistance, *service, check_duty=True, first_only=first_only),
        smallest_cycle_soc=study.counting.smallest_battery_cycle_soc,
    )
    bank = None
    section, cell = study.ultracapacitor, loaded.ultracapacitor
    if days[1] is not None and bank_source is not None and section is not None and cell is not None:
        by_history = strategy.ultracapacitor is not None
        bank = assess_source(
            days[1],
            bank_source,
            cell,
            build.bank_law(section, cell),
            loaded.ambient_K,
            Limits(
                ends.ultracapacitor_capacitance,
                ends.ultracapacitor_esr,
                *service,
                check_duty=by_history,
                first_only=first_only,
            ),
        )
    return StrategyResult(
        name=strategy.name,
        rank=None,
        battery=battery,
        ultracapacitor=bank,
        cost=cost_of_lives(loaded, battery, bank),
        trip=_trip(strategy.name, sources, days),
        day=None,
        gain=None,
        notices=_interpolation_notices(loaded, strategy),
    )


def _trip(name: str, sources: tuple[Source, Source | None], days: tuple[TracedDays, TracedDays | None]) -> TripFigures:
    """What the strategy's day amounts to, seen from the bus."""
    battery_day = days[0].days[0].day
    energy = _terminal_energy_J(battery_day.drive, sources[0])
    bank_energy = 0.0
    if days[1] is not None and sources[1] is not None:
        drive = days[1].days[0].day.drive
        energy += _terminal_energy_J(drive, sources[1])
        bank_energy = _stored_energy_J(drive, sources[1])
    return TripFigures(
        name=name,
        energy_kWh=energy / JOULES_PER_KWH,
        duration_s=battery_day.drive.duration_s,
        net_battery_charge_Ah=battery_day.open_charge_As / SECONDS_PER_HOUR,
        net_ultracapacitor_energy_kWh=bank_energy / JOULES_PER_KWH,
        battery_throughput_Ah=battery_day.throughput_As / SECONDS_PER_HOUR,
    )


def _stored_energy_J(drive: Drive, source: Source) -> float:
    """Net energy taken out of the source's store over the drive [J]; voltage depends on charge alone."""
    charge = np.linspace(0.0, drive.drawn_As, _ENERGY_POINTS)
    voltage: FloatArray = source.open_circuit_V(source.start_soc - charge / source.capacity_As)
    return float(np.trapezoid(voltage, charge))


def _terminal_energy_J(drive: Drive, source: Source) -> float:
    """Net energy delivered at the terminals over the drive [J], from measured voltage where there is one."""
    if drive.measured_energy_J is not None:
        return drive.measured_energy_J
    return _stored_energy_J(drive, source) - source.resistance_ohm * drive.squared_A2s


def _interpolation_notices(loaded: LoadedStudy, strategy: Strategy) -> tuple[Notice, ...]:
    """How values run between samples, what cleaning changed, and what the readers remarked."""
    notices = []
    for key, spec in strategy.inputs().items():
        history = loaded.histories[spec]
        how = "are linear" if history.interpolation == "linear" else "are kept (zero-order hold)"
        notices.append(
            Notice(
                "interpolation",
                f"{key}: values {how} between the {history.samples} samples of {history.label}; positive means "
                f"discharge after reading (discharge_is = {spec.discharge_is}).",
                "note",
            )
        )
        notices.extend(history.notices)
    return tuple(notices)
