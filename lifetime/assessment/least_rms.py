"""The split of a demand that leaves the battery the least rms power, with a lossless bank of the same window.

Losses may be charged to it afterwards, so that its cost stands beside that of strategies that pay them.
"""

from dataclasses import replace

import numpy as np

from lifetime.split.bank import Bank, BankPath
from lifetime.split.best.taut_string import EnergyWindow, taut_string
from lifetime.split.converters import Converters
from lifetime.split.share import Demand, SharedPass


def least_rms_day(demand: Demand, bank: Bank, ends_V: tuple[float, float], repeats: int) -> list[SharedPass]:
    """The day under the least-rms split, in one pass.

    Args:
        demand: One pass of the demand.
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


def with_its_losses(lossless: list[SharedPass], demand: Demand, bank: Bank, converters: Converters) -> SharedPass:
    """The same day with what bank, converters and windings lose; the bank keeps its path, and the battery pays.

    Args:
        lossless: The day in one pass, by ``least_rms_day`` of the demand where the two sources meet.
        demand: One pass of the demand, at the machine.
        bank: The bank, whose resistance counts.
        converters: What stands between the sources and the machine.
    """
    (day,) = lossless
    repeats = day.length_s.size // demand.length_s.size
    whole = replace(demand, length_s=day.length_s, power_W=np.tile(demand.power_W, repeats))
    terminals_W = day.bank_W - bank.resistance_ohm * day.bank_A**2
    return converters.shared(whole, BankPath(day.bank_A, terminals_W, day.bank_V))
