"""What a study sets up once for all its strategies: the sources, the drivetrain they make, and how it is operated."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from lifetime.ageing.assumed_growth import AssumedGrowth
from lifetime.ageing.contract import AgeingLaw
from lifetime.assessment.demands import Demands
from lifetime.assessment.load_table import LoadTable
from lifetime.assessment.worn_bank import DayBesideWornBank
from lifetime.checks import FloatArray
from lifetime.constants import MONTHS_PER_YEAR
from lifetime.packs.cell import Cell
from lifetime.packs.profile import Kind
from lifetime.projection.duty import Duty, DutyBesideWornBank, PartBesideWornBank, WornDay
from lifetime.projection.power_corner import PowerCorner
from lifetime.split.bank import Bank
from lifetime.stress.charging import Charging
from lifetime.stress.counting import EVERY_CYCLE, CycleCounting
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy


@dataclass(frozen=True, slots=True)
class HealthLimits:
    """State of health at which a source's life ends.

    Args:
        capacity_fraction: Capacity or capacitance over initial [0..1].
        resistance_ratio: Resistance or ESR over initial [1], > 1.
    """

    capacity_fraction: float
    resistance_ratio: float


@dataclass(frozen=True, slots=True)
class SourcePrice:
    """What a source costs.

    Args:
        purchase: Of the whole pack or bank today [currency], >= 0.
        replacement_labour: Of each replacement [currency], >= 0.
        decline: By how much the price falls a year [1/year].
        second_life_fraction: What a replaced source fetches, of the price then [0..1].
        downtime_days: Days out of work at each replacement [days].
    """

    purchase: float
    replacement_labour: float
    decline: float = 0.0
    second_life_fraction: float = 0.0
    downtime_days: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class SourceSetup:
    """A battery pack or an ultracapacitor bank as the study describes it.

    Args:
        kind: Which of the two.
        cell: Parameter set of its cell.
        source: Electrical and thermal quantities, as the trace sees them.
        model: Ageing model.
        limits: State of health at end of life.
        charging: How it is charged after the drive.
        price: What it costs.
        smallest_cycle_soc: Cycles of this depth of discharge or less are not counted [0..1].
        counting: How cycles are counted and weighed; every cycle of a bank counts.
        longest_life_years: Life that cost goes by where the model gives a longer one [years]; None for no such cap.
        load: What it may be loaded with; None for a bank, whose limits the split knows.
        power_corner: Where its power ends its life; None where power does not.
    """

    kind: Kind
    cell: Cell
    source: Source
    model: AgeingLaw
    limits: HealthLimits
    charging: Charging
    price: SourcePrice
    smallest_cycle_soc: float = 0.0
    counting: CycleCounting = EVERY_CYCLE
    longest_life_years: float | None = None
    load: LoadTable | None = None
    power_corner: PowerCorner | None = None

    @property
    def grown_resistance(self) -> float:
        """Resistance at the end of life over the initial one, at most [1]: by its limit, or by the capacity's."""
        if not self.model.has_resistance:
            return 1.0
        most = self.limits.resistance_ratio
        if isinstance(self.model, AssumedGrowth):
            most = min(most, self.model.most_at(self.limits.capacity_fraction))
        return most


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class UltracapacitorSetup(SourceSetup):
    """An ultracapacitor bank, also as a power split sees it.

    Args:
        bank: Capacitance, resistance, voltage window and current limit, without a setpoint.
        start_voltage_V: Capacitor voltage when the working day begins [V], > 0.
        rest_voltage_V: Capacitor voltage while the vehicle does not work [V], >= 0.
        balance_at_charger: True where a charger closes the balance of a history of its own.
        refill_efficiency: Between battery and bank while the vehicle stands [0.01..1].
        returns_energy: True where what the bank holds above its rest voltage goes back to the battery.
        standby_W: What leakage and balancing of the bank take [W], >= 0.
        initial_surplus_fraction: Initial capacitance over the rated one, less 1 [0..0.2].
        voltages_of_cell: True where split rules give voltages of one cell, not of the bank.
    """

    bank: Bank
    start_voltage_V: float
    rest_voltage_V: float
    balance_at_charger: bool = False
    refill_efficiency: float = 1.0
    returns_energy: bool = True
    standby_W: float = 0.0
    initial_surplus_fraction: float = 0.0
    voltages_of_cell: bool = False

    def started_at(self, voltage_V: float) -> "UltracapacitorSetup":
        """The same bank with another voltage at the start of the day.

        Args:
            voltage_V: Capacitor voltage [V], > 0.
        """
        start_soc = voltage_V / float(self.source.open_circuit_V(np.ones(1))[0])
        return replace(self, source=replace(self.source, start_soc=start_soc), start_voltage_V=voltage_V)


@dataclass(frozen=True, slots=True, eq=False)
class Drivetrain:
    """The sources that share the power.

    Args:
        battery: The battery.
        ultracapacitor: The ultracapacitor bank, or None for a battery alone.
    """

    battery: SourceSetup
    ultracapacitor: UltracapacitorSetup | None = None

    @property
    def start_voltage_V(self) -> float:
        """Capacitor voltage when the working day begins [V]; 0 without a bank."""
        return 0.0 if self.ultracapacitor is None else self.ultracapacitor.start_voltage_V

    def battery_alone(self) -> "Drivetrain":
        """The same battery without the ultracapacitor bank."""
        return replace(self, ultracapacitor=None)


@dataclass(frozen=True, slots=True, eq=False)
class YearlyDuty:
    """How often a traced day is worked, for how long and in what climate.

    Args:
        service_years: Service life [years], > 0.
        runs_per_year: How often a year holds the traced day [1/year], >= 0.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        starts_at_hour: Hour of the day at which the drive begins [0..24), or None where it is not known.
    """

    service_years: float
    runs_per_year: float
    ambient_K: FloatArray
    starts_at_hour: float | None = None

    def duty(
        self,
        source: Source,
        days: Sequence[WornDay],
        counting: CycleCounting = EVERY_CYCLE,
        beside: Sequence[DayBesideWornBank] = (),
    ) -> Duty:
        """The traced days of a source, worked for a year.

        Args:
            source: The source.
            days: Its traced days, the new one first.
            counting: How its cycles are weighed.
            beside: A battery's days beside a worn bank; empty where there are none.
        """

        def made(of: Sequence[WornDay], worn_bank: DutyBesideWornBank | None = None) -> Duty:
            return Duty(source, of, self.ambient_K, self.runs_per_year, counting, self.starts_at_hour, worn_bank)

        if not beside:
            return made(days)
        new = {day.months: made([replace(day, months=())]) for day in days if day.wear == "none"}
        own = {month for months in new for month in months}
        parts = []
        for one in beside:
            months = one.months or tuple(set(range(MONTHS_PER_YEAR)) - own)
            there = np.isin(np.arange(MONTHS_PER_YEAR), months)
            worn = made([WornDay(one.day, "none")])
            parts.append(PartBesideWornBank(new[one.months], worn, there, one.share))
        return made(days, DutyBesideWornBank(tuple(parts)))


@dataclass(frozen=True, slots=True, eq=False)
class Operation:
    """How the vehicle is operated, whatever the strategy.

    Args:
        service_years: Service life [years], > 0.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        drive_repeats: Passes of a demand or history on a working day, >= 1.
        runs_per_year: From the length of a traced day [s] to how often a year holds it [1/year].
        charger_efficiency: From the meter to the battery's terminals [0.01..1].
        starts_at_hour: Hour of the day at which the drive begins [0..24), or None where it is not known.
    """

    service_years: float
    ambient_K: FloatArray
    drive_repeats: int
    runs_per_year: Callable[[float], float]
    charger_efficiency: float
    starts_at_hour: float | None = None

    def yearly(self, day_length_s: float) -> YearlyDuty:
        """The yearly duty of a traced day.

        Args:
            day_length_s: Length of the day, or of a log that contains everything [s], > 0.
        """
        return YearlyDuty(self.service_years, self.runs_per_year(day_length_s), self.ambient_K, self.starts_at_hour)


@dataclass(frozen=True, slots=True, eq=False)
class StudySetup:
    """A study, set up to be assessed.

    Args:
        loaded: The study with everything it names.
        drivetrain: Battery and, where the study has one, ultracapacitor bank.
        operation: How the vehicle is operated.
        demands: The demands that strategies split, read once each.
    """

    loaded: LoadedStudy
    drivetrain: Drivetrain
    operation: Operation
    demands: Demands
