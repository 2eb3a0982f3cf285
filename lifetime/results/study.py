"""What a result rests on, as the document tells it: the study as given, service, prices, histories."""

from typing import Final, Literal, Self

from pydantic import JsonValue

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.costing.terms import Residual
from lifetime.history.block import Interpolation
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.packs.climate import climate_sha256, is_hourly, monthly_means_K
from lifetime.results.parameters import ParameterSets, parameter_set
from lifetime.results.records import Assessment
from lifetime.results.view import Numbers, View, rounded
from lifetime.stress.counting import CycleRate, SmallCycles
from lifetime.study.evaluation import EndOfLife
from lifetime.study.load import LoadedStudy

CLIMATE_DIGITS: Final = 7
"""Significant digits of the temperatures that are told [°C]."""


class Input(View):
    """One input file and the hash of its content."""

    name: str
    sha256: str


class ServiceView(View):
    """How long and how hard the vehicle works; null where the study leaves it out.

    ``climate_sha256`` is the hash of the climate's exact temperatures; null without a named climate, and in documents
    that were stored without it. ``climate_is_hourly`` is true where it has every hour of the year; ``ambient_C`` are
    its monthly means then.
    """

    years: float
    working_days_per_year: float | None
    histories_cover: Literal["driving", "everything"]
    distance_km_per_day: float | None
    climate: str | None
    climate_sha256: str | None = None
    ambient_C: Numbers
    drive_repeats: int
    charge_c_rate: float | None
    charge_to_soc: float | None
    climate_is_hourly: bool = False
    drive_starts_at_hour: float | None = None
    charge_ends_at_hour: float | None = None


class CostTermsView(View):
    """Prices that all strategies share; the discount rate is a real one [1/year]."""

    currency: str
    discount_rate: float
    electricity_per_kWh: float
    downtime_per_day: float = 0.0
    residual_value: Residual
    rank_unequal_duty: bool = False


class CountingView(View):
    """How cycles are counted; the defaults are how versions before 0.2.0 counted."""

    smallest_battery_depth_of_discharge: float
    small_cycles: SmallCycles = "all"
    half_weight_depth_of_discharge: float = 0.01
    cycle_rate: CycleRate = "throughput_weighted"
    averaging_s: float = 0.0
    dead_band_c_rate: float = 0.0


class HealthLimits(View):
    """End-of-life criteria of one source; capacity means capacitance, resistance means ESR for a bank."""

    capacity_fraction: float
    resistance_ratio: float


class PowerCornerView(View):
    """Where the battery's power ends its life."""

    soc: float
    temperature_C: float
    duration_s: float


class EndOfLifeView(View):
    """End-of-life criteria of both sources; ``battery_power`` is null where power is none of them."""

    battery: HealthLimits
    ultracapacitor: HealthLimits
    battery_longest_life_years: float | None = None
    ultracapacitor_longest_life_years: float | None = None
    battery_power: PowerCornerView | None = None

    @classmethod
    def of(cls, limits: EndOfLife) -> Self:
        """The criteria as they are told.

        Args:
            limits: Of the study.
        """
        return cls(
            battery=HealthLimits(capacity_fraction=limits.battery_capacity, resistance_ratio=limits.battery_resistance),
            ultracapacitor=HealthLimits(
                capacity_fraction=limits.ultracapacitor_capacitance, resistance_ratio=limits.ultracapacitor_esr
            ),
            battery_longest_life_years=limits.battery_longest_life_years,
            ultracapacitor_longest_life_years=limits.ultracapacitor_longest_life_years,
            battery_power=None
            if limits.battery_power is None
            else PowerCornerView.model_validate(limits.battery_power.model_dump()),
        )


class ResistanceGrowthView(View):
    """Growth of the battery's resistance per loss of capacity, where its ageing model predicts none."""

    per_calendar_loss: float
    per_cyclic_loss: float


class HistoryView(View):
    """One history as it was read; ``columns`` is what the study says about the file besides its name."""

    name: str
    file: str
    sha256: str
    columns: dict[str, JsonValue]
    driven_by: Literal["current", "power", "speed"]
    interpolation: Interpolation
    has_temperature: bool
    samples: int
    duration_s: float

    @classmethod
    def of(cls, spec: HistoryInput, history: History) -> Self:
        """The history as it is told.

        Args:
            spec: What the study says about it.
            history: The checked series.
        """
        return cls(
            name=history.label,
            file=spec.file,
            sha256=history.sha256,
            columns=spec.model_dump(mode="json", exclude={"file"}, exclude_none=True),
            driven_by=history.driven_by,
            interpolation=history.interpolation,
            has_temperature=history.has_temperature,
            samples=history.samples,
            duration_s=history.duration_s,
        )


class StudyView(View):
    """The question: ``id`` is the fingerprint of study, inputs and program version, ``given`` the study as given.

    ``functions`` are the files of the user's own split functions. ``resistance_growth`` is null in documents that were
    stored without it: their models without resistance growth had none.
    """

    id: str
    title: str
    program_version: str
    service_years: float
    currency: str
    inputs: tuple[Input, ...]
    functions: tuple[Input, ...] = ()
    given: dict[str, JsonValue]
    service: ServiceView
    cost: CostTermsView
    counting: CountingView
    end_of_life: EndOfLifeView
    parameter_sets: ParameterSets
    histories: tuple[HistoryView, ...]
    resistance_growth: ResistanceGrowthView | None = None

    @classmethod
    def of(cls, assessment: Assessment) -> Self:
        """The question as it is told.

        Args:
            assessment: What ``assess`` returned.
        """
        loaded = assessment.loaded
        study = loaded.study
        batteries = [one.battery for one in assessment.strategies]
        banks = [one.ultracapacitor for one in assessment.strategies if one.ultracapacitor is not None]
        return cls(
            id=assessment.id,
            title=assessment.title,
            program_version=assessment.program_version,
            service_years=assessment.service_years,
            currency=assessment.currency,
            inputs=tuple(Input(name=name, sha256=sha256) for name, sha256 in sorted(assessment.inputs.items())),
            functions=tuple(Input(name=name, sha256=sha256) for name, sha256 in sorted(_functions(loaded).items())),
            given=study.model_dump(mode="json", exclude_unset=True, exclude_none=True),
            service=_service(loaded),
            cost=CostTermsView.model_validate(study.cost.model_dump()),
            counting=CountingView.model_validate(study.counting.model_dump()),
            end_of_life=EndOfLifeView.of(study.end_of_life),
            parameter_sets=ParameterSets(
                battery=parameter_set(batteries, loaded.battery, study.battery),
                ultracapacitor=parameter_set(banks, loaded.ultracapacitor, study.ultracapacitor),
            ),
            histories=tuple(HistoryView.of(spec, history) for spec, history in loaded.histories.items()),
            resistance_growth=ResistanceGrowthView(
                per_calendar_loss=study.battery.resistance_per_calendar_loss,
                per_cyclic_loss=study.battery.resistance_per_cyclic_loss,
            ),
        )


def _functions(loaded: LoadedStudy) -> dict[str, str]:
    """Content hash of every file with a split function, by the name the study gives it."""
    return {file: sha256 for (file, _), (_, sha256) in loaded.functions.items()}


def _service(loaded: LoadedStudy) -> ServiceView:
    service = loaded.study.service
    return ServiceView(
        years=service.years,
        working_days_per_year=service.working_days_per_year,
        histories_cover=service.histories_cover,
        distance_km_per_day=service.distance_km_per_day,
        climate=service.climate,
        climate_sha256=None if service.climate is None else climate_sha256(loaded.ambient_K),
        ambient_C=rounded(monthly_means_K(loaded.ambient_K) - ZERO_CELSIUS_K, CLIMATE_DIGITS),
        drive_repeats=service.day.drive_repeats,
        charge_c_rate=service.day.charge_c_rate,
        charge_to_soc=service.day.charge_to_soc,
        climate_is_hourly=is_hourly(loaded.ambient_K),
        drive_starts_at_hour=service.day.drive_starts_at_hour,
        charge_ends_at_hour=service.day.charge_ends_at_hour,
    )
