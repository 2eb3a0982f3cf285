"""One strategy as the document tells it: its sources, its cost, its day, and how much of the possible it reaches."""

from dataclasses import asdict
from typing import Annotated, Literal, Self

from pydantic import Field, JsonValue

from lifetime.costing.energy import EnergyBought
from lifetime.costing.ranking import TripFigures
from lifetime.history.spec import HistoryInput
from lifetime.results.conventions import ConventionView
from lifetime.results.cost import Cost, NoCost, cost_view
from lifetime.results.day import DayView
from lifetime.results.feasibility import FeasibilityView
from lifetime.results.parameters import ParameterSets, parameter_set
from lifetime.results.records import Assessment, StrategyResult
from lifetime.results.reference_split import ReferenceSplit
from lifetime.results.source import BatteryView, SourceView, UltracapacitorView
from lifetime.results.view import Message, SourceKind, View, messages
from lifetime.stress.counting import CycleRate, SmallCycles
from lifetime.study.paths import leaves, path_words


class TripView(View):
    """What the strategy's working day amounts to, seen from the bus."""

    energy_kWh_per_day: float
    driving_duration_s_per_day: float
    net_battery_charge_Ah_per_day: float
    net_ultracapacitor_energy_kWh_per_day: float

    @classmethod
    def of(cls, trip: TripFigures) -> Self:
        """The day's figures as they are told.

        Args:
            trip: Of the strategy.
        """
        return cls(
            energy_kWh_per_day=trip.energy_kWh,
            driving_duration_s_per_day=trip.duration_s,
            net_battery_charge_Ah_per_day=trip.net_battery_charge_Ah,
            net_ultracapacitor_energy_kWh_per_day=trip.net_ultracapacitor_energy_kWh,
        )


class EnergyView(View):
    """What the strategy buys at the meter in a year, and what of it makes up for stores that end a day emptier.

    ``friction_kWh_per_year`` is the part of the metered energy that makes up for braking that no source takes,
    ``converter_kWh_per_year`` the part that converters, inverters and windings lose, and ``coolant_kWh_per_year`` what
    holds the battery's coolant at its setpoint; all 0 in older results.
    """

    metered_kWh_per_year: float
    battery_correction_kWh_per_year: float
    ultracapacitor_kWh_per_year: float
    friction_kWh_per_year: float = 0.0
    converter_kWh_per_year: float = 0.0
    coolant_kWh_per_year: float = 0.0
    total_kWh_per_year: float

    @classmethod
    def of(cls, energy: EnergyBought) -> Self:
        """The energy as it is told.

        Args:
            energy: Of the strategy.
        """
        return cls(**asdict(energy), total_kWh_per_year=energy.total_kWh_per_year)


class ReferenceSplitView(View):
    """The strategy against the battery alone and the least-rms split; null where a figure does not exist.

    A reason is one main clause without a full stop; results of version 1 have none. The break-even price of the whole
    bank [currency] is the one at which the strategy costs as much as the battery alone; older results lack it.
    """

    battery_rms_W: float
    battery_peak_W: float
    alone_rms_W: float
    alone_peak_W: float
    reference_rms_W: float
    reference_peak_W: float
    alone_net_present_cost: float | None
    alone_no_cost_reason: str | None
    ultracapacitor_break_even_price: float | None = None
    reference_life_years: float | None
    reference_net_present_cost: float | None
    reference_no_cost_reason: str | None
    reached_capacity_loss_fraction: float | None
    reached_cost_saving_fraction: float | None

    @classmethod
    def of(cls, split: ReferenceSplit) -> Self:
        """The comparison as it is told.

        Args:
            split: Of the record.
        """
        return cls(**asdict(split))


class HistoryUse(View):
    """Which history a strategy reads, and as what; ``position`` counts the study's histories from 0."""

    role: Literal["demand", "battery", "ultracapacitor"]
    position: Annotated[int, Field(ge=0)]


class StrategyView(View):
    """One strategy; the best has rank 1, one that is not ranked has none, and ``not_ranked_reason`` says why.

    Older results lack that reason and the energy bought. ``feasibility`` is empty for histories, and in older results.
    Only a strategy with a design of its own names its keys, and the parameter sets and packs that follow from it.
    ``conventions`` is null in results of versions before 0.2.0 and where the battery does not meet its requirement.
    ``without_model_limits`` extrapolates the ageing model where it is held at an end of its fitted range; null where it
    is held nowhere.
    """

    name: str
    rank: int | None
    battery: BatteryView
    ultracapacitor: UltracapacitorView | None
    cost: Annotated[Cost | NoCost, Field(discriminator="state")]
    trip: TripView
    energy_bought: EnergyView | None = None
    reference_split: ReferenceSplitView | None
    day: DayView | None
    histories: tuple[HistoryUse, ...]
    design: dict[str, JsonValue] | None = None
    parameter_sets: ParameterSets | None = None
    warnings: tuple[Message, ...]
    notes: tuple[Message, ...]
    conventions: tuple[ConventionView, ...] | None = None
    without_model_limits: ConventionView | None = None
    breaks_limit: bool = False
    feasibility: tuple[FeasibilityView, ...] = ()
    not_ranked_reason: str | None = None

    @property
    def sources(self) -> dict[SourceKind, SourceView]:
        """The sources the strategy has, the battery first."""
        sources: dict[SourceKind, SourceView] = {"battery": self.battery}
        if self.ultracapacitor is not None:
            sources["ultracapacitor"] = self.ultracapacitor
        return sources

    @property
    def known_cost(self) -> Cost | None:
        """The cost, or None where there is none."""
        return self.cost if isinstance(self.cost, Cost) else None

    def outcome(self, small_cycles: SmallCycles, cycle_rate: CycleRate) -> ConventionView:
        """What the strategy comes to under the study's own convention.

        Args:
            small_cycles: Of the study.
            cycle_rate: Of the study.
        """
        cost = self.known_cost
        return ConventionView(
            small_cycles=small_cycles,
            cycle_rate=cycle_rate,
            battery_life_years=self.battery.life_years,
            net_present_cost=None if cost is None else cost.net_present_cost,
        )

    @classmethod
    def of(cls, assessment: Assessment, strategy: StrategyResult) -> Self:
        """The strategy as it is told.

        Args:
            assessment: What ``assess`` returned.
            strategy: One of its strategies.
        """
        ambient_K = assessment.loaded.ambient_K
        bank = strategy.ultracapacitor
        split, free = strategy.reference_split, strategy.without_limits
        return cls(
            name=strategy.name,
            rank=strategy.rank,
            battery=BatteryView.of(strategy.battery, ambient_K),
            ultracapacitor=None if bank is None else UltracapacitorView.of(bank, ambient_K),
            cost=cost_view(assessment.currency, strategy),
            trip=TripView.of(strategy.trip),
            energy_bought=EnergyView.of(strategy.energy),
            reference_split=None if split is None else ReferenceSplitView.of(split),
            day=None if strategy.day is None else DayView.of(strategy.day),
            histories=_uses(assessment, strategy.name),
            design=_design(assessment, strategy.name),
            parameter_sets=_own_sets(assessment, strategy),
            warnings=messages(strategy.notices, "warning"),
            notes=messages(strategy.notices, "note"),
            conventions=tuple(ConventionView.of(one) for one in strategy.conventions) or None,
            without_model_limits=None if free is None else ConventionView.of(free),
            breaks_limit=strategy.breaks_limit,
            feasibility=tuple(FeasibilityView.of(one) for one in strategy.feasibility),
            not_ranked_reason=strategy.not_ranked_reason,
        )


def _design(assessment: Assessment, name: str) -> dict[str, JsonValue] | None:
    design = next(one.design for one in assessment.loaded.study.strategy if one.name == name)
    if design is None:
        return None
    return {path_words(path): value for path, value in leaves(design.model_dump(mode="json", exclude_none=True))}


def _own_sets(assessment: Assessment, strategy: StrategyResult) -> ParameterSets | None:
    seen = assessment.loaded.variants.get(strategy.name)
    if seen is None:
        return None
    banks = [] if strategy.ultracapacitor is None else [strategy.ultracapacitor]
    return ParameterSets(
        battery=parameter_set([strategy.battery], seen.battery, seen.study.battery),
        ultracapacitor=parameter_set(banks, seen.ultracapacitor, seen.study.ultracapacitor),
    )


def _uses(assessment: Assessment, name: str) -> tuple[HistoryUse, ...]:
    loaded = assessment.loaded
    places: dict[HistoryInput, int] = {spec: place for place, spec in enumerate(loaded.histories)}
    strategy = next(one for one in loaded.study.strategy if one.name == name)
    return tuple(
        HistoryUse.model_validate({"role": role, "position": places[spec]}) for role, spec in strategy.inputs().items()
    )
