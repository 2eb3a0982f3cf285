"""A split written by the user as a Python function: named in a study by its file, or given as a function in Python."""

import math
from collections.abc import Hashable
from typing import Annotated, ClassVar, Final, Literal, Self

from pydantic import Field, PrivateAttr

from lifetime.errors import AssessmentError, InputError
from lifetime.keys import about
from lifetime.split.controlled import SteppedRule
from lifetime.split.function_source import content_sha256
from lifetime.split.rule import BatteryFunction, Controller, FunctionName, LoadedFunctions, Step

GIVEN: Final = "python:"
"""Beginning of ``file`` where the function was given as such; the hash of its source follows."""


class UserFunction(SteppedRule, title="Own Python function"):
    """The battery's power as the user's own function says.

    The function takes one ``Step`` and gives the battery's power [W] and its next state.
    """

    summary: ClassVar[str] = (
        "The battery does what your own Python function says, step by step: `(step) -> (battery_W, state)`; "
        "the command line and Python run it, the service does not."
    )
    needs_function: ClassVar[bool] = True

    rule: Literal["function"] = "function"
    file: Annotated[
        str,
        Field(min_length=1),
        about(
            "Python file",
            "File with the function; relative paths start from the study's folder.",
            example="controller.py",
        ),
    ]
    name: Annotated[str, Field(min_length=1), about("Function", "Name of the function in the file.", example="share")]
    _function: BatteryFunction | None = PrivateAttr(default=None)

    @property
    def function_name(self) -> FunctionName | None:
        """File and name, unless the function was given as such."""
        return None if self._function is not None else (self.file, self.name)

    @property
    def _label(self) -> str:
        return self.name if self.file.startswith(GIVEN) else f"{self.name} in {self.file}"

    def resolved(self, functions: LoadedFunctions) -> Self:
        """The rule with its function.

        Raises:
            AssessmentError: The function was given in Python, and what it does has changed since.
        """
        if self._function is None:
            return self.holding(functions[self.file, self.name][0])
        if f"{GIVEN}{content_sha256(self._function)}" != self.file:
            raise AssessmentError(
                f"The split function {self.name}, or a value that it uses, has changed since the rule was made of it. "
                "Make the rule again, with packwear's rules.function."
            )
        return self

    def holding(self, function: BatteryFunction) -> Self:
        """The same rule with a function to call.

        Args:
            function: Takes a ``Step``, gives the battery's power [W] and its next state.
        """
        rule = self.model_copy()
        rule._function = function  # noqa: SLF001 - its own
        return rule

    def check_recordable(self) -> None:
        """Refuse a function that was given in Python: a record would not have it."""
        if self.file.startswith(GIVEN):
            raise InputError(
                f"The split function {self.name} was given in Python, so a record of the study could not be run again. "
                "Put the function into a Python file and name the file in the study."
            )

    def ultracapacitor_setpoint_W(self, step: Step) -> tuple[float, Hashable]:
        """Demand less what the function gives the battery.

        Raises:
            AssessmentError: The function fails, or gives no finite power.
        """
        return self.controller()(step)

    def controller(self) -> Controller:
        """The function itself is looked up once a pass."""
        function, label = self._function, self._label
        assert function is not None  # noqa: S101 - a rule is resolved before it is used

        def setpoint_W(step: Step) -> tuple[float, Hashable]:
            try:
                battery_W, after = function(step)
                setpoint = step.demand_W - float(battery_W)
            except Exception as error:
                raise AssessmentError(
                    f"The split function {label} failed at a demand of {step.demand_W:g} W and an ultracapacitor "
                    f"voltage of {step.ultracapacitor_voltage_V:g} V ({type(error).__name__}: {error}). It must take "
                    "one step (length_s, demand_W, speed_m_s, ultracapacitor_voltage_V, state) and give "
                    "(battery_W, state)."
                ) from error
            if not math.isfinite(setpoint):
                raise AssessmentError(
                    f"The split function {label} gave {battery_W} W at a demand of {step.demand_W:g} W. It must give a "
                    "finite power."
                )
            return setpoint, after

        return setpoint_W


def function(battery_power: BatteryFunction) -> UserFunction:
    """A split rule from a Python function, without a file; it cannot be recorded.

    Args:
        battery_power: Takes a ``Step`` and gives the battery's power [W] and its next state. The same step must always
            give the same answer. What the function uses from outside must be numbers, text, arrays, modules or
            functions, because all of it becomes part of the study's id.

    Raises:
        InputError: Its source, or a value that it uses, cannot be made part of an id.
    """
    name = getattr(battery_power, "__name__", type(battery_power).__name__)
    return UserFunction(file=f"{GIVEN}{content_sha256(battery_power)}", name=name).holding(battery_power)
