"""A study as plain data with some of its keys changed; keys are written as a person writes them."""

import copy
import re
from collections.abc import Mapping
from typing import Any, Final

from lifetime.errors import Fault, StudyError
from lifetime.study.paths import Path

_KEY: Final = re.compile(r"\.?([A-Za-z_]\w*)")
_NUMBER: Final = re.compile(r"\[(\d+)\]")


def path_in(text: str, data: Mapping[str, Any]) -> Path:
    """The path that a text names in a study, such as ``strategy[2].split.rule`` or ``strategy[Low-pass].split.rule``.

    Args:
        text: Keys with points between; a list's entry by its number from 1, a strategy also by its name.
        data: The study as plain data; only entries of lists must exist in it.

    Raises:
        ValueError: The text is no path, or no strategy has that number or name.
    """
    path: list[str | int] = []
    rest, place = text, data
    while rest:
        step, rest = _step(text, rest, place)
        path.append(step)
        place = _below(place, step)
    if not path:
        raise ValueError("the key is empty; write one such as service.years")
    return tuple(path)


def with_changes(data: Mapping[str, Any], changes: Mapping[str, Any], name: str) -> dict[str, Any]:
    """A copy of a study in which some keys have other values.

    Args:
        data: The study as plain data; not changed.
        changes: New value by key; None takes the key away. A table on the way that is not there yet is made.
        name: How messages call the study.

    Raises:
        StudyError: A key is no path in this study; all such faults at once.
    """
    changed = copy.deepcopy(dict(data))
    faults = []
    for key, value in changes.items():
        try:
            _put(changed, path_in(key, changed), value)
        except ValueError as error:
            faults.append(Fault(key or "key", f"{error}."))
    if faults:
        raise StudyError(name, faults)
    return changed


def _step(text: str, rest: str, place: Any) -> tuple[str | int, str]:
    """The next key or entry, and what is left of the text."""
    if match := _KEY.match(rest):
        return match[1], rest[match.end() :]
    entries = place if isinstance(place, list) else []
    if match := _NUMBER.match(rest):
        number = int(match[1])
        if 1 <= number <= len(entries):
            return number - 1, rest[match.end() :]
        raise ValueError(f'"{text}" names entry {number}, and there are {len(entries)}')
    for number, entry in enumerate(entries):
        named = f"[{entry.get('name')}]" if isinstance(entry, Mapping) else ""
        if named and rest.startswith(named):
            return number, rest[len(named) :]
    if rest.startswith("[") and entries:
        names = ", ".join(str(entry.get("name")) for entry in entries if isinstance(entry, Mapping))
        raise ValueError(f'"{text}" names no strategy of this study; there are: {names}')
    raise ValueError(f'"{text}" cannot be read as a key; write one such as strategy[2].split.time_constant_s')


def _below(place: Any, step: str | int) -> Any:
    if isinstance(step, int):
        return place[step]
    return place.get(step) if isinstance(place, Mapping) else None


def _put(data: dict[str, Any], path: Path, value: Any) -> None:
    place: Any = data
    for step in path[:-1]:
        if isinstance(place, dict) and not isinstance(place.get(str(step)), dict | list):
            place[step] = {}
        place = place[step]
    last = path[-1]
    if value is not None:
        place[last] = copy.deepcopy(value)
    elif isinstance(place, dict):
        place.pop(last, None)
    else:
        del place[last]
