"""From the study form to a study document and back; the form remembers everything, the server nothing."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from lifetime.errors import Fault
from webapi.pages.study_fields import ROLE_WORDS, RULE_KEYS, SPLIT_FIELDS, Field, Group

_INPUT: Final = re.compile(r"input\[(\d{1,3})\]\.history")
_STRATEGY: Final = re.compile(r"strategy\[(\d{1,3})\]\.name")
_BLOCK: Final = re.compile(r"(input|strategy)\[(\d{1,3})\]\.")
_USE: Final = re.compile(r"strategy\[\d{1,3}\]\.(demand|battery|ultracapacitor)")
MOST_BLOCKS: Final = 60
"""Histories, and strategies, that the form takes; a study sent to the API may hold more."""

_NUMBERS: Final = {
    "number": "a number with a decimal point",
    "whole": "a whole number",
    "numbers": "a number with a decimal point, or twelve with spaces between",
}

Values = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Read:
    """A form read.

    Args:
        document: The study as plain data, as far as it could be read.
        faults: What could not be read, with the field's name as its place.
    """

    document: dict[str, Any]
    faults: tuple[Fault, ...]


def numbers_of(values: Values, pattern: re.Pattern[str]) -> list[int]:
    """The numbers of repeated blocks, in order."""
    found = {int(match[1]) for key in values if (match := pattern.fullmatch(key))}
    return sorted(found)[:MOST_BLOCKS]


def input_numbers(values: Values) -> list[int]:
    """The numbers of the form's inputs: histories with their columns."""
    return numbers_of(values, _INPUT)


def strategy_numbers(values: Values) -> list[int]:
    """The numbers of the form's strategies."""
    return numbers_of(values, _STRATEGY)


def with_history(values: Values, key: str) -> dict[str, str]:
    """The form with one more history.

    Args:
        values: The form's fields.
        key: The history's id.
    """
    number = max(input_numbers(values), default=0) + 1
    return {**values, f"input[{number}].history": key, f"input[{number}].interpolation": "linear"}


def with_copy(values: Values, number: int) -> dict[str, str]:
    """The form with a history once more, for other columns of the same file.

    Args:
        values: The form's fields.
        number: The history to copy.
    """
    key = values.get(f"input[{number}].history")
    return dict(values) if key is None else with_history(values, key)


def with_strategy(values: Values) -> dict[str, str]:
    """The form with one more strategy.

    Args:
        values: The form's fields.
    """
    number = max(strategy_numbers(values), default=0) + 1
    return {**values, f"strategy[{number}].name": ""}


def without(values: Values, block: str, number: int) -> dict[str, str]:
    """The form without one history or strategy; strategies that used the history are left without one.

    Args:
        values: The form's fields.
        block: ``input`` or ``strategy``.
        number: Which.
    """
    kept = {key: value for key, value in values.items() if not key.startswith(f"{block}[{number}].")}
    if block == "input":
        return {key: "" if _USE.fullmatch(key) and value == str(number) else value for key, value in kept.items()}
    return kept


def renumbered(values: Values) -> dict[str, str]:
    """The form with its histories and strategies numbered 1, 2, 3, so that a fault's place is its field's name.

    Args:
        values: The form's fields.
    """
    inputs = {old: new for new, old in enumerate(input_numbers(values), start=1)}
    strategies = {old: new for new, old in enumerate(strategy_numbers(values), start=1)}
    found = {}
    for key, value in values.items():
        match = _BLOCK.match(key)
        new = None if match is None else (inputs if match[1] == "input" else strategies).get(int(match[2]))
        if match is not None and new is None:
            continue
        name = key if match is None else f"{match[1]}[{new}].{key[match.end() :]}"
        points = _USE.fullmatch(key) and value.isdecimal() and int(value) in inputs
        found[name] = str(inputs[int(value)]) if points else value
    return found


def read_form(values: Values, all_groups: Sequence[Group]) -> Read:
    """Make a study document of a filled-in form.

    Args:
        values: Every field by name.
        all_groups: The groups of fields.
    """
    document: dict[str, Any] = {}
    faults: list[Fault] = []
    if values.get("title", "").strip():
        document["title"] = values["title"].strip()
    for group in all_groups:
        if group.heading == "Ultracapacitor bank" and not values.get("ultracapacitor.cell"):
            continue
        for field in group.fields:
            _put(document, field, field.key, values, faults)
    document["strategy"] = [_strategy(values, number, faults) for number in strategy_numbers(values)]
    return Read(document, tuple(faults))


def empty_form(all_groups: Sequence[Group]) -> dict[str, str]:
    """What stands in a form that nobody has filled in.

    Args:
        all_groups: The groups of fields.
    """
    return {field.key: field.default for group in all_groups for field in group.fields if field.default}


def not_shown(study: Mapping[str, Any], all_groups: Sequence[Group]) -> list[str]:
    """Keys of a study that the form has no field for.

    Args:
        study: The study as plain data.
        all_groups: The groups of fields.
    """
    known = {field.key for group in all_groups for field in group.fields}
    sections = (section for section in study if section not in {"title", "strategy"})
    found = {key for section in sections for key in _flat(study[section] or {}, section)}
    return sorted(found - known)


def fill_form(study: Mapping[str, Any], all_groups: Sequence[Group]) -> dict[str, str]:
    """Make form values of a study document, as a start for the next study.

    Args:
        study: The study as plain data, histories by id.
        all_groups: The groups of fields.
    """
    values = {**empty_form(all_groups), "title": str(study.get("title", ""))}
    for section in ("service", "battery", "ultracapacitor", "end_of_life", "counting", "cost"):
        values |= _flat(study.get(section) or {}, section)
    inputs: list[Mapping[str, Any]] = []
    for number, strategy in enumerate(study.get("strategy", [])[:MOST_BLOCKS], start=1):
        lead = f"strategy[{number}]"
        values[f"{lead}.name"] = str(strategy.get("name", ""))
        split = strategy.get("split") or {"rule": "histories"}
        values[f"{lead}.way"] = str(split["rule"])
        values |= {f"{lead}.split.{key}": _text(value) for key, value in split.items() if key != "rule"}
        for role in ("demand", "battery", "ultracapacitor"):
            if strategy.get(role):
                if strategy[role] not in inputs:
                    inputs.append(strategy[role])
                values[f"{lead}.{role}"] = str(inputs.index(strategy[role]) + 1)
    for number, spec in enumerate(inputs[:MOST_BLOCKS], start=1):
        for key, value in spec.items():
            values[f"input[{number}].{'history' if key == 'file' else key}"] = _text(value)
    return values


def _strategy(values: Values, number: int, faults: list[Fault]) -> dict[str, Any]:
    lead = f"strategy[{number}]"
    way = values.get(f"{lead}.way", "")
    strategy: dict[str, Any] = {"name": values[f"{lead}.name"].strip()}
    roles = ("battery", "ultracapacitor") if way == "histories" else ("demand",)
    for role in roles:
        chosen = values.get(f"{lead}.{role}", "")
        if chosen.isdecimal() and f"input[{int(chosen)}].history" in values:
            strategy[role] = _input(values, int(chosen), faults)
        elif role != "ultracapacitor":
            faults.append(Fault(f"{lead}.{role}", "choose one of the histories above."))
    if way in RULE_KEYS:
        split: dict[str, Any] = {"rule": way}
        for field in SPLIT_FIELDS:
            if field.key in RULE_KEYS[way]:
                _put(split, field, f"{lead}.split.{field.key}", values, faults, key=field.key)
        strategy["split"] = split
    elif way != "histories":
        faults.append(Fault(f"{lead}.way", "choose how this strategy shares the power."))
    return strategy


def _input(values: Values, number: int, faults: list[Fault]) -> dict[str, Any]:
    lead = f"input[{number}]"
    spec: dict[str, Any] = {"file": values[f"{lead}.history"]}
    for role in ROLE_WORDS:
        if values.get(f"{lead}.{role}"):
            spec[role] = values[f"{lead}.{role}"]
            if values.get(f"{lead}.{role}_unit"):
                spec[f"{role}_unit"] = values[f"{lead}.{role}_unit"]
    for key in ("discharge_is", "interpolation"):
        if values.get(f"{lead}.{key}"):
            spec[key] = values[f"{lead}.{key}"]
    if "discharge_is" not in spec:
        _once(faults, Fault(f"{lead}.discharge_is", "say which sign means discharge; it is never guessed."))
    if "time" not in spec:
        _once(faults, Fault(f"{lead}.time", "choose the column that holds the time."))
    if values.get(f"{lead}.clean", "").split():
        spec["clean"] = values[f"{lead}.clean"].split()
    ambient = Field("ambient_C", "Air temperature during the measurement [°C]")
    _put(spec, ambient, f"{lead}.ambient_C", values, faults, key="ambient_C")
    return spec


def _put(
    target: dict[str, Any], field: Field, name: str, values: Values, faults: list[Fault], *, key: str | None = None
) -> None:
    """Read one field and put it where its key says; an empty one is left out."""
    text = values.get(name, "").strip()
    value: Any = text
    if field.kind == "tick":
        value = text == "yes"
    elif not text:
        return
    elif field.kind in _NUMBERS:
        try:
            value = _number(text, field.kind)
        except ValueError:
            _once(faults, Fault(name, f"must be {_NUMBERS[field.kind]}, got “{text[:40]}”."))
            return
    *sections, last = (key or field.key).split(".")
    for section in sections:
        target = target.setdefault(section, {})
    target[last] = value


def _number(text: str, kind: str) -> int | float | list[float]:
    if kind == "whole":
        return int(text)
    if kind == "numbers" and len(text.split()) > 1:
        return [float(part) for part in text.split()]
    return float(text)


def _once(faults: list[Fault], fault: Fault) -> None:
    if fault not in faults:
        faults.append(fault)


def _flat(section: Mapping[str, Any], lead: str) -> dict[str, str]:
    values: dict[str, str] = {}
    for key, value in section.items():
        if isinstance(value, Mapping):
            values |= _flat(value, f"{lead}.{key}")
        else:
            values[f"{lead}.{key}"] = _text(value)
    return values


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list | tuple):
        return " ".join(_text(one) for one in value)
    return f"{value:.12g}" if isinstance(value, float) else str(value)
