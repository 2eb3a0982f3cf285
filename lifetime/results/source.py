"""One source under one strategy as the document tells it: life, criteria, loads, health over the years, maps."""

from typing import Final, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.projection.power_corner import PowerMargin
from lifetime.results.maps import CycleMap, TimeMap, cycle_map, time_map
from lifetime.results.records import HealthTrajectory, SmallCycles, SourceResult
from lifetime.results.view import LifeBound, LifeState, Message, Numbers, View, messages, rounded

Criterion = Literal["capacity", "resistance", "capacitance", "esr", "requirement", "power"]

MOST_POINTS: Final = 200
"""Months of a trajectory that are kept; more cannot be told apart in a picture."""
_DIGITS: Final = 7
_SERIES: Final = (
    "years",
    "capacity_fraction",
    "resistance_ratio",
    "calendar_loss_fraction",
    "cyclic_loss_fraction",
)


class CriterionReached(View):
    """When an end-of-life criterion is reached [years]; null beyond the search limit. ``detail`` names the bound."""

    criterion: Criterion
    years: float | None
    detail: str


class CornerPowerView(View):
    """Power of the new battery in the corner of the study, against the largest mean over that time asked of it."""

    soc: float
    temperature_C: float
    duration_s: float
    available_W: float
    required_W: float

    @classmethod
    def of(cls, margin: PowerMargin | None) -> "CornerPowerView | None":
        """The power as it is told; None where power does not end the life.

        Args:
            margin: Of the record.
        """
        if margin is None:
            return None
        corner = margin.corner
        return cls(
            soc=corner.soc,
            temperature_C=corner.temperature_K - ZERO_CELSIUS_K,
            duration_s=corner.duration_s,
            available_W=margin.available_W,
            required_W=margin.required_W,
        )


class SmallCyclesLeftOut(View):
    """What the threshold of the smallest cycle left out; a null life lies beyond the search limit."""

    threshold_depth_of_discharge: float
    removed_cycles_per_year: float
    removed_capacity_loss_fraction_at_service_end: float
    life_years_with_all_cycles: float | None


class Trajectory(View):
    """Health over the service time, one value a month, evenly downsampled; capacity means capacitance for a bank."""

    years: Numbers
    capacity_fraction: Numbers
    resistance_ratio: Numbers
    calendar_loss_fraction: Numbers
    cyclic_loss_fraction: Numbers

    @classmethod
    def of(cls, trajectory: HealthTrajectory) -> "Trajectory":
        """The months that are kept; the first and the last stay.

        Args:
            trajectory: Health by month.
        """
        months = trajectory.years.size
        step = max(1, -(-(months - 1) // (MOST_POINTS - 1)))
        keep = np.arange(0, months, step)
        if months and keep[-1] != months - 1:
            keep = np.append(keep, months - 1)
        return cls(**{name: rounded(getattr(trajectory, name)[keep], _DIGITS) for name in _SERIES})


class SourceView(View):
    """What both sources tell alike; ``cell`` is the id of the parameter set, a null life lies beyond the search.

    A life with a bound is none to the decimal: less than half of the duty is inside the ageing model's fitted range.
    In the state ``beyond_tested_loss`` only the time to the tested loss, ``tested_years``, is no extrapolation.
    Shares of duty in range, of throughput averaged out and of that in small cycles not counted are null before 0.2.0.
    """

    cell: str
    parameter_grade: str
    life_years: float | None
    life_state: LifeState
    end_of_life_criterion: Criterion | None
    criteria: tuple[CriterionReached, ...]
    calendar_share_fraction: float | None
    cyclic_share_fraction: float | None
    equivalent_full_cycles_per_year: float
    throughput_Ah_per_year: float
    rms_current_A: float
    peak_current_A: float
    energy_losses_kWh_per_year: float
    lowest_soc: float
    highest_soc: float
    open_charge_Ah_per_day: float
    small_cycles: SmallCyclesLeftOut | None
    modelled: tuple[str, ...]
    not_modelled: tuple[str, ...]
    trajectory: Trajectory
    cycle_map: CycleMap
    time_map: TimeMap
    warnings: tuple[Message, ...]
    notes: tuple[Message, ...]
    in_range_fraction: float | None = None
    life_bound: LifeBound | None = None
    averaged_out_throughput_fraction: float | None = None
    not_counted_throughput_fraction: float | None = None
    tested_years: float | None = None

    @property
    def capacity_left(self) -> float | None:
        """Capacity or capacitance over initial at service end; None where the source is scrap before."""
        raise NotImplementedError

    @property
    def resistance_left(self) -> float | None:
        """Resistance or ESR over initial at service end; None where the source is scrap before."""
        raise NotImplementedError


class BatteryView(SourceView):
    """The battery pack under one strategy; ``corner_power`` is null where power does not end its life."""

    capacity_fraction_at_service_end: float | None
    resistance_ratio_at_service_end: float | None
    corner_power: CornerPowerView | None = None

    @property
    def capacity_left(self) -> float | None:
        """Capacity over initial at service end."""
        return self.capacity_fraction_at_service_end

    @property
    def resistance_left(self) -> float | None:
        """Resistance over initial at service end."""
        return self.resistance_ratio_at_service_end

    @classmethod
    def of(cls, result: SourceResult, ambient_K: FloatArray) -> "BatteryView":
        """The battery as it is told.

        Args:
            result: The battery, assessed.
            ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        """
        ends = {
            "capacity_fraction_at_service_end": result.capacity_fraction_at_service_end,
            "resistance_ratio_at_service_end": result.resistance_ratio_at_service_end,
            "corner_power": CornerPowerView.of(result.power),
        }
        return cls.model_validate({**_common(result, ambient_K), **ends})


class UltracapacitorView(SourceView):
    """The ultracapacitor bank under one strategy; its state of charge is its voltage over the rated voltage."""

    capacitance_fraction_at_service_end: float | None
    esr_ratio_at_service_end: float | None

    @property
    def capacity_left(self) -> float | None:
        """Capacitance over initial at service end."""
        return self.capacitance_fraction_at_service_end

    @property
    def resistance_left(self) -> float | None:
        """ESR over initial at service end."""
        return self.esr_ratio_at_service_end

    @classmethod
    def of(cls, result: SourceResult, ambient_K: FloatArray) -> "UltracapacitorView":
        """The bank as it is told.

        Args:
            result: The bank, assessed.
            ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        """
        ends = {
            "capacitance_fraction_at_service_end": result.capacity_fraction_at_service_end,
            "esr_ratio_at_service_end": result.resistance_ratio_at_service_end,
        }
        return cls.model_validate({**_common(result, ambient_K), **ends})


_SAME: Final = (
    "cell",
    "life_years",
    "life_state",
    "end_of_life_criterion",
    "calendar_share_fraction",
    "cyclic_share_fraction",
    "equivalent_full_cycles_per_year",
    "throughput_Ah_per_year",
    "rms_current_A",
    "peak_current_A",
    "energy_losses_kWh_per_year",
    "lowest_soc",
    "highest_soc",
    "modelled",
    "not_modelled",
    "tested_years",
)
"""Fields that are told under the name they have in the record."""


def _common(result: SourceResult, ambient_K: FloatArray) -> dict[str, object]:
    return {
        **{name: getattr(result, name) for name in _SAME},
        "parameter_grade": result.grade,
        "criteria": tuple(
            CriterionReached.model_validate({"criterion": one.limit, "years": one.years, "detail": one.detail})
            for one in result.crossings
        ),
        "open_charge_Ah_per_day": result.open_charge_Ah,
        "small_cycles": _small_cycles(result.small_cycles),
        "trajectory": Trajectory.of(result.trajectory),
        "cycle_map": cycle_map(result),
        "time_map": time_map(result, ambient_K),
        "warnings": messages(result.notices, "warning"),
        "notes": messages(result.notices, "note"),
        "in_range_fraction": result.in_range_fraction,
        "life_bound": result.life_bound,
        "averaged_out_throughput_fraction": result.averaged_out_fraction,
        "not_counted_throughput_fraction": result.not_counted_fraction,
    }


def _small_cycles(small: SmallCycles | None) -> SmallCyclesLeftOut | None:
    if small is None:
        return None
    return SmallCyclesLeftOut(
        threshold_depth_of_discharge=small.threshold_soc,
        removed_cycles_per_year=small.removed_cycles_per_year,
        removed_capacity_loss_fraction_at_service_end=small.removed_loss_fraction,
        life_years_with_all_cycles=small.life_years_with_all,
    )
