"""What a strategy's split rule asks of an assessment; the only place here that tells one rule from another."""

from dataclasses import replace

from lifetime.assess.notices.power_limit import BatteryLimits, limit_notices
from lifetime.assess.power_split import PowerSplit
from lifetime.assess.setups import StudySetup
from lifetime.notices import Notice
from lifetime.split.bank import Bank
from lifetime.split.passive import PassiveBattery, share_passively
from lifetime.split.rule import SplitRule, SteppedRule
from lifetime.split.rules.lookup import Lookup
from lifetime.split.rules.user_function import UserFunction
from lifetime.split.share import Demand, SharedPass, share_day
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy
from lifetime.study.split import FunctionSplit, LookupSplit, PassiveSplit, PowerLimitSplit, Split


def power_split(setup: StudySetup, split: Split, demand: Demand) -> PowerSplit:
    """How a rule splits a demand.

    Args:
        setup: The study.
        split: The strategy's rule.
        demand: One pass of its demand.
    """
    drivetrain, repeats = setup.drivetrain, setup.operation.drive_repeats
    start_V = drivetrain.start_voltage_V
    if isinstance(split, PassiveSplit):
        return lambda bank: _passive_day(demand, drivetrain.battery.source, bank, start_V, repeats)
    rule, losses, pull = _rule(setup.loaded, split), split.losses(), split.pull()

    def day(bank: Bank | None) -> list[SharedPass]:
        towards_setpoint = None if bank is None else replace(bank, pull=pull)
        return share_day(demand, rule, towards_setpoint, start_V, repeats, losses)

    return day


def demand_notices(split: Split, demand: Demand) -> list[Notice]:
    """What a rule says about the demand.

    Args:
        split: The strategy's rule.
        demand: One pass of its demand.
    """
    if not isinstance(split, LookupSplit):
        return []
    rule = split.build()
    return rule.notices(demand.power_W) if isinstance(rule, Lookup) else []


def day_notices(split: Split, passes: list[SharedPass]) -> list[Notice]:
    """What a rule says about the day that came of it.

    Args:
        split: The strategy's rule.
        passes: The day's passes.
    """
    if not isinstance(split, PowerLimitSplit):
        return []
    limits = BatteryLimits(split.discharge_limit_W, split.charge_limit_W, split.hysteresis_W)
    return limit_notices(limits, split.losses().battery, passes)


def _rule(loaded: LoadedStudy, split: Split) -> SplitRule | SteppedRule:
    if isinstance(split, FunctionSplit):
        function, _ = loaded.functions[split.file, split.name]
        return UserFunction(function, f"{split.name} in {split.file}")
    rule: SplitRule | SteppedRule = split.build()  # type: ignore[union-attr]
    return rule


def _passive_day(demand: Demand, battery: Source, bank: Bank | None, start_V: float, repeats: int) -> list[SharedPass]:
    assert bank is not None  # noqa: S101 - the schema asks for a bank
    circuit = PassiveBattery(
        battery.open_circuit_V, max(battery.resistance_ohm, 1e-9), battery.capacity_As, battery.start_soc
    )
    soc, voltage = battery.start_soc, start_V
    passes: list[SharedPass] = []
    for _ in range(repeats):
        path = share_passively(demand.length_s, demand.power_W, circuit, bank, voltage, soc)
        passes.append(SharedPass(demand.length_s, path.battery_W, path.bank_W, path.bank_A, path.bank_V))
        soc, voltage = path.end_soc, float(path.bank_V[-1])
    return passes
