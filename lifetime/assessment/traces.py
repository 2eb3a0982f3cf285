"""The traced day of each source: at the beginning of life, and again at end of life where the currents depend on it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lifetime.assessment.energy_balance import energy_balance
from lifetime.assessment.feasibility import feasibility
from lifetime.assessment.limited_months import limited_months
from lifetime.assessment.months_day import MonthsDay
from lifetime.assessment.notices.balance import closed_at_charger
from lifetime.assessment.notices.traces import trace_failed
from lifetime.assessment.power_split import PowerSplit, battery_pulse_W
from lifetime.assessment.served_day import BatteryState, ServedDay, battery_drive, served_day
from lifetime.assessment.setups import Drivetrain, SourceSetup, UltracapacitorSetup
from lifetime.assessment.traced_states import STATED_K, traced_states, typical_limits, typical_ratio
from lifetime.assessment.worn_bank import DayBesideWornBank
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR
from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.notices import Notice
from lifetime.projection.duty import WornDay
from lifetime.results.feasibility import Feasibility
from lifetime.split.bank import Bank
from lifetime.split.share import MeasuredTemperature, SharedPass, bank_runs
from lifetime.stress.current_limits import LoadLimits
from lifetime.stress.current_watch import CurrentWatch
from lifetime.stress.day import Day, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.power_peak import PowerPeak

_OPEN_BALANCE: Final = 0.01
"""Net charge a bank's history may leave open per day, relative to capacity, before it is taken as drift."""
_DRIFT: Final = 0.2
"""Net charge relative to the charge moved up to which it is drift, as losses accounted for twice or not at all would
cause; beyond that the history discharges or charges the bank. Common practice, no source."""
_CLOSING_ROUNDS: Final = 20
_CLOSED: Final = 1e-6
"""Net charge relative to capacity at which a balance counts as closed."""

_REST_C_RATE = 0.01
"""A log's current up to which the source rests: an ammeter's noise and offset, and what a control unit draws."""
_DayAtHealth = Callable[[float, float], Day]
"""Traces a source's day at a capacity fraction and a resistance ratio."""


@dataclass(frozen=True, slots=True, eq=False)
class DayTraces:
    """One source's working day, traced at one or more states of health.

    Args:
        new: Traced at the beginning of life.
        worn: Traced at limits of its health; empty where the charge does not depend on health.
        notices: What happened on the way.
        power_driven: True where the source must deliver a power, so that even a new one may not meet the requirement.
        within_bounds: True for a bank behind a split, which keeps it within its bounds at any health.
        balanced: The same bank with its history's balance closed by a constant current; None where it is closed.
        feasible: What a new battery serves of its part of a demand, within its limits; None for a history.
        in_months: Its day in months with other limits, which are among ``worn`` at every state of health.
        beside: A battery's day beside a worn bank, in place of ``new`` as the bank wears; empty where none is.
    """

    new: Day
    worn: tuple[WornDay, ...] = ()
    notices: tuple[Notice, ...] = ()
    power_driven: bool = False
    within_bounds: bool = False
    balanced: "DayTraces | None" = None
    feasible: Feasibility | None = None
    in_months: tuple[MonthsDay, ...] = ()
    beside: tuple[DayBesideWornBank, ...] = ()

    @property
    def serves_power(self) -> bool:
        """Whether a new source serves all power that is asked of it, as far as that is known."""
        return self.feasible is None or self.feasible.serves_power

    def in_service(self, service_years: float) -> tuple[tuple[float, Day, Feasibility | None], ...]:
        """Share of the service, day and what is served: typical day and months with other limits, by the bank's wear.

        Shares sum to 1.

        Args:
            service_years: Service life [years], > 0.
        """
        rest = 1.0 - sum(one.share for one in self.in_months)
        own = ((one.months, one.share, one.day, one.feasible) for one in self.in_months)
        parts: list[tuple[float, Day, Feasibility | None]] = []
        for months, share, day, feasible in (((), rest, self.new, self.feasible), *own):
            beside = [one for one in self.beside if one.months == months]
            worn = [(share * one.share.mean(service_years), one.day, one.feasible) for one in beside]
            parts += [(share - sum(part for part, *_ in worn), day, feasible), *worn]
        return tuple(parts)

    def with_months(self, months: tuple[int, ...], traces: "DayTraces") -> "DayTraces":
        """The same traces, with others in some months.

        Args:
            months: The months, counted from 0.
            traces: Of these months.
        """
        there = tuple(replace(day, months=months) for day in traces.days)
        known = {notice.code for notice in self.notices}
        return replace(
            self,
            worn=(*self.worn, *there),
            notices=(*self.notices, *(one for one in traces.notices if one.code not in known)),
            in_months=(*self.in_months, MonthsDay(months, traces.new, traces.feasible)),
        )

    @property
    def days(self) -> tuple[WornDay, ...]:
        """All traces, that at the beginning of life first."""
        return (WornDay(self.new, "none", resistance_ratio=self.new.drive.resistance_ratio), *self.worn)

    def without_small_cycles(self, range_As: float) -> "DayTraces":
        """The same traces without the cycles that move no more than a charge.

        Args:
            range_As: Largest charge between a cycle's ends that is left out [As], >= 0.
        """
        new, *worn = (day.without_small_cycles(range_As) for day in self.days)
        beside = tuple(day.without_small_cycles(range_As) for day in self.beside)
        return replace(self, new=new.day, worn=tuple(worn), beside=beside)


@dataclass(frozen=True, slots=True, eq=False)
class DrivetrainTraces:
    """The traced days of a drivetrain's sources.

    Args:
        battery: Of the battery.
        ultracapacitor: Of the ultracapacitor bank; None for a battery alone.
        passes: The day of a demand as it was served; empty for histories.
    """

    battery: DayTraces
    ultracapacitor: DayTraces | None = None
    passes: tuple[SharedPass, ...] = ()


def history_traces(setup: SourceSetup, history: History, repeats: int, ambient_K: FloatArray = STATED_K) -> DayTraces:
    """Trace a measured or simulated history of one source.

    Args:
        setup: The source.
        history: Its current or power.
        repeats: Passes of the history on a working day, >= 1.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).

    Raises:
        AssessmentError: The day does not fit into 24 h.
    """
    power_driven = history.driven_by == "power" and not history.has_voltage
    watched = _history_day(setup, history, repeats, limits=typical_limits(setup, ambient_K))
    traces = _traces(watched, setup, ambient_K, power_driven=power_driven)
    drive = traces.new.drive
    is_open = abs(drive.drawn_As) > _OPEN_BALANCE * setup.source.capacity_As
    if not isinstance(setup, UltracapacitorSetup) or history.has_voltage or not is_open:
        return traces
    if not setup.balance_at_charger and abs(drive.drawn_As) > _DRIFT * drive.throughput_As:
        return traces
    steady, new = _closing_load(setup, history, repeats, traces.new)
    again = _history_day(setup, history, repeats, steady)
    balanced = _traces(again, setup, ambient_K, power_driven=power_driven, new=new)
    if not setup.balance_at_charger:
        return replace(traces, balanced=balanced)
    said = closed_at_charger(energy_balance(drive, setup.source))
    return replace(balanced, notices=(*balanced.notices, said))


def _history_day(
    setup: SourceSetup, history: History, repeats: int, steady: float = 0.0, limits: LoadLimits | None = None
) -> _DayAtHealth:
    """How a history's day is traced, less a steady current [A] or power [W] that a charger gives meanwhile."""
    source = setup.source

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        tracer = DriveTracer(
            source,
            power_driven=history.driven_by == "power",
            capacity_fraction=capacity_fraction,
            resistance_ratio=resistance_ratio,
            charge_from_voltage=history.has_voltage and not source.is_battery,
            rest_below_A=_REST_C_RATE * source.capacity_As / SECONDS_PER_HOUR if setup.charging.whole_log else None,
            counting=setup.counting,
        )
        runs = intervals(history, repeats)
        if steady:
            runs = (replace(run, left=run.left - steady, right=run.right - steady) for run in runs)
        watch = None
        if limits is not None and (history.driven_by == "current" or history.has_voltage):
            watch = CurrentWatch(limits, by_power=history.driven_by == "power")
            runs = watch.over(runs, source)
        peak = None if setup.power_corner is None else PowerPeak(setup.power_corner.duration_s)
        if peak is not None:
            runs = peak.over(runs, source, by_power=history.driven_by == "power")
        drive = trace_drive(tracer, runs)
        made = build_day(drive, source, setup.charging, ambient_at_test_K=history.ambient_K)
        made = made if watch is None else replace(made, excesses=watch.excesses)
        return made if peak is None else replace(made, pulse_W=peak.largest_W)

    return day


def _closing_load(setup: SourceSetup, history: History, repeats: int, new: Day) -> tuple[float, Day]:
    """Steady current [A] or power [W] that brings a new source back to its start, and the day with it."""
    steady = 0.0
    for _ in range(_CLOSING_ROUNDS):
        drive = new.drive
        if abs(drive.drawn_As) <= _CLOSED * setup.source.capacity_As:
            break
        steady += (
            energy_balance(drive, setup.source).stored_W
            if history.driven_by == "power"
            else drive.drawn_As / drive.duration_s
        )
        new = _history_day(setup, history, repeats, steady)(1.0, 1.0)
    return steady, new


def measured_start_V(history: History, resistance_ohm: float) -> float | None:
    """Capacitor voltage at the first sample of a bank's history [V]; None where it has no voltage.

    Args:
        history: Current or power of the bank, with its terminal voltage.
        resistance_ohm: Of the bank [Ω], >= 0.
    """
    first = next(history.blocks())
    if first.voltage_V is None or first.voltage_V[0] <= 0.0:
        return None
    terminal_V = float(first.voltage_V[0])
    if first.current_A is not None:
        return terminal_V + resistance_ohm * float(first.current_A[0])
    assert first.power_W is not None  # noqa: S101 - a source's history has a current or a power
    return terminal_V + resistance_ohm * float(first.power_W[0]) / terminal_V


def demand_traces(
    drivetrain: Drivetrain,
    split: PowerSplit,
    passes: list[SharedPass],
    temperature: MeasuredTemperature | None = None,
    ambient_K: FloatArray = STATED_K,
) -> DrivetrainTraces:
    """Trace both parts of a demand that was split.

    Args:
        drivetrain: The sources.
        split: Splits the demand for a bank of any health.
        passes: The day as split for a new bank.
        temperature: Of the battery, measured over one pass of the demand, or None.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).

    Raises:
        AssessmentError: The day does not fit into 24 h.
    """
    bank = drivetrain.ultracapacitor
    new = BatteryState(1.0, typical_ratio(drivetrain.battery, ambient_K), typical_limits(drivetrain.battery, ambient_K))
    served = served_day(drivetrain.battery, split, None if bank is None else bank.bank, passes, temperature, new)
    battery = _battery_traces(drivetrain.battery, served, temperature, ambient_K, new.limits)
    ultracapacitor = None if bank is None else _ultracapacitor_traces(bank, split, served.passes)
    for some in limited_months(drivetrain.battery, ambient_K) if battery.serves_power else ():
        state = BatteryState(1.0, typical_ratio(drivetrain.battery, some.ambient_K), some.limits)
        there = served_day(drivetrain.battery, split, None if bank is None else bank.bank, passes, temperature, state)
        if not served.misses and not there.misses:
            continue  # neither limit is reached, so the day is the same
        there_battery = _battery_traces(drivetrain.battery, there, temperature, some.ambient_K, some.limits)
        battery = battery.with_months(some.months, there_battery)
        if bank is not None and ultracapacitor is not None and not _same_for_bank(served, there):
            there_bank = _ultracapacitor_traces(bank, split, there.passes)
            ultracapacitor = ultracapacitor.with_months(some.months, there_bank)
    return DrivetrainTraces(battery, ultracapacitor, tuple(served.passes))


def _same_for_bank(one: ServedDay, other: ServedDay) -> bool:
    pairs = zip(one.passes, other.passes, strict=True)
    return all(np.array_equal(first.bank_A, second.bank_A) for first, second in pairs)


def _battery_traces(
    setup: SourceSetup,
    served: ServedDay,
    temperature: MeasuredTemperature | None,
    ambient_K: FloatArray,
    limits: LoadLimits | None,
) -> DayTraces:
    """Trace the battery's part; at another state it is asked for the same power and serves what it can."""
    at_test_K = None if temperature is None else temperature.ambient_K

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        state = BatteryState(capacity_fraction, resistance_ratio, limits, fine=False)
        drive = battery_drive(setup, served.asked, temperature, state)
        return build_day(drive, setup.source, setup.charging, ambient_at_test_K=at_test_K)

    new = build_day(served.drive, setup.source, setup.charging, ambient_at_test_K=at_test_K)
    if setup.power_corner is not None:
        new = replace(new, pulse_W=battery_pulse_W(served.passes, setup.power_corner.duration_s))
    if limits is None:
        return _traces(day, setup, ambient_K, power_driven=True, new=new)
    feasible = feasibility(setup, served.drive, served.passes, "beginning_of_life", 1.0)
    if not feasible.serves_power:
        # There is no life to find, so nothing is asked of a worn one.
        return DayTraces(new, power_driven=True, feasible=feasible)
    return replace(_traces(day, setup, ambient_K, power_driven=True, new=new), feasible=feasible)


def _ultracapacitor_traces(setup: UltracapacitorSetup, split: PowerSplit, passes: list[SharedPass]) -> DayTraces:
    """Trace the bank's part; at end of life the demand is split anew, because less energy fits into the window."""
    bank: Bank = setup.bank
    worn_passes = split(bank.worn(setup.limits.capacity_fraction, setup.limits.resistance_ratio))

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        tracer = DriveTracer(
            setup.source, power_driven=False, capacity_fraction=capacity_fraction, resistance_ratio=resistance_ratio
        )
        runs = bank_runs(passes if capacity_fraction == 1.0 else worn_passes)
        return build_day(trace_drive(tracer, runs), setup.source, setup.charging)

    return replace(_traces(day, setup, STATED_K, power_driven=True), within_bounds=True)


def _traces(
    day: _DayAtHealth, setup: SourceSetup, ambient_K: FloatArray, *, power_driven: bool, new: Day | None = None
) -> DayTraces:
    new = day(1.0, typical_ratio(setup, ambient_K)) if new is None else new
    if not power_driven or new.drive.shortage > 0.0:
        return DayTraces(new, power_driven=power_driven)
    worn: list[WornDay] = []
    notices: list[Notice] = []
    for wear, capacity_fraction, resistance_ratio in traced_states(setup, new, ambient_K):
        try:
            worn_day = day(capacity_fraction, resistance_ratio)
        except AssessmentError as error:
            # One of the states says it for the others.
            notices = notices or [trace_failed(setup.kind, error)]
        else:
            worn.append(WornDay(worn_day, wear, capacity_fraction, resistance_ratio))
    return DayTraces(new, tuple(worn), tuple(notices), power_driven)
