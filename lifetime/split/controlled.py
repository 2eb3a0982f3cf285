"""Rules that steer the bank: two ways to say what the ultracapacitor should deliver.

A rule does not know the bank's limits. What the bank cannot deliver or take within them, the battery does.
"""

from abc import abstractmethod
from collections.abc import Hashable
from typing import Annotated, ClassVar, Self

import numpy as np
from pydantic import model_validator

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.keys import about
from lifetime.ranges import Seconds, Volts
from lifetime.split.bank import Bank, BankPath, VoltageSetpoint, follow
from lifetime.split.converter_rule import ConverterRule
from lifetime.split.rule import BatteryCircuit, Controller, SplitState, Step
from lifetime.split.share import Demand, SharedPass
from lifetime.split.stepped import follow_steps


class ControlledRule(ConverterRule):
    """A rule that steers the ultracapacitor bank; the battery takes what is left of the demand."""

    def share_pass(
        self, demand: Demand, bank: Bank | None, begun: SplitState, battery: BatteryCircuit | None
    ) -> tuple[SharedPass, SplitState]:
        """Let the bank follow the rule; the battery takes what is left of the demand."""
        assert bank is not None  # noqa: S101 - a rule with an ultracapacitor is given one
        path, memory = self.bank_path(self.converters.where_met(demand), bank, begun)
        return self.converters.shared(demand, path), SplitState(float(path.voltage_V[-1]), memory)

    @abstractmethod
    def bank_path(self, demand: Demand, bank: Bank, begun: SplitState) -> tuple[BankPath, Hashable]:
        """What the bank does over a pass, and what the rule remembers after it.

        Args:
            demand: The pass, where the two sources meet.
            bank: The bank.
            begun: Where it begins.
        """


class DemandRule(ControlledRule):
    """A rule that looks at demand and speed alone, so that it gives all setpoints of a pass at once."""

    def start(self, battery: BatteryCircuit | None) -> Hashable:
        """Nothing is remembered at first: 0."""
        return 0.0

    @abstractmethod
    def ultracapacitor_setpoint_W(
        self, length_s: FloatArray, demand_W: FloatArray, memory: float
    ) -> tuple[FloatArray, float]:
        """Mean power the bank should deliver to the machine over each interval, and the memory after the last one.

        Args:
            length_s: Length of each interval [s], shape (n,), >= 0.
            demand_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
            memory: What the rule remembers from before the first interval; 0 at the start of a day.

        Returns:
            Setpoints [W], shape (n,), positive when the bank discharges, and the memory.
        """

    def voltage_setpoint(self, bank: Bank, speed_m_s: FloatArray | None) -> VoltageSetpoint | None:
        """Voltage to which the bank is slowly brought besides, or None.

        Args:
            bank: The bank.
            speed_m_s: Mean speed of each interval [m/s], shape (n,), or None.
        """
        return None

    def bank_path(self, demand: Demand, bank: Bank, begun: SplitState) -> tuple[BankPath, Hashable]:
        """The bank follows the setpoints."""
        if self.needs_speed and demand.speed_m_s is None:
            raise AssessmentError(
                f"The split rule {self.key()} needs the vehicle's speed; name a speed column in the demand."
            )
        memory = begun.memory if isinstance(begun.memory, float) else 0.0
        setpoint, after = self.ultracapacitor_setpoint_W(demand.length_s, demand.power_W, memory)
        if demand.relief_W is not None:
            setpoint = setpoint + demand.relief_W
        at_terminals = self.converters.ultracapacitor_side(demand.windings).at_source(setpoint)
        regulation = self.voltage_setpoint(bank, demand.speed_m_s)
        return follow(bank, demand.length_s, at_terminals, begun.voltage_V, regulation), after


class RegulatedRule(DemandRule):
    """A rule that may bring the bank slowly back to a voltage setpoint; the battery serves it."""

    bank_voltages: ClassVar[tuple[str, ...]] = ("ultracapacitor_setpoint_V",)

    ultracapacitor_setpoint_V: Annotated[
        Volts | None,
        about(
            "Ultracapacitor voltage setpoint",
            "The battery slowly brings the ultracapacitor bank to this voltage; empty for no regulation.",
            unit="V",
            example=480.0,
        ),
    ] = None
    ultracapacitor_setpoint_time_constant_s: Annotated[
        Seconds | None,
        about(
            "Time constant of the voltage setpoint",
            "How slowly the ultracapacitor bank is brought to its setpoint.",
            unit="s",
            example=120.0,
        ),
    ] = None

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.ultracapacitor_setpoint_V is None) != (self.ultracapacitor_setpoint_time_constant_s is None):
            raise ValueError(
                "ultracapacitor_setpoint_V and ultracapacitor_setpoint_time_constant_s belong together: both or neither"
            )
        return self

    @classmethod
    def common_parameters(cls) -> frozenset[str]:
        """Keys that are not the rule's own."""
        return frozenset(RegulatedRule.model_fields)

    def voltage_setpoint(self, bank: Bank, speed_m_s: FloatArray | None) -> VoltageSetpoint | None:
        """The setpoint as given, or None."""
        if self.ultracapacitor_setpoint_V is None or self.ultracapacitor_setpoint_time_constant_s is None:
            return None
        return VoltageSetpoint(self.ultracapacitor_setpoint_V, self.ultracapacitor_setpoint_time_constant_s)

    def voltage_setpoint_faults(self, lowest_V: float, highest_V: float) -> list[tuple[str, str]]:
        """Whether the setpoint is within the bank's window."""
        setpoint = self.ultracapacitor_setpoint_V
        if setpoint is None or lowest_V <= setpoint <= highest_V:
            return []
        text = f"must be within the ultracapacitor's window of {lowest_V:g} to {highest_V:g} V, got {setpoint:g} V."
        return [("ultracapacitor_setpoint_V", text)]


class SteppedRule(ControlledRule):
    """A rule that looks at the bank's voltage, so that rule and bank go together, step by step."""

    @abstractmethod
    def ultracapacitor_setpoint_W(self, step: Step) -> tuple[float, Hashable]:
        """Mean power the bank should deliver to the machine over the next interval, and the next state.

        Args:
            step: What the rule sees.

        Returns:
            Setpoint [W], positive when the bank discharges, and the state.
        """

    def controller(self) -> Controller:
        """What is asked at each step of a pass; a rule may look up here, once, what every step needs."""
        return self.ultracapacitor_setpoint_W

    def bank_path(self, demand: Demand, bank: Bank, begun: SplitState) -> tuple[BankPath, Hashable]:
        """The bank follows the setpoint of each step."""
        side = self.converters.ultracapacitor_side(demand.windings)
        controller = self.controller() if demand.relief_W is None else _relieving(self.controller(), demand.relief_W)
        if side.is_none:
            return follow_steps(bank, demand, controller, begun.voltage_V, begun.memory)

        def at_terminals(step: Step) -> tuple[float, Hashable]:
            setpoint, after = controller(step)
            return float(side.at_source(np.array([setpoint]))[0]), after

        return follow_steps(bank, demand, at_terminals, begun.voltage_V, begun.memory)


def _relieving(controller: Controller, relief_W: FloatArray) -> Controller:
    """A controller that asks the bank for a power besides, one value a step."""
    besides = iter(relief_W.tolist())

    def relieved(step: Step) -> tuple[float, Hashable]:
        setpoint, after = controller(step)
        return setpoint + next(besides), after

    return relieved
