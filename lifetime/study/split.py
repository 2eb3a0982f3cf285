"""Schema of a strategy's split: one section a rule, told apart by ``rule``."""

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from lifetime.split.bank import Pull
from lifetime.split.losses import NO_LOSS, Loss
from lifetime.split.rule import SplitRule, SteppedRule
from lifetime.split.rules.battery_only import BatteryOnly
from lifetime.split.rules.lookup import Lookup
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.rules.ramp_limit import RampLimit
from lifetime.split.rules.state_table import Level, Request, StateTable, TableRow
from lifetime.split.rules.voltage_target import VoltageTarget
from lifetime.split.share import Losses
from lifetime.study.ranges import (
    Efficiency,
    Kilograms,
    OhmsOrZero,
    Seconds,
    Volts,
    VoltsOrZero,
    Watts,
    WattsPerSecond,
)
from lifetime.study.sections import Section

_Point = Annotated[float, Field(ge=-1e12, le=1e12)]
Increasing = Annotated[tuple[_Point, ...], Field(min_length=2, max_length=1000, strict=False)]
_Share = Annotated[float, Field(ge=-1e3, le=1e3)]


class LossSection(Section):
    """What a converter or inverter loses: a constant efficiency, or a + b I + c I²."""

    efficiency: Efficiency | None = None
    fixed_W: Watts = 0.0
    linear_V: VoltsOrZero = 0.0
    quadratic_ohm: OhmsOrZero = 0.0
    voltage_V: Volts | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> "LossSection":
        by_current = self.linear_V > 0.0 or self.quadratic_ohm > 0.0
        if by_current and self.voltage_V is None:
            raise ValueError("linear_V and quadratic_ohm need voltage_V, the voltage that turns power into current")
        return self

    def build(self) -> Loss:
        """The loss."""
        return Loss(self.efficiency or 1.0, self.fixed_W, self.linear_V, self.quadratic_ohm, self.voltage_V or 1.0)


class AnySplit(Section):
    """What every split may state: the topology, and the losses between sources and machine."""

    topology: Literal["two_inverters", "one_converter", "two_converters"] = "two_inverters"
    battery_loss: LossSection | None = None
    bank_loss: LossSection | None = None

    @model_validator(mode="after")
    def _losses_fit(self) -> "AnySplit":
        if self.topology == "one_converter" and self.battery_loss is not None and self.bank_loss is not None:
            raise ValueError(
                'with topology = "one_converter" one source is on the link itself: give battery_loss or bank_loss, '
                "not both"
            )
        return self

    def losses(self) -> Losses:
        """The losses."""
        battery, bank = (NO_LOSS if one is None else one.build() for one in (self.battery_loss, self.bank_loss))
        return Losses(battery, bank)


class BatteryOnlySplit(AnySplit):
    """The battery carries everything; the strategy has no bank."""

    rule: Literal["battery_only"]

    def build(self) -> SplitRule:
        """The rule."""
        return BatteryOnly()

    def pull(self) -> Pull | None:
        """No bank, no pull."""
        return None


class SteppedSplit(AnySplit):
    """What every rule has that looks at the bank's voltage itself."""

    def pull(self) -> Pull | None:
        """The rule has the voltage; nothing else pulls."""
        return None


class BankSplit(AnySplit):
    """What every other rule with a bank may ask: a slow pull of the bank towards a target voltage."""

    bank_target_voltage_V: Volts | None = None
    bank_pull_time_constant_s: Seconds | None = None

    @model_validator(mode="after")
    def _both_or_neither(self) -> "BankSplit":
        if (self.bank_target_voltage_V is None) != (self.bank_pull_time_constant_s is None):
            raise ValueError("bank_target_voltage_V and bank_pull_time_constant_s belong together: both or neither")
        return self

    def pull(self) -> Pull | None:
        """The pull, or None."""
        if self.bank_target_voltage_V is None or self.bank_pull_time_constant_s is None:
            return None
        return Pull(self.bank_target_voltage_V, self.bank_pull_time_constant_s)


class LowPassSplit(BankSplit):
    """The battery follows the demand through a first-order low-pass filter."""

    rule: Literal["low_pass"]
    time_constant_s: Seconds

    def build(self) -> SplitRule:
        """The rule."""
        return LowPass(self.time_constant_s)


class PowerLimitSplit(BankSplit):
    """The battery delivers and absorbs up to a limit."""

    rule: Literal["power_limit"]
    discharge_limit_W: Watts
    charge_limit_W: Watts
    hysteresis_W: Watts = 0.0

    def build(self) -> SplitRule:
        """The rule."""
        return PowerLimit(self.discharge_limit_W, self.charge_limit_W, self.hysteresis_W)


class RampLimitSplit(BankSplit):
    """The battery changes its power no faster than a limit."""

    rule: Literal["ramp_limit"]
    rise_W_per_s: WattsPerSecond
    fall_W_per_s: WattsPerSecond

    def build(self) -> SplitRule:
        """The rule."""
        return RampLimit(self.rise_W_per_s, self.fall_W_per_s)


class VoltageTargetSplit(AnySplit):
    """The bank's voltage follows the vehicle's speed."""

    rule: Literal["voltage_target"]
    mass_kg: Kilograms
    recovered_share: Efficiency
    pull_time_constant_s: Seconds

    def build(self) -> SplitRule:
        """The rule."""
        return VoltageTarget(self.mass_kg, self.recovered_share, self.pull_time_constant_s)

    def pull(self) -> Pull | None:
        """The rule sets its own."""
        return None


class TableRowSection(Section):
    """One row of a state table."""

    request: Request = "any"
    level: Level = "any"
    battery_share: Annotated[float, Field(ge=-10.0, le=10.0)]


class StateTableSplit(SteppedSplit):
    """The first row that fits request and bank level decides the battery's share."""

    rule: Literal["state_table"]
    rows: Annotated[tuple[TableRowSection, ...], Field(min_length=1, max_length=100, strict=False)]
    low_voltage_V: Volts
    high_voltage_V: Volts
    hysteresis_V: VoltsOrZero = 0.0

    @model_validator(mode="after")
    def _ordered(self) -> "StateTableSplit":
        if self.low_voltage_V + self.hysteresis_V > self.high_voltage_V:
            raise ValueError("low_voltage_V plus hysteresis_V must not exceed high_voltage_V")
        return self

    def build(self) -> SteppedRule:
        """The rule."""
        rows = tuple(TableRow(one.request, one.level, one.battery_share) for one in self.rows)
        return StateTable(rows, self.low_voltage_V, self.high_voltage_V, self.hysteresis_V)


class LookupSplit(SteppedSplit):
    """A map of the battery's share over demand and bank voltage."""

    rule: Literal["lookup"]
    demand_W: Increasing
    bank_voltage_V: Increasing
    battery_share: Annotated[
        tuple[Annotated[tuple[_Share, ...], Field(max_length=1000, strict=False)], ...],
        Field(min_length=2, max_length=1000, strict=False),
    ]

    @model_validator(mode="after")
    def _fits(self) -> "LookupSplit":
        for name, points in (("demand_W", self.demand_W), ("bank_voltage_V", self.bank_voltage_V)):
            if any(right <= left for left, right in pairwise(points)):
                raise ValueError(f"{name} must increase from point to point")
        if len(self.battery_share) != len(self.demand_W):
            raise ValueError("battery_share needs one row for each point of demand_W")
        if any(len(row) != len(self.bank_voltage_V) for row in self.battery_share):
            raise ValueError("each row of battery_share needs one number for each point of bank_voltage_V")
        return self

    def build(self) -> SteppedRule:
        """The rule."""
        return Lookup(self.demand_W, self.bank_voltage_V, self.battery_share)


class FunctionSplit(SteppedSplit):
    """A Python function of the user's own, at the command line only."""

    rule: Literal["function"]
    file: Annotated[str, Field(min_length=1)]
    name: Annotated[str, Field(min_length=1)]


class PassiveSplit(Section):
    """Battery and bank directly in parallel: the circuit decides."""

    rule: Literal["passive_parallel"]

    def pull(self) -> Pull | None:
        """Nothing pulls but the circuit."""
        return None


Split = Annotated[
    BatteryOnlySplit
    | LowPassSplit
    | PowerLimitSplit
    | RampLimitSplit
    | VoltageTargetSplit
    | StateTableSplit
    | LookupSplit
    | FunctionSplit
    | PassiveSplit,
    Field(discriminator="rule"),
]

RULES = (
    "battery_only",
    "low_pass",
    "power_limit",
    "ramp_limit",
    "voltage_target",
    "state_table",
    "lookup",
    "function",
    "passive_parallel",
)
"""Names of all rules, as ``rule`` takes them."""
