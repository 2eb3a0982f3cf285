"""Each strategy against the battery alone and the best possible split of the same demand."""

from dataclasses import dataclass

import numpy as np

from lifetime.assess.sharing import battery_rms_W
from lifetime.results.records import ReferenceSplit, StrategyResult
from lifetime.split.bank import Bank
from lifetime.split.best.achieved import achieved_share
from lifetime.split.best.taut_string import EnergyWindow, taut_string
from lifetime.split.share import Demand, SharedPass
from lifetime.stress.day import Day


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """A result and the day it came from.

    Args:
        result: The strategy, assessed.
        day: Its passes.
        traced: The days of battery and bank, traced when new.
    """

    result: StrategyResult
    day: list[SharedPass]
    traced: tuple[Day, Day | None]

    @property
    def peak_W(self) -> float:
        """Largest magnitude of the battery's power [W]."""
        return max(float(np.max(np.abs(one.battery_W), initial=0.0)) for one in self.day)


def best_day(demand: Demand, bank: Bank, ends_V: tuple[float, float], repeats: int) -> list[SharedPass]:
    """The day as the best possible split makes it, with a lossless bank.

    Args:
        demand: One pass.
        bank: The bank; only its energy window counts.
        ends_V: Capacitor voltage when the day begins and when it ends [V]; kept within the bank's window.
        repeats: Passes a day, >= 1.
    """
    length = np.tile(demand.length_s, repeats)
    power = np.tile(demand.power_W, repeats)
    low_J, high_J = bank.energy_J(bank.minimum_voltage_V), bank.energy_J(bank.maximum_voltage_V)
    start_J, end_J = (min(max(bank.energy_J(volts), low_J), high_J) for volts in ends_V)
    battery = taut_string(length, power, EnergyWindow(low_J, high_J, start_J, end_J))
    # An interval that takes no time moves no energy; the demand's own power there stays the battery's.
    battery = np.where(length > 0.0, battery, power)
    energy = np.clip(start_J - np.concatenate([[0.0], np.cumsum((power - battery) * length)]), low_J, high_J)
    voltage = np.sqrt(2.0 * energy / bank.capacitance_F)
    current = np.divide(-bank.capacitance_F * np.diff(voltage), length, out=np.zeros(length.size), where=length > 0.0)
    return [SharedPass(length, battery, power - battery, current, voltage)]


def gain_of(this: Shared, alone: Shared, best: Shared) -> ReferenceSplit:
    """Compare a strategy with the battery alone and the best possible split.

    Args:
        this: The strategy.
        alone: The battery alone, on the same demand.
        best: The best possible split, on the same demand with the same bank.
    """
    wear = [_wear(one.result) for one in (alone, this, best)]
    costs = [None if one.result.cost is None else one.result.cost.net_present_cost for one in (alone, this, best)]
    return ReferenceSplit(
        battery_rms_W=battery_rms_W(this.day),
        battery_peak_W=this.peak_W,
        alone_rms_W=battery_rms_W(alone.day),
        alone_peak_W=alone.peak_W,
        reference_rms_W=battery_rms_W(best.day),
        reference_peak_W=best.peak_W,
        alone_net_present_cost=costs[0],
        reference_life_years=best.result.battery.life_years,
        reference_net_present_cost=costs[2],
        reached_capacity_loss_fraction=_share(wear),
        reached_cost_saving_fraction=_share(costs),
    )


def _wear(result: StrategyResult) -> float | None:
    left = result.battery.capacity_fraction_at_service_end
    return None if left is None else 1.0 - left


def _share(figures: list[float | None]) -> float | None:
    alone, this, best = figures
    if alone is None or this is None or best is None:
        return None
    return achieved_share(alone, this, best)
