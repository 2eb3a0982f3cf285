"""The traced days of one strategy: from a shared demand, or from histories that are already split."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.notices import Notice
from lifetime.projection.duty import Wear, WornDay
from lifetime.split.bank import Bank
from lifetime.split.rule import SplitRule
from lifetime.split.share import Demand, SharedPass, bank_runs, battery_runs, share_day
from lifetime.stress.day import Charging, Day, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import Intervals, intervals
from lifetime.stress.source import Source

NO_CHARGING = Charging(None, 0.0)


@dataclass(frozen=True, slots=True)
class WornHealth:
    """Health at which a power-driven day is traced a second time: the limits that end the source's life.

    Args:
        capacity_fraction: Capacity limit.
        resistance_ratio: Resistance limit, or None where the law predicts no resistance.
        coupled: True where both wear together (ultracapacitor): one trace at both limits.
    """

    capacity_fraction: float
    resistance_ratio: float | None
    coupled: bool = False

    def points(self) -> list[tuple[Wear, float, float]]:
        """The healths to trace, besides new."""
        if self.coupled:
            return [("both", self.capacity_fraction, self.resistance_ratio or 1.0)]
        points: list[tuple[Wear, float, float]] = [("capacity", self.capacity_fraction, 1.0)]
        if self.resistance_ratio is not None:
            points.append(("resistance", 1.0, self.resistance_ratio))
        return points


@dataclass(frozen=True, slots=True)
class TracedDays:
    """The days of one source.

    Args:
        days: New first, then worn.
        notices: What happened on the way.
        power_driven: True where the source must deliver a power, so that a new source may fail to.
    """

    days: tuple[WornDay, ...]
    notices: tuple[Notice, ...]
    power_driven: bool


def days_from_history(
    history: History, repeats: int, source: Source, charging: Charging, worn: WornHealth
) -> TracedDays:
    """Trace a measured or simulated history of one source."""
    power_driven = history.driven_by == "power"
    from_voltage = history.has_voltage and not source.is_battery

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        tracer = DriveTracer(
            source,
            power_driven=power_driven,
            capacity_fraction=capacity_fraction,
            resistance_ratio=resistance_ratio,
            charge_from_voltage=from_voltage,
        )
        drive = trace_drive(tracer, intervals(history, repeats))
        return build_day(drive, source, charging, ambient_at_test_K=history.ambient_K)

    return _traced(day, source, worn, power_driven=power_driven and not history.has_voltage)


def battery_days_from_demand(
    shared: list[SharedPass], source: Source, charging: Charging, worn: WornHealth
) -> TracedDays:
    """Trace the battery's part of a shared demand."""

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        tracer = DriveTracer(
            source, power_driven=True, capacity_fraction=capacity_fraction, resistance_ratio=resistance_ratio
        )
        return build_day(trace_drive(tracer, battery_runs(shared)), source, charging)

    return _traced(day, source, worn, power_driven=True)


def bank_days_from_demand(
    demand: Demand,
    rule: SplitRule,
    bank: Bank,
    shared: list[SharedPass],
    source: Source,
    start_voltage_V: float,
    worn: WornHealth,
) -> TracedDays:
    """Trace the bank's part; a worn bank is shared anew, because less fits between its voltage bounds."""

    def runs(capacity_fraction: float, resistance_ratio: float) -> Iterable[Intervals]:
        if capacity_fraction == 1.0:
            return bank_runs(shared)
        worn_bank = bank.worn(capacity_fraction, resistance_ratio)
        return bank_runs(share_day(demand, rule, worn_bank, start_voltage_V, len(shared)))

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        tracer = DriveTracer(
            source, power_driven=False, capacity_fraction=capacity_fraction, resistance_ratio=resistance_ratio
        )
        return build_day(trace_drive(tracer, runs(capacity_fraction, resistance_ratio)), source, NO_CHARGING)

    return _traced(day, source, worn, power_driven=True)


def _traced(day: Callable[[float, float], Day], source: Source, worn: WornHealth, *, power_driven: bool) -> TracedDays:
    new = WornDay(day(1.0, 1.0), "none")
    if not power_driven or new.day.drive.shortage > 0.0:
        return TracedDays((new,), (), power_driven)
    days, notices = [new], []
    for wear, capacity_fraction, resistance_ratio in worn.points():
        try:
            days.append(WornDay(day(capacity_fraction, resistance_ratio), wear, capacity_fraction, resistance_ratio))
        except AssessmentError as error:
            notices.append(
                Notice(
                    "worn_trace_failed",
                    f"The day could not be traced for a worn {source.kind} ({error}) Its currents are those of the "
                    "new one all its life.",
                )
            )
    return TracedDays(tuple(days), tuple(notices), power_driven)
