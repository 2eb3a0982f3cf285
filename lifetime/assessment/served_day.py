"""A day's demand within the battery's limits: what the battery does not serve is asked of the bank, the rest told."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lifetime.assessment.power_split import PowerSplit, RuleSplit
from lifetime.assessment.setups import SourceSetup
from lifetime.checks import FloatArray
from lifetime.split.bank import Bank
from lifetime.split.share import MeasuredTemperature, SharedPass, battery_runs
from lifetime.stress.current_limits import LoadLimits
from lifetime.stress.drive import Drive, DriveTracer, trace_drive


@dataclass(frozen=True, slots=True)
class BatteryState:
    """A state of the battery in which a day is driven.

    Args:
        capacity_fraction: Capacity over initial [1], > 0.
        resistance_ratio: Resistance over the stated one, by health and temperature [1], > 0.
        limits: What it keeps to; None to serve the power whatever it takes.
        fine: False where its currents are only blended with others, or only judged.
        judged: True where the day is only judged: what it serves and how empty it leaves the battery, no ageing.
    """

    capacity_fraction: float
    resistance_ratio: float
    limits: LoadLimits | None
    fine: bool = True
    judged: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class ServedDay:
    """A day as it was split and served.

    Args:
        asked: Its passes with what is asked of the battery.
        passes: Its passes with what the battery serves.
        drive: The battery's drive.
    """

    asked: list[SharedPass]
    passes: list[SharedPass]
    drive: Drive

    @property
    def misses(self) -> bool:
        """Whether anything that is asked of it is left out."""
        return any(energy_J > 0.0 for energy_J in self.missed_J)

    @property
    def missed_J(self) -> tuple[float, float]:
        """Energy of the traction not served and of the regeneration not taken [J]: what makes a day worse."""
        return self.drive.unserved.energy_J, self.drive.refused.energy_J


def served_day(
    setup: SourceSetup,
    split: PowerSplit,
    bank: Bank | None,
    asked: list[SharedPass],
    temperature: MeasuredTemperature | None,
    state: BatteryState,
) -> ServedDay:
    """Drive a day within the battery's limits.

    The bank goes by the rule first; then the battery; what the battery does not serve is asked of the bank besides.
    What is left of braking goes to the friction brakes, what is left of traction is not served.

    Args:
        setup: The battery.
        split: Splits the demand.
        bank: The bank it is split with; None for a battery alone.
        asked: The day as the rule splits it.
        temperature: Of the battery, measured over one pass of the demand, or None.
        state: The battery's state.
    """
    first, missed_W = _driven(setup, asked, temperature, state)
    if bank is None or not isinstance(split, RuleSplit) or not missed_W.any():
        return first
    again, _ = _driven(setup, split(bank, _by_pass(missed_W, asked)), temperature, state)
    return min(first, again, key=lambda day: day.missed_J)


def battery_drive(
    setup: SourceSetup, asked: list[SharedPass], temperature: MeasuredTemperature | None, state: BatteryState
) -> Drive:
    """The battery's drive through a day that was split.

    Args:
        setup: The battery.
        asked: The day's passes.
        temperature: Of the battery, measured over one pass of the demand, or None.
        state: The battery's state.
    """
    return _driven(setup, asked, temperature, state)[0].drive


def _driven(
    setup: SourceSetup, asked: list[SharedPass], temperature: MeasuredTemperature | None, state: BatteryState
) -> tuple[ServedDay, FloatArray]:
    tracer = DriveTracer(
        setup.source,
        power_driven=True,
        capacity_fraction=state.capacity_fraction,
        resistance_ratio=state.resistance_ratio,
        limits=state.limits,
        fine=state.fine,
        ages=not state.judged,
        counting=setup.counting,
    )
    drive = trace_drive(tracer, battery_runs(asked, temperature))
    missed_W = tracer.follower.missed_W
    if not missed_W.any():
        return ServedDay(asked, asked, drive), missed_W
    parts = _by_pass(missed_W, asked)
    passes = [
        replace(one, battery_W=one.battery_W - missed, missed_W=missed)
        for one, missed in zip(asked, parts, strict=True)
    ]
    return ServedDay(asked, passes, drive), missed_W


def _by_pass(values: FloatArray, passes: Sequence[SharedPass]) -> list[FloatArray]:
    return np.split(values, np.cumsum([one.length_s.size for one in passes])[:-1])
