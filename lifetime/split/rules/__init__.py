"""Split rules, one a file, and the one list that names them all; ``split.rule`` has their contract."""

from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Final, Union

from pydantic import Field, TypeAdapter

from lifetime.split.rule import Rule, Step
from lifetime.split.rules.battery_only import BatteryOnly
from lifetime.split.rules.lookup import Lookup
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.passive_parallel import PassiveParallel
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.rules.ramp_limit import RampLimit
from lifetime.split.rules.state_table import StateTable, TableRow
from lifetime.split.rules.user_function import UserFunction, function
from lifetime.split.rules.voltage_target import VoltageTarget

__all__ = [
    "RULES",
    "AnyRule",
    "BatteryOnly",
    "Lookup",
    "LowPass",
    "PassiveParallel",
    "PowerLimit",
    "RampLimit",
    "StateTable",
    "Step",
    "TableRow",
    "UserFunction",
    "VoltageTarget",
    "function",
    "read_rule",
]

RULES: Final[tuple[type[Rule], ...]] = (
    BatteryOnly,
    LowPass,
    PowerLimit,
    RampLimit,
    VoltageTarget,
    StateTable,
    Lookup,
    UserFunction,
    PassiveParallel,
)
"""Every rule, in the order in which people see them."""

if TYPE_CHECKING:
    AnyRule = Rule
else:
    AnyRule = Annotated[Union[RULES], Field(discriminator="rule")]  # noqa: UP007 - the one list is a tuple
"""A rule as a study gives it: one section a rule, told apart by ``rule``."""


def read_rule(data: Any) -> Rule:
    """The rule that plain data describe, or the rule itself.

    Args:
        data: Keys and values as in a study's ``split``, or a rule.

    Raises:
        pydantic.ValidationError: No rule is described.
    """
    return _adapter().validate_python(data)


@cache
def _adapter() -> TypeAdapter[Rule]:
    return TypeAdapter(AnyRule)
