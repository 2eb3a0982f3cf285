"""The contract of a split rule: what a study states about it, and how it shares one pass of a demand.

A rule is one frozen object in one file of ``split/rules``. Its fields are the parameters that a study gives; title,
unit, hint and example of each are in the field, where form and README find them.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from pydantic import ConfigDict

from lifetime.checks import FloatArray
from lifetime.notices import Notice
from lifetime.section import Section
from lifetime.split.bank import Bank
from lifetime.split.converters import Converters
from lifetime.split.share import Demand, SharedPass
from lifetime.split.windings import TwoWindings

_SAME = 1e-9
"""Relative difference of what a rule remembers below which a pass begins like the one before."""


@dataclass(frozen=True, slots=True)
class Step:
    """What a rule sees before one interval.

    Args:
        length_s: Length of the interval [s], >= 0.
        demand_W: Mean demand [W], positive towards the machine.
        speed_m_s: Mean speed [m/s]; 0 where the demand has none.
        ultracapacitor_voltage_V: Capacitor voltage of the bank before the interval [V].
        state: What the rule returned as its state before; None at the start of a day for a user's own function.
    """

    length_s: float
    demand_W: float
    speed_m_s: float
    ultracapacitor_voltage_V: float
    state: Hashable


Controller = Callable[[Step], tuple[float, Hashable]]
"""From a step to the ultracapacitor's setpoint [W], positive when it discharges, and the next state."""
BatteryFunction = Callable[[Step], tuple[float, Hashable]]
"""A user's own rule: from a step to the battery's power [W] and the next state."""
FunctionName = tuple[str, str]
"""Python file, and name of a function in it."""
LoadedFunctions = Mapping[FunctionName, tuple[BatteryFunction, str]]
"""Functions by file and name, each with the SHA-256 of its file."""


@dataclass(frozen=True, slots=True)
class SplitState:
    """Where a pass begins, or ends.

    Args:
        voltage_V: Capacitor voltage of the bank [V].
        memory: What the rule remembers.
    """

    voltage_V: float
    memory: Hashable


@dataclass(frozen=True, slots=True)
class BatteryCircuit:
    """The battery as a circuit sees it.

    Args:
        open_circuit_V: Open-circuit voltage of the pack over its state of charge [V].
        resistance_ohm: Of the pack [Ω], >= 0.
        capacity_As: Of the pack [As], > 0.
        start_soc: State of charge when the day begins [0..1].
    """

    open_circuit_V: Callable[[FloatArray], FloatArray]
    resistance_ohm: float
    capacity_As: float
    start_soc: float


def _as_in_a_study(schema: dict[str, Any], rule: type["Rule"]) -> None:
    """What the published schema says: the rule's own sentence, and that ``rule`` is never left out of a study."""
    schema["description"] = rule.summary
    schema["required"] = ["rule", *schema.get("required", [])]


class Rule(Section, ABC):
    """One way to share a power demand between a battery and an ultracapacitor bank.

    A rule names itself for people in its class line: ``class LowPass(RegulatedRule, title="Low-pass filter")``.

    Attributes:
        summary: What the battery does, in a sentence or two.
        has_ultracapacitor: False where the battery carries everything.
        needs_speed: True where the demand must have a speed.
        needs_function: True where a user's own Python function is run.
        bank_voltages: Keys that are a voltage of the bank, which a study may give by cell.
    """

    model_config = ConfigDict(json_schema_extra=_as_in_a_study)

    summary: ClassVar[str]
    has_ultracapacitor: ClassVar[bool] = True
    needs_speed: ClassVar[bool] = False
    needs_function: ClassVar[bool] = False
    bank_voltages: ClassVar[tuple[str, ...]] = ()

    rule: str

    @classmethod
    def key(cls) -> str:
        """What a study calls the rule."""
        return str(cls.model_fields["rule"].default)

    @classmethod
    def title(cls) -> str:
        """Short name for people."""
        return str(cls.model_config["title"])

    @classmethod
    def parameters(cls) -> tuple[str, ...]:
        """Keys of the rule's own parameters, without those that several rules have in common."""
        return tuple(name for name in cls.model_fields if name not in cls.common_parameters())

    @classmethod
    def common_parameters(cls) -> frozenset[str]:
        """Keys that are not the rule's own."""
        return frozenset(Rule.model_fields)

    @property
    @abstractmethod
    def converters(self) -> Converters:
        """What stands between the sources and the machine."""

    @property
    def function_name(self) -> FunctionName | None:
        """The user's function to be loaded before the rule can be used, or None."""
        return None

    def resolved(self, functions: LoadedFunctions) -> Self:
        """The rule with the user's function that it needs.

        Args:
            functions: All functions that the study names.
        """
        return self

    def in_bank_volts(self, series: int) -> Self:
        """The rule with voltages of the bank, where the study gives those of one cell.

        Args:
            series: Cells of the bank in series, >= 1.
        """
        return self.times_series(self.bank_voltages, series)

    def check_recordable(self) -> None:
        """Refuse a rule that a record could not hold, because it is not made of keys and values alone.

        Raises:
            InputError: The rule cannot be recorded.
        """
        return

    def voltage_setpoint_faults(self, lowest_V: float, highest_V: float) -> list[tuple[str, str]]:
        """Voltage setpoints outside the bank's window: key, and what is wrong.

        Args:
            lowest_V: Lower end of the window [V].
            highest_V: Upper end of the window [V].
        """
        return []

    def start(self, battery: BatteryCircuit | None) -> Hashable:
        """What the rule remembers at the start of a day.

        Args:
            battery: The battery's circuit, for a rule that looks at it.
        """
        return None

    @abstractmethod
    def share_pass(
        self, demand: Demand, bank: Bank | None, begun: SplitState, battery: BatteryCircuit | None
    ) -> tuple[SharedPass, SplitState]:
        """Share one pass of the demand.

        Args:
            demand: The pass.
            bank: The ultracapacitor bank; None exactly where ``has_ultracapacitor`` is False.
            begun: Where it begins.
            battery: The battery's circuit, for a rule that looks at it.

        Returns:
            The pass as shared, and where it ends.

        Raises:
            AssessmentError: The rule cannot share this demand.
        """

    def is_same(self, memory: Hashable, before: Hashable, scale_W: float) -> bool:
        """Whether a pass that begins with one memory is like a pass that begins with the other.

        Args:
            memory: What the rule remembers.
            before: What it remembered before.
            scale_W: Largest demand [W].
        """
        if isinstance(memory, float) and isinstance(before, float):
            return abs(memory - before) <= _SAME * scale_W
        return memory == before

    def demand_notices(self, demand: Demand) -> list[Notice]:
        """What the rule says about a demand before it is shared.

        Args:
            demand: One pass.
        """
        return []

    def day_notices(self, day: list[SharedPass], windings: TwoWindings | None = None) -> list[Notice]:
        """What the rule says about a day that it shared.

        Args:
            day: Its passes.
            windings: Of the machine, or None.
        """
        return []
