"""How one strategy shares its demand, whatever the ultracapacitor's health."""

from collections.abc import Callable

import numpy as np

from lifetime.split.bank import Bank
from lifetime.split.day import share_day
from lifetime.split.rule import BatteryCircuit
from lifetime.split.share import Demand, SharedPass
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Strategy

Sharing = Callable[[Bank | None], list[SharedPass]]
"""Shares the day between the battery and a bank of any health."""


def sharing(
    loaded: LoadedStudy, strategy: Strategy, demand: Demand, battery: Source, start_voltage_V: float
) -> Sharing:
    """How a strategy shares its demand.

    Args:
        loaded: The study with everything it names.
        strategy: One with a demand and a split.
        demand: One pass of its demand.
        battery: The battery as the trace sees it.
        start_voltage_V: Capacitor voltage when the day begins [V].
    """
    assert strategy.split is not None  # noqa: S101 - the schema asks for it beside a demand
    rule = strategy.split.resolved(loaded.functions)
    repeats = loaded.study.service.day.drive_repeats
    circuit = BatteryCircuit(battery.open_circuit_V, battery.resistance_ohm, battery.capacity_As, battery.start_soc)
    return lambda bank: share_day(demand, rule, bank, start_voltage_V, repeats, circuit)


def battery_rms_W(shared: list[SharedPass]) -> float:
    """Quadratic mean of the battery's power over a day [W].

    Args:
        shared: The day's passes.
    """
    energy = sum(float(np.sum(one.battery_W**2 * one.length_s)) for one in shared)
    return float(np.sqrt(energy / sum(float(np.sum(one.length_s)) for one in shared)))
