"""The battery alone."""

from typing import ClassVar, Literal

from lifetime.split.bank import Bank
from lifetime.split.converter_rule import ConverterRule
from lifetime.split.rule import BatteryCircuit, SplitState
from lifetime.split.share import Demand, SharedPass


class BatteryOnly(ConverterRule, title="Battery alone"):
    """The battery carries everything; there is no ultracapacitor bank."""

    summary: ClassVar[str] = "The battery carries the whole demand; the strategy has no ultracapacitor."
    has_ultracapacitor: ClassVar[bool] = False

    rule: Literal["battery_only"] = "battery_only"

    def share_pass(
        self, demand: Demand, bank: Bank | None, begun: SplitState, battery: BatteryCircuit | None
    ) -> tuple[SharedPass, SplitState]:
        """The battery takes the demand and its own losses."""
        return self.converters.alone(demand, begun.voltage_V), begun
