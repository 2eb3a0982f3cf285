"""How one strategy shares its demand, whatever the bank's health: by a rule, or by the circuit itself."""

from collections.abc import Callable

import numpy as np

from lifetime.split.bank import Bank
from lifetime.split.passive import PassiveBattery, share_passively
from lifetime.split.rule import SplitRule, SteppedRule
from lifetime.split.rules.user_function import UserFunction
from lifetime.split.share import Demand, SharedPass, share_day
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Strategy
from lifetime.study.split import FunctionSplit, PassiveSplit

Sharing = Callable[[Bank | None], list[SharedPass]]
"""Shares the day between the battery and a bank of any health."""


def rule_of(loaded: LoadedStudy, split: object) -> SplitRule | SteppedRule:
    """The rule a split asks for.

    Args:
        loaded: The study with everything it names.
        split: The strategy's split, any but the passive one.
    """
    if isinstance(split, FunctionSplit):
        function, _ = loaded.functions[split.file, split.name]
        return UserFunction(function, f"{split.name} in {split.file}")
    rule: SplitRule | SteppedRule = split.build()  # type: ignore[attr-defined]
    return rule


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
    repeats = loaded.study.service.day.drive_repeats
    split = strategy.split
    if isinstance(split, PassiveSplit):
        return lambda bank: _passive_day(demand, battery, bank, start_voltage_V, repeats)
    assert split is not None  # noqa: S101 - the schema asks for it beside a demand
    rule, losses = rule_of(loaded, split), split.losses()
    return lambda bank: share_day(demand, rule, bank, start_voltage_V, repeats, losses)


def _passive_day(demand: Demand, battery: Source, bank: Bank | None, start_V: float, repeats: int) -> list[SharedPass]:
    assert bank is not None  # noqa: S101 - the schema asks for a bank
    circuit = PassiveBattery(
        battery.open_circuit_V, max(battery.resistance_ohm, 1e-9), battery.capacity_As, battery.start_soc
    )
    soc, voltage = battery.start_soc, start_V
    shared: list[SharedPass] = []
    for _ in range(repeats):
        path = share_passively(demand.length_s, demand.power_W, circuit, bank, voltage, soc)
        shared.append(SharedPass(demand.length_s, path.battery_W, path.bank_W, path.bank_A, path.bank_V))
        soc, voltage = path.end_soc, float(path.bank_V[-1])
    return shared


def battery_rms_W(shared: list[SharedPass]) -> float:
    """Quadratic mean of the battery's power over a day [W].

    Args:
        shared: The day's passes.
    """
    energy = sum(float(np.sum(one.battery_W**2 * one.length_s)) for one in shared)
    return float(np.sqrt(energy / sum(float(np.sum(one.length_s)) for one in shared)))
