"""Whether a demand can be served: at the beginning of life, at its end and in the coldest month, and by how much."""

from typing import Final

import numpy as np

from lifetime.assessment.power_split import PowerSplit
from lifetime.assessment.served_day import BatteryState, ServedDay, served_day
from lifetime.assessment.setups import Drivetrain, SourceSetup
from lifetime.assessment.traced_states import typical_limits, typical_ratio
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH
from lifetime.packs.climate import monthly_means_K
from lifetime.results.feasibility import Condition, Feasibility
from lifetime.split.bank import Bank
from lifetime.split.share import MeasuredTemperature, SharedPass
from lifetime.stress.drive import Drive

_POINTS: Final = 513


def feasibility(
    setup: SourceSetup, drive: Drive, passes: list[SharedPass], condition: Condition, capacity_fraction: float
) -> Feasibility:
    """What a battery's drive tells.

    Args:
        setup: The battery.
        drive: Its drive.
        passes: The day as it was served.
        condition: In which condition.
        capacity_fraction: Capacity over initial [1], > 0.
    """
    source = setup.source
    capacity_As = source.capacity_As * capacity_fraction
    demand = [one.battery_W + one.bank_W + (0.0 if one.missed_W is None else one.missed_W) for one in passes]
    pairs = zip(demand, passes, strict=True)
    traction_J = sum(float(np.sum(np.maximum(power, 0.0) * one.length_s)) for power, one in pairs)
    window_As = max(source.start_soc - source.minimum_soc, 0.0) * capacity_As
    return Feasibility(
        condition,
        drive.unserved.energy_J / JOULES_PER_KWH,
        drive.unserved.duration_s,
        drive.unserved.largest_W,
        drive.unserved.largest_at_s,
        drive.refused.energy_J / JOULES_PER_KWH,
        _energy_J(setup, drive.highest_As, capacity_As) / JOULES_PER_KWH,
        _energy_J(setup, window_As, capacity_As) / JOULES_PER_KWH,
        traction_J / JOULES_PER_KWH,
    )


def later_conditions(
    drivetrain: Drivetrain,
    split: PowerSplit,
    ambient_K: FloatArray,
    temperature: MeasuredTemperature | None,
) -> list[Feasibility]:
    """The same at the end of life and in the coldest month, split anew for each.

    Args:
        drivetrain: The sources.
        split: Splits the demand.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        temperature: Of the battery, measured over one pass of the demand, or None.
    """
    battery, bank = drivetrain.battery, drivetrain.ultracapacitor
    limits, worn_limits = battery.limits, None if bank is None else bank.limits
    worn = None
    if bank is not None and worn_limits is not None:
        worn = bank.bank.worn(worn_limits.capacity_fraction, worn_limits.resistance_ratio)
    coldest_K = float(battery.source.around_K(monthly_means_K(ambient_K)).min())
    cold_ratio = float(battery.source.shape.at_temperature(np.array(coldest_K)))
    states: tuple[tuple[Condition, Bank | None, float, float, float | None], ...] = (
        (
            "end_of_life",
            worn,
            limits.capacity_fraction,
            battery.grown_resistance * typical_ratio(battery, ambient_K),
            None,
        ),
        ("coldest_month", None if bank is None else bank.bank, 1.0, cold_ratio, coldest_K),
    )
    told = []
    for condition, present, capacity_fraction, ratio, at_K in states:
        load = typical_limits(battery, ambient_K) if at_K is None or battery.load is None else battery.load.at(at_K)
        state = BatteryState(capacity_fraction, ratio, load, fine=False, judged=True)
        day: ServedDay = served_day(battery, split, present, split(present), temperature, state)
        told.append(feasibility(battery, day.drive, day.passes, condition, capacity_fraction))
    return told


def _energy_J(setup: SourceSetup, drawn_As: float, capacity_As: float) -> float:
    """Energy at the open-circuit voltage of a charge drawn from the day's start [J]."""
    charge = np.linspace(0.0, drawn_As, _POINTS)
    return float(np.trapezoid(setup.source.open_circuit_V(setup.source.start_soc - charge / capacity_As), charge))
