"""Schema of a strategy's split: one section a rule, told apart by ``rule``."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from lifetime.split.bank import Pull
from lifetime.split.rule import BatteryOnly, LowPass, PowerLimit, SplitRule
from lifetime.study.sections import NotNegative, Positive, Section


class BatteryOnlySplit(Section):
    """The battery carries everything; the strategy has no bank."""

    rule: Literal["battery_only"]

    def build(self) -> SplitRule:
        """The rule."""
        return BatteryOnly()

    def pull(self) -> Pull | None:
        """No bank, no pull."""
        return None


class BankSplit(Section):
    """What every rule with a bank may ask: a slow pull of the bank towards a target voltage."""

    bank_target_voltage_V: Positive | None = None
    bank_pull_time_constant_s: Positive | None = None

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
    time_constant_s: Positive

    def build(self) -> SplitRule:
        """The rule."""
        return LowPass(self.time_constant_s)


class PowerLimitSplit(BankSplit):
    """The battery delivers and absorbs up to a limit."""

    rule: Literal["power_limit"]
    discharge_limit_W: NotNegative
    charge_limit_W: NotNegative

    def build(self) -> SplitRule:
        """The rule."""
        return PowerLimit(self.discharge_limit_W, self.charge_limit_W)


Split = Annotated[BatteryOnlySplit | LowPassSplit | PowerLimitSplit, Field(discriminator="rule")]
