"""A day's demand split between battery and ultracapacitor bank, and what the split leaves to the battery."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from lifetime.assessment.setups import StudySetup
from lifetime.checks import FloatArray
from lifetime.split.bank import Bank
from lifetime.split.day import share_day
from lifetime.split.rule import BatteryCircuit, Rule
from lifetime.split.share import Demand, SharedPass
from lifetime.stress.power_peak import PowerPeak

PowerSplit = Callable[[Bank | None], list[SharedPass]]
"""Splits a day's demand between the battery and a bank of any health; None for a battery alone."""


@dataclass(frozen=True, slots=True, eq=False)
class RuleSplit:
    """A demand split by a rule, which may be asked to relieve the battery besides.

    Args:
        rule: The rule, with the user's function that it needs.
        demand: One pass of the demand.
        start_V: Capacitor voltage when the day begins [V].
        repeats: Passes a day, >= 1.
        circuit: The battery's circuit.
    """

    rule: Rule
    demand: Demand
    start_V: float
    repeats: int
    circuit: BatteryCircuit

    def __call__(self, bank: Bank | None, relief_W: Sequence[FloatArray] | None = None) -> list[SharedPass]:
        """Split a day.

        Args:
            bank: A bank of any health; None for a battery alone.
            relief_W: Power asked of the bank besides the rule, one array a pass; None for none.
        """
        return share_day(self.demand, self.rule, bank, self.start_V, self.repeats, self.circuit, relief_W)


def power_split(setup: StudySetup, rule: Rule, demand: Demand) -> RuleSplit:
    """How a rule splits a demand.

    Args:
        setup: The study.
        rule: The strategy's rule.
        demand: One pass of its demand.
    """
    bank = setup.drivetrain.ultracapacitor
    if bank is not None and bank.voltages_of_cell:
        rule = rule.in_bank_volts(bank.source.series)
    battery, repeats = setup.drivetrain.battery.source, setup.operation.drive_repeats
    resolved, start_V = rule.resolved(setup.loaded.functions), setup.drivetrain.start_voltage_V
    circuit = BatteryCircuit(battery.open_circuit_V, battery.resistance_ohm, battery.capacity_As, battery.start_soc)
    return RuleSplit(resolved, demand, start_V, repeats, circuit)


def battery_rms_W(passes: list[SharedPass]) -> float:
    """Quadratic mean of the battery's power over a day [W].

    Args:
        passes: The day's passes.
    """
    energy = sum(float(np.sum(drive.battery_W**2 * drive.length_s)) for drive in passes)
    return float(np.sqrt(energy / sum(float(np.sum(drive.length_s)) for drive in passes)))


def battery_peak_W(passes: list[SharedPass]) -> float:
    """Largest magnitude of the battery's power over a day [W].

    Args:
        passes: The day's passes.
    """
    return max(float(np.max(np.abs(drive.battery_W), initial=0.0)) for drive in passes)


def battery_pulse_W(passes: list[SharedPass], length_s: float) -> float:
    """Largest mean power over a time that is asked of the battery on a day [W], whether it serves it or not.

    Args:
        passes: The day's passes.
        length_s: Length of the running mean [s], > 0.
    """
    peak = PowerPeak(length_s)
    for drive in passes:
        asked = drive.battery_W if drive.missed_W is None else drive.battery_W + drive.missed_W
        peak.add(drive.length_s, asked, asked)
    return peak.largest_W
