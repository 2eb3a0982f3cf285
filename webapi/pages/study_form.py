"""From the study form to a study document and back; the form remembers everything, the server nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from lifetime.errors import Fault
from lifetime.history.spec import HistoryInput
from lifetime.study.outline import StudyKey, StudySection, joined, outline, variants
from lifetime.study.schema import Strategy, Study
from webapi.pages.field_text import parsed, shown
from webapi.pages.form_blocks import MOST_BLOCKS, Values, input_numbers, strategy_numbers

ALREADY_SPLIT: Final = "already_split"
"""In place of a rule: simulation or the test bench split the power."""
_NOT_RUN_HERE: Final = frozenset({"function"})
"""Rules that run a stranger's code; the service refuses them."""
NEEDED: Final = "is needed."


@cache
def study_section() -> StudySection:
    """All of a study but its strategies."""
    return outline(Study, without=frozenset({"strategy"}))


@cache
def strategy_section() -> StudySection:
    """A strategy's name and histories; its rule is among ``rules``, and a design is left to study files."""
    return outline(Strategy, without=frozenset({"design"}))


@cache
def history_section() -> StudySection:
    """A history's keys, as far as they concern a stored one."""
    every = outline(HistoryInput)
    only_files = frozenset(key.key for key in every.keys if key.more.get("file_only"))
    return outline(HistoryInput, without=only_files)


@cache
def rules() -> Mapping[str, StudySection]:
    """The rules that may be chosen, each with its keys."""
    return {rule: section for rule, section in variants(Strategy, "split").items() if rule not in _NOT_RUN_HERE}


def roles_of(rule: str) -> tuple[str, ...]:
    """Which histories a strategy names.

    Args:
        rule: A rule, ``ALREADY_SPLIT``, or empty where none is chosen yet.
    """
    if rule == ALREADY_SPLIT:
        return ("battery", "ultracapacitor")
    return ("demand",) if rule in rules() else ()


@dataclass(frozen=True, slots=True)
class Read:
    """A form read.

    Args:
        document: The study as plain data, as far as it could be read.
        faults: What could not be read or is missing, with the field's name as its place.
    """

    document: dict[str, Any]
    faults: tuple[Fault, ...]


def read_form(values: Values) -> Read:
    """Make a study document of a filled-in form.

    Args:
        values: Every field by name.
    """
    faults: list[Fault] = []
    document = _read(study_section(), "", values, faults)
    inputs = input_numbers(values)
    document["strategy"] = [_read_strategy(values, number, inputs, faults) for number in strategy_numbers(values)]
    return Read(document, tuple(dict.fromkeys(faults)))


def fill_form(study: Mapping[str, Any]) -> tuple[dict[str, str], list[str]]:
    """Make form values of a study document, as a start for the next study.

    Args:
        study: The study as plain data, histories by id.

    Returns:
        The values, and the keys that the form has no field for.
    """
    values: dict[str, str] = {}
    left: list[str] = []
    _fill(study_section(), {key: value for key, value in study.items() if key != "strategy"}, "", values, left)
    inputs: list[Mapping[str, Any]] = []
    for number, strategy in enumerate(study.get("strategy", [])[:MOST_BLOCKS], start=1):
        lead = f"strategy[{number}]"
        split = dict(strategy.get("split") or {"rule": ALREADY_SPLIT})
        rule = split.pop("rule")
        values |= {f"{lead}.name": str(strategy.get("name", "")), f"{lead}.split.rule": rule}
        if rule in rules():
            _fill(rules()[rule], split, f"{lead}.split", values, left)
        elif rule != ALREADY_SPLIT:
            left.append(f"{lead}.split")
        for role in ("demand", "battery", "ultracapacitor"):
            if strategy.get(role):
                if strategy[role] not in inputs:
                    inputs.append(strategy[role])
                values[f"{lead}.{role}"] = str(inputs.index(strategy[role]) + 1)
    for number, spec in enumerate(inputs[:MOST_BLOCKS], start=1):
        _fill(history_section(), spec, f"input[{number}]", values, left)
    return values, left


def is_filled(section: StudySection, lead: str, values: Values) -> bool:
    """Whether anything was said in a section besides its defaults.

    Args:
        section: The section.
        lead: Its path.
        values: Every field by name.
    """
    return any(
        (text := values.get(name, "").strip()) and (key.default is None or text != shown(key, key.default))
        for name, key in section.walk(lead)
    )


def is_needed(key: StudyKey) -> bool:
    """Whether the form insists on a key: the schema does, or its default is never to be guessed.

    Args:
        key: The key.
    """
    return key.required or bool(key.more.get("asked"))


def _read(section: StudySection, lead: str, values: Values, faults: list[Fault]) -> dict[str, Any]:
    """What a section's fields say; empty where it may be left out and nothing was filled in."""
    document: dict[str, Any] = {}
    if section.optional and not is_filled(section, lead, values):
        return document
    for key in section.keys:
        name = joined(lead, key.key)
        text = values.get(name, "").strip()
        if not text:
            if is_needed(key):
                faults.append(Fault(name, NEEDED))
            continue
        try:
            value = parsed(key, text)
        except ValueError as error:
            faults.append(Fault(name, f"{error}."))
            continue
        # A default that stands in a choice was not necessarily chosen.
        if key.kind not in ("choice", "yes_no") or value != key.default or is_needed(key):
            document[key.key] = value
    for inner in section.sections:
        part = _read(inner, joined(lead, inner.key), values, faults)
        if part:
            document[inner.key] = part
    return document


def _fill(section: StudySection, data: Mapping[str, Any], lead: str, values: dict[str, str], left: list[str]) -> None:
    keys = {key.key: key for key in section.keys}
    inner = {one.key: one for one in section.sections}
    for name, value in data.items():
        path = joined(lead, name)
        if value is None:
            continue
        if name in keys:
            values[path] = shown(keys[name], value)
        elif name in inner:
            _fill(inner[name], value, path, values, left)
        else:
            left.append(path)


def _read_strategy(values: Values, number: int, inputs: Sequence[int], faults: list[Fault]) -> dict[str, Any]:
    lead = f"strategy[{number}]"
    rule = values.get(f"{lead}.split.rule", "")
    strategy: dict[str, Any] = {"name": values[f"{lead}.name"].strip()}
    if not strategy["name"]:
        faults.append(Fault(f"{lead}.name", NEEDED))
    if rule in rules():
        strategy["split"] = {"rule": rule, **_read(rules()[rule], f"{lead}.split", values, faults)}
    elif rule != ALREADY_SPLIT:
        faults.append(Fault(f"{lead}.split.rule", "is needed: choose how this strategy shares the power."))
    for role in roles_of(rule):
        chosen = values.get(f"{lead}.{role}", "")
        if chosen.isdecimal() and int(chosen) in inputs:
            strategy[role] = _read(history_section(), f"input[{int(chosen)}]", values, faults)
        elif role != "ultracapacitor":
            faults.append(Fault(f"{lead}.{role}", "is needed: choose one of the histories above."))
    return strategy
