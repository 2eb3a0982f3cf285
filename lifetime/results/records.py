"""What an assessment answers: frozen records that report, command line and service read."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.costing.energy import EnergyBought
from lifetime.costing.life_cycle import LifeCycleCost, NoLifeCycleCost
from lifetime.costing.ranking import TripFigures
from lifetime.notices import Notice
from lifetime.packs.cell import ProvenanceEntry
from lifetime.projection.limits import Crossing
from lifetime.projection.power_corner import PowerMargin
from lifetime.results.convention_outcome import ConventionOutcome
from lifetime.results.feasibility import Feasibility
from lifetime.results.reference_split import ReferenceSplit
from lifetime.results.view import LifeBound, LifeState
from lifetime.stress.bins import Bins
from lifetime.stress.cycles import CycleTable
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy


@dataclass(frozen=True, slots=True, eq=False)
class HealthTrajectory:
    """Health over the service, by month.

    Args:
        years: Service time [years], shape (n,).
        capacity_fraction: Capacity or capacitance over initial [0..1], shape (n,).
        resistance_ratio: Resistance or ESR over initial [1], shape (n,).
        calendar_loss_fraction: Capacity lost to calendar ageing [0..1], shape (n,).
        cyclic_loss_fraction: Capacity lost to cyclic ageing [0..1], shape (n,).
    """

    years: FloatArray
    capacity_fraction: FloatArray
    resistance_ratio: FloatArray
    calendar_loss_fraction: FloatArray
    cyclic_loss_fraction: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class SmallCycles:
    """What the smallest-cycle threshold left out.

    Args:
        threshold_soc: Cycles of this depth or less were not counted [0..1].
        removed_cycles_per_year: How many [1/year].
        removed_loss_fraction: Capacity loss at the end of service that they would have added [0..1].
        life_years_with_all: Life with every cycle counted; None beyond the search horizon.
    """

    threshold_soc: float
    removed_cycles_per_year: float
    removed_loss_fraction: float
    life_years_with_all: float | None


@dataclass(frozen=True, slots=True, eq=False)
class SourceResult:
    """Life and ageing of one source under one strategy.

    Args:
        kind: ``battery`` or ``ultracapacitor``.
        cell: Id of its parameter set.
        grade: Weakest provenance grade among the set's numbers.
        life_years: Time to the first criterion reached [years]; None in the state ``beyond_search_limit``.
        life_state: ``reached``; ``beyond_tested_loss`` where a battery's tests ended at less loss than its end of life;
            ``beyond_search_limit`` where no criterion is reached within the search;
            ``not_limited_by_model`` where it is longer than the longest life that cost goes by;
            ``requirement_not_met`` where the new source does not deliver the power or energy asked of it (life 0).
        end_of_life_criterion: The first criterion reached: ``capacity``, ``resistance``, ``capacitance``, ``esr``,
            ``requirement`` or ``power``; None where none is.
        crossings: When each criterion would be reached.
        capacity_fraction_at_service_end: Capacity (capacitance) of the first pack if it stayed in service; None
            where it is scrap before.
        resistance_ratio_at_service_end: Resistance (ESR) likewise.
        calendar_share_fraction: Share of the capacity loss at the earlier of life and service end that is calendar
            ageing [0..1]; None where nothing is lost.
        cyclic_share_fraction: The rest [0..1].
        equivalent_full_cycles_per_year: Throughput over twice the rated capacity [1/year].
        throughput_Ah_per_year: Charge moved in both directions, drive and charging [Ah/year].
        rms_current_A: Root mean square pack current over the drive [A].
        peak_current_A: Largest |pack current| of the drive [A].
        energy_losses_kWh_per_year: Energy lost as heat, mean over the service [kWh/year].
        lowest_soc: Lowest state of charge of the day when new [0..1] (for a bank: charge fraction).
        highest_soc: Highest [0..1].
        open_charge_Ah: Net charge the day does not bring back [Ah].
        trajectory: Health by month.
        cycles: The day's cycles when new.
        bins: The day's time bins when new.
        loss_by_mechanism: Capacity loss by the law's mechanisms, at service end or where the search stopped.
        small_cycles: What a smallest-cycle threshold left out; None where it is off.
        modelled: Stresses that the ageing model responds to.
        not_modelled: Stresses that it does not respond to, in words.
        notices: Everything the result has to say about itself.
        provenance: Every number of the parameter set with its source.
        caveats: Standing sentences of the parameter set.
        references: Published sources of the parameter set.
        cell_sha256: Hash of the parameter set.
        source: The source as it was traced, when new.
        runs_per_year: How often a year holds the traced day [1/year].
        morning_rise_K: Temperature rise left from the day before when the new source's repeated day begins [K].
        averaged_out_fraction: Share of the throughput that averaging before the count takes out, as noise [0..1].
        in_range_fraction: Share of the duty inside the ageing model's fitted range, when new [0..1].
        life_bound: What the life is where less than half of the duty is inside: the model understates ageing
            (``at_most``), overstates it (``at_least``) or neither is known (``about``); None elsewhere.
        longest_life_years: Life that cost goes by where the model gives a longer one [years]; None without such a cap.
        not_counted_fraction: Share of the counted cycles' throughput that small cycles' weight leaves out, when new
            [0..1].
        resistance_factors: Resistance of each month by its temperature, new, over the stated one [1], shape (12,).
        breaks_limit: Whether it breaks a limit at the beginning of life, so that its strategy has no rank.
        tested_years: When it passes the capacity loss that the tests behind its ageing model reached [years]; None
            where its life ends before.
        power: Power when new against what is asked in the corner of the study; None where power does not end its life.
    """

    kind: Literal["battery", "ultracapacitor"]
    cell: str
    grade: str
    life_years: float | None
    life_state: LifeState
    end_of_life_criterion: str | None
    crossings: tuple[Crossing, ...]
    capacity_fraction_at_service_end: float | None
    resistance_ratio_at_service_end: float | None
    calendar_share_fraction: float | None
    cyclic_share_fraction: float | None
    equivalent_full_cycles_per_year: float
    throughput_Ah_per_year: float
    rms_current_A: float
    peak_current_A: float
    energy_losses_kWh_per_year: float
    lowest_soc: float
    highest_soc: float
    open_charge_Ah: float
    trajectory: HealthTrajectory
    cycles: CycleTable
    bins: Bins
    loss_by_mechanism: FloatArray
    small_cycles: SmallCycles | None
    modelled: tuple[str, ...]
    not_modelled: tuple[str, ...]
    notices: tuple[Notice, ...]
    provenance: tuple[ProvenanceEntry, ...]
    caveats: tuple[str, ...]
    references: tuple[str, ...]
    cell_sha256: str
    source: Source
    runs_per_year: float
    morning_rise_K: float
    in_range_fraction: float
    life_bound: LifeBound | None
    longest_life_years: float | None
    averaged_out_fraction: float
    not_counted_fraction: float
    resistance_factors: FloatArray
    breaks_limit: bool = False
    tested_years: float | None = None
    power: PowerMargin | None = None

    @property
    def cost_life_years(self) -> float | None:
        """Life that replacements and residual value go by [years]; None beyond the search limit."""
        cap = self.longest_life_years
        return self.life_years if cap is None else min(cap, cap if self.life_years is None else self.life_years)


@dataclass(frozen=True, slots=True, eq=False)
class AgeingTimeline:
    """Capacity loss of a source at service end, by when in the day it comes about.

    All parts are fractions of the new capacity and sum to ``total_fraction``.

    Args:
        calendar_fraction: Calendar part of each interval of the drive [0..1], shape (n,).
        cyclic_fraction: Cyclic part of each interval [0..1], shape (n,).
        charging_fraction: What charging costs [0..1].
        resting_fraction: What rest and days without work cost [0..1].
        total_fraction: The whole loss [0..1].
        current_A: Current of each interval [A], shape (n,), when new.
    """

    calendar_fraction: FloatArray
    cyclic_fraction: FloatArray
    charging_fraction: float
    resting_fraction: float
    total_fraction: float
    current_A: FloatArray

    @property
    def capacity_loss_fraction(self) -> FloatArray:
        """Both parts of each interval, shape (n,)."""
        return self.calendar_fraction + self.cyclic_fraction


@dataclass(frozen=True, slots=True)
class ModeRow:
    """What one source does in one drive mode over a day.

    Args:
        mode: The mode.
        part: Which source.
        time_s: How long the mode lasts [s].
        energy_out_kWh: Energy the source delivers [kWh].
        energy_in_kWh: Energy it takes [kWh].
        throughput_Ah: Charge it moves either way [Ah].
        rms_A: Quadratic mean of its current meanwhile [A].
        loss_kWh: Heat in its resistance [kWh].
        capacity_loss_share_fraction: Share of its capacity loss at service end that comes about in this mode [0..1].
    """

    mode: str
    part: Literal["battery", "ultracapacitor"]
    time_s: float
    energy_out_kWh: float
    energy_in_kWh: float
    throughput_Ah: float
    rms_A: float
    loss_kWh: float
    capacity_loss_share_fraction: float


@dataclass(frozen=True, slots=True, eq=False)
class DaySplit:
    """A day second by second: what was asked, who gave it, in which mode, and what it cost.

    Args:
        length_s: Length of each interval [s], shape (n,).
        demand_W: Demand [W], shape (n,).
        battery_W: Battery power [W], shape (n,).
        ultracapacitor_W: Power of the ultracapacitor bank [W], shape (n,).
        mode: Code of each interval's mode, as in ``lifetime.split.modes.MODES``, shape (n,).
        passes: How many equal drives the day is made of.
        mode_changes: How often the mode changes.
        transfer_kWh: Energy that one source gives the other over the day [kWh].
        rows: Figures by mode and source.
        battery: The battery's capacity loss over the day.
        ultracapacitor: The bank's; None without a bank.
    """

    length_s: FloatArray
    demand_W: FloatArray
    battery_W: FloatArray
    ultracapacitor_W: FloatArray
    mode: NDArray[np.intp]
    passes: int
    mode_changes: int
    transfer_kWh: float
    rows: tuple[ModeRow, ...]
    battery: AgeingTimeline
    ultracapacitor: AgeingTimeline | None


@dataclass(frozen=True, slots=True, eq=False)
class StrategyResult:
    """One strategy, assessed and ranked.

    Args:
        name: As the study names it.
        rank: 1 has the lowest cost; None where there is none, ``not_ranked_reason`` says why.
        battery: The battery pack.
        ultracapacitor: The bank; None where the strategy has none.
        energy: What it buys.
        cost: Life-cycle cost, or why there is none.
        trip: What its day amounts to.
        day: The day second by second; None without a demand.
        reference_split: How it compares with the reference split; None without a demand or a bank.
        notices: Remarks on the strategy as a whole.
        conventions: What it comes to under each convention of counting; empty where that is not asked for, or where
            the battery does not meet its requirement.
        without_limits: What it comes to under the study's own convention where the ageing model is not held at the ends
            of its fitted range; None where it is held nowhere.
        feasibility: How much of a demand is served new, at the end of life and in the coldest month; empty for
            histories, and in a sweep only new.
        not_ranked_reason: Why there is no rank, as a clause; None where there is one.
    """

    name: str
    rank: int | None
    battery: SourceResult
    ultracapacitor: SourceResult | None
    energy: EnergyBought
    cost: LifeCycleCost | NoLifeCycleCost
    trip: TripFigures
    day: DaySplit | None
    reference_split: ReferenceSplit | None
    notices: tuple[Notice, ...]
    conventions: tuple[ConventionOutcome, ...] = ()
    without_limits: ConventionOutcome | None = None
    feasibility: tuple[Feasibility, ...] = ()
    not_ranked_reason: str | None = None

    @property
    def breaks_limit(self) -> bool:
        """Whether a source breaks a limit at the beginning of life; then there is no rank."""
        return any(one is not None and one.breaks_limit for one in (self.battery, self.ultracapacitor))

    @property
    def life_cycle_cost(self) -> LifeCycleCost | None:
        """The cost where there is one, else None; ``cost`` says why."""
        return self.cost if isinstance(self.cost, LifeCycleCost) else None


@dataclass(frozen=True, slots=True)
class Lever:
    """The best strategy with one thing changed that is no split.

    Args:
        words: What is changed.
        battery_life_years: Life of the battery then [years]; None beyond the search limit.
        net_present_cost: Then [currency]; None where there is none.
    """

    words: str
    battery_life_years: float | None
    net_present_cost: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Assessment:
    """A study, assessed.

    Args:
        id: Fingerprint of the study, its inputs and the program version; the same three give the same id.
        program_version: Version of this program.
        strategies: In the order of rank, those without a result last.
        inputs: Content hash of every input file, by the name the study gave it.
        loaded: The study that was assessed, with everything it names.
        notices: Remarks that concern the comparison as a whole.
        levers: The strategy with the lowest cost with one thing changed at a time; empty where none has a cost.
    """

    id: str
    program_version: str
    strategies: tuple[StrategyResult, ...]
    inputs: Mapping[str, str]
    loaded: LoadedStudy
    notices: tuple[Notice, ...]
    levers: tuple[Lever, ...] = ()

    @property
    def title(self) -> str:
        """The study's title."""
        return self.loaded.study.title

    @property
    def currency(self) -> str:
        """Currency of every amount."""
        return self.loaded.study.cost.currency

    @property
    def service_years(self) -> float:
        """Horizon of the cost [years]."""
        return self.loaded.study.service.years
