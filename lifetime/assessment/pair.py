"""The pair ages together: a demand split anew for the worn bank, and the battery's day that follows."""

from dataclasses import dataclass, replace
from typing import Final

from lifetime.assessment.feasibility import feasibility
from lifetime.assessment.limited_months import limited_months
from lifetime.assessment.notices.traces import not_traced_beside_worn_bank
from lifetime.assessment.power_split import PowerSplit, battery_rms_W
from lifetime.assessment.served_day import BatteryState, served_day
from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.traced_states import STATED_K, typical_limits, typical_ratio
from lifetime.assessment.traces import DayTraces, DrivetrainTraces
from lifetime.assessment.worn_bank import BankWear, DayBesideWornBank, bank_wear
from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.projection.recurring import Recurring
from lifetime.results.records import SourceResult
from lifetime.split.bank import Bank
from lifetime.split.share import MeasuredTemperature, SharedPass
from lifetime.stress.day import build_day

_SAME_LOAD: Final = 2e-4
"""Relative change of the battery's rms power up to which a day beside a worn bank is not traced: 0.02 %; the energy
bought moves by about twice that."""
_STRAIGHT: Final = 3e-3
"""Bend of the battery's rms power over the bank's wear up to which two traces serve: 0.3 %."""
_HALF_WAY: Final = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """A drivetrain whose demand is split anew as its bank wears."""

    drivetrain: Drivetrain
    bank: Bank
    split: PowerSplit
    temperature: MeasuredTemperature | None
    ambient_K: FloatArray

    def passes(self, wear: BankWear, at: float) -> tuple[Bank, list[SharedPass]]:
        """The worn bank after a share of its way, and the day split for it."""
        state = wear.state(at)
        worn = self.bank.worn(state.capacitance_fraction, state.esr_ratio)
        return worn, self.split(worn)

    def days(self, new: list[SharedPass], battery: DayTraces, wear: BankWear) -> tuple[DayBesideWornBank, ...]:
        """The days that differ from those beside the new bank; none where they differ too little.

        Args:
            new: The day as split for a new bank.
            battery: Its traces beside that bank.
            wear: How the bank wears.
        """
        rms_W = battery_rms_W(new)
        end = self.passes(wear, 1.0)
        end_W = battery_rms_W(end[1])
        # Braking that a battery may not take is asked of the bank besides: there the rule's split tells too little.
        within_limits = not battery.in_months and (battery.feasible is None or battery.feasible.friction_kWh == 0.0)
        if within_limits and abs(end_W - rms_W) <= _SAME_LOAD * rms_W:
            return ()
        half = self.passes(wear, _HALF_WAY)
        # What the window leaves to the battery may come late in the bank's life; half-way tells.
        is_straight = abs(battery_rms_W(half[1]) - 0.5 * (rms_W + end_W)) <= _STRAIGHT * rms_W
        traced = {1.0: end} if is_straight else {_HALF_WAY: half, 1.0: end}
        shares = wear.shares(tuple(traced))
        return tuple(
            self._day(*one, share, months, state)
            for months, state in self._states(battery)
            for one, share in zip(traced.values(), shares, strict=True)
        )

    def _states(self, battery: DayTraces) -> list[tuple[tuple[int, ...], BatteryState]]:
        """The new battery on its typical day, and in the months that have a day of their own."""
        setup, own = self.drivetrain.battery, {one.months for one in battery.in_months}
        typical = BatteryState(1.0, typical_ratio(setup, self.ambient_K), typical_limits(setup, self.ambient_K))
        limited = [
            (some.months, BatteryState(1.0, typical_ratio(setup, some.ambient_K), some.limits))
            for some in (limited_months(setup, self.ambient_K) if own else ())
            if some.months in own
        ]
        return [((), typical), *limited]

    def _day(
        self, bank: Bank, passes: list[SharedPass], share: Recurring, months: tuple[int, ...], state: BatteryState
    ) -> DayBesideWornBank:
        battery = self.drivetrain.battery
        # As finely as the new day, because it counts by the difference from it.
        served = served_day(battery, self.split, bank, passes, self.temperature, state)
        if served.drive.shortage > 0.0:
            raise AssessmentError("No current of the battery delivers the power that is left to it.")
        at_test_K = None if self.temperature is None else self.temperature.ambient_K
        told = None
        if state.limits is not None:
            told = feasibility(battery, served.drive, served.passes, "beginning_of_life", 1.0)
        return DayBesideWornBank(
            build_day(served.drive, battery.source, battery.charging, ambient_at_test_K=at_test_K),
            share,
            told,
            sum(one.lost_J for one in served.passes),
            months,
        )


def beside_worn_bank(
    drivetrain: Drivetrain,
    split: PowerSplit,
    passes: list[SharedPass],
    traces: DrivetrainTraces,
    bank: SourceResult,
    temperature: MeasuredTemperature | None = None,
    ambient_K: FloatArray = STATED_K,
) -> DrivetrainTraces:
    """The traces with the battery's days beside the bank as it wears.

    The demand is split anew for the bank where it is replaced, and half-way there where the battery's rms power does
    not run straight between; nothing is traced where that power hardly changes, nor where a new battery fails already.

    Args:
        drivetrain: The sources.
        split: Splits the demand for a bank of any health.
        passes: The day as split for a new bank.
        traces: Of both sources, the battery's beside a new bank.
        bank: What became of the bank.
        temperature: Of the battery, measured over one pass of the demand, or None.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    battery, wear = traces.battery, bank_wear(bank)
    if drivetrain.ultracapacitor is None or wear is None or not battery.serves_power or battery.new.drive.shortage > 0:
        return traces
    pair = _Pair(drivetrain, drivetrain.ultracapacitor.bank, split, temperature, ambient_K)
    try:
        battery = replace(battery, beside=pair.days(passes, battery, wear))
    except AssessmentError as error:
        battery = replace(battery, notices=(*battery.notices, not_traced_beside_worn_bank(str(error))))
    return replace(traces, battery=battery)
