"""One strategy as the document tells it: its sources, its cost, its day, and how much of the possible it reaches."""

from dataclasses import asdict
from typing import Annotated, Literal, Self

from pydantic import Field

from lifetime.costing.ranking import TripFigures
from lifetime.history.spec import HistoryInput
from lifetime.results.cost import Cost, NoCost, cost_view
from lifetime.results.day import DayView
from lifetime.results.feasibility import FeasibilityView
from lifetime.results.records import Assessment, ReferenceSplit, StrategyResult
from lifetime.results.source import BatteryView, SourceView, UltracapacitorView
from lifetime.results.view import Message, SourceKind, View, messages


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


class ReferenceSplitView(View):
    """The strategy against the battery alone and the least-rms split; null where a figure does not exist.

    A reason is one main clause without a full stop; results of version 1 have none.
    """

    battery_rms_W: float
    battery_peak_W: float
    alone_rms_W: float
    alone_peak_W: float
    reference_rms_W: float
    reference_peak_W: float
    alone_net_present_cost: float | None
    alone_no_cost_reason: str | None
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
    """One strategy; the best has rank 1, a strategy without a cost, or that breaks a limit when new, has none.

    ``feasibility`` is empty for histories, and for results of before.
    """

    name: str
    rank: int | None
    battery: BatteryView
    ultracapacitor: UltracapacitorView | None
    cost: Annotated[Cost | NoCost, Field(discriminator="state")]
    trip: TripView
    reference_split: ReferenceSplitView | None
    day: DayView | None
    histories: tuple[HistoryUse, ...]
    warnings: tuple[Message, ...]
    notes: tuple[Message, ...]
    breaks_limit: bool = False
    feasibility: tuple[FeasibilityView, ...] = ()

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

    @classmethod
    def of(cls, assessment: Assessment, strategy: StrategyResult) -> Self:
        """The strategy as it is told.

        Args:
            assessment: What ``assess`` returned.
            strategy: One of its strategies.
        """
        ambient_K = assessment.loaded.ambient_K
        bank = strategy.ultracapacitor
        split = strategy.reference_split
        return cls(
            name=strategy.name,
            rank=strategy.rank,
            battery=BatteryView.of(strategy.battery, ambient_K),
            ultracapacitor=None if bank is None else UltracapacitorView.of(bank, ambient_K),
            cost=cost_view(assessment.currency, strategy),
            trip=TripView.of(strategy.trip),
            reference_split=None if split is None else ReferenceSplitView.of(split),
            day=None if strategy.day is None else DayView.of(strategy.day),
            histories=_uses(assessment, strategy.name),
            warnings=messages(strategy.notices, "warning"),
            notes=messages(strategy.notices, "note"),
            breaks_limit=strategy.breaks_limit,
            feasibility=tuple(FeasibilityView.of(one) for one in strategy.feasibility),
        )


def _uses(assessment: Assessment, name: str) -> tuple[HistoryUse, ...]:
    loaded = assessment.loaded
    places: dict[HistoryInput, int] = {spec: place for place, spec in enumerate(loaded.histories)}
    strategy = next(one for one in loaded.study.strategy if one.name == name)
    return tuple(
        HistoryUse.model_validate({"role": role, "position": places[spec]}) for role, spec in strategy.inputs().items()
    )
