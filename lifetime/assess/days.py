"""The traced days of one strategy: from a shared demand, or from histories that are already split."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from lifetime.assess.sharing import Sharing, battery_rms_W
from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.notices import Notice
from lifetime.projection.duty import Wear, WornDay
from lifetime.split.bank import Bank
from lifetime.split.share import SharedPass, bank_runs, battery_runs
from lifetime.stress.day import Charging, Day, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source

NO_CHARGING = Charging(None, 0.0)
_WORTH_SAYING = 0.01
"""Relative rise of the battery's rms power through a worn bank below which nothing is said."""


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
    share: Sharing, bank: Bank, shared: list[SharedPass], source: Source, charging: Charging, worn: WornHealth
) -> TracedDays:
    """Trace the bank's part; a worn bank is shared anew, because less fits between its voltage bounds."""
    worn_shared = share(bank.worn(worn.capacity_fraction, worn.resistance_ratio or 1.0))

    def day(capacity_fraction: float, resistance_ratio: float) -> Day:
        tracer = DriveTracer(
            source, power_driven=False, capacity_fraction=capacity_fraction, resistance_ratio=resistance_ratio
        )
        runs = bank_runs(shared if capacity_fraction == 1.0 else worn_shared)
        return build_day(trace_drive(tracer, runs), source, charging)

    traced = _traced(day, source, worn, power_driven=True)
    return replace(traced, notices=(*traced.notices, *_worn_bank_notices(shared, worn_shared)))


def _worn_bank_notices(shared: list[SharedPass], worn_shared: list[SharedPass]) -> list[Notice]:
    """How much more the battery is loaded when the bank is worn; its own life is judged with the bank as new."""
    new, worn = (battery_rms_W(one) for one in (shared, worn_shared))
    if worn <= new * (1.0 + _WORTH_SAYING):
        return []
    return [
        Notice(
            "battery_load_with_worn_bank",
            f"When the bank is at its end of life, the battery's rms power is {100 * (worn / new - 1.0):.1f} % higher "
            "than with the bank as new; the battery's life is judged with the bank as new.",
        )
    ]


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
