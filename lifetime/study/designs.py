"""Strategies whose battery, bank or working day differ from the study's: the study as each of them sees it."""

import copy
from collections.abc import Mapping
from typing import Annotated, Any, Final

from pydantic import ConfigDict, JsonValue, model_validator

from lifetime.errors import Fault
from lifetime.keys import about
from lifetime.section import Section

_PLACES: Final[Mapping[str, tuple[str, ...]]] = {
    "battery": ("battery",),
    "ultracapacitor": ("ultracapacitor",),
    "day": ("service", "day"),
}


class Design(Section):
    """Keys that differ for one strategy, so that a larger battery or slower charging stands in the same ranking."""

    model_config = ConfigDict(title="Design of its own")

    battery: Annotated[
        dict[str, JsonValue] | None,
        about("Battery", "Keys of the section battery with other values.", example={"parallel": 48}),
    ] = None
    ultracapacitor: Annotated[
        dict[str, JsonValue] | None,
        about("Ultracapacitor bank", "Keys of the section ultracapacitor with other values.", example={"series": 180}),
    ] = None
    day: Annotated[
        dict[str, JsonValue] | None,
        about(
            "Working day",
            "Keys of the section service.day with other values.",
            example={"charge_c_rate": 0.1},
        ),
    ] = None

    @model_validator(mode="after")
    def _says_something(self) -> "Design":
        if not any((self.battery, self.ultracapacitor, self.day)):
            raise ValueError("names no key that differs; write for example design = { battery = { parallel = 48 } }")
        return self


def with_design(data: Mapping[str, Any], strategy: int) -> dict[str, Any]:
    """The study as plain data as a strategy with a design of its own sees it, with that strategy alone.

    Args:
        data: The study, checked.
        strategy: The strategy's place, from 0.
    """
    changed = copy.deepcopy({**data, "strategy": [data["strategy"][strategy]]})
    design = changed["strategy"][0].pop("design")
    for key, path in _PLACES.items():
        if design.get(key):
            holder = changed
            for part in path:
                holder = holder.setdefault(part, {})
            _merge(holder, design[key])
    return changed


def at_strategy(fault: Fault, strategy: int) -> Fault:
    """A fault of such a study, at the place where the whole study has it.

    Args:
        fault: Its place is one in what ``with_design`` answered.
        strategy: The strategy's place, from 0.
    """
    lead = f"strategy[{strategy + 1}]"
    if fault.place.startswith("strategy[1]"):
        return Fault(lead + fault.place.removeprefix("strategy[1]"), fault.message)
    for key, path in _PLACES.items():
        place = ".".join(path)
        if fault.place == place or fault.place.startswith(f"{place}."):
            return Fault(f"{lead}.design.{key}{fault.place.removeprefix(place)}", fault.message)
    return Fault(lead, f"{fault.place}: {fault.message}")


def _merge(holder: dict[str, Any], values: Mapping[str, Any]) -> None:
    """Lay values over what is there; a table within a table is laid over in turn."""
    for key, value in values.items():
        if isinstance(value, Mapping) and isinstance(holder.get(key), dict):
            _merge(holder[key], value)
        else:
            holder[key] = value
