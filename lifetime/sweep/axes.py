"""Which keys of a study are varied: given in the study in place of a number, or named at the command line."""

import copy
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from lifetime.errors import Fault, StudyError
from lifetime.study.paths import Path, leaves, path_words
from lifetime.sweep.axis import Axis, axis_of, range_of

_STEP: Final = re.compile(r"([A-Za-z_]\w*)|\[(\d+)\]")


def find_axes(data: Mapping[str, Any], name: str) -> list[Axis]:
    """Find the ranges in a study that take the place of numbers.

    Args:
        data: The study as plain data.
        name: How messages call it.

    Raises:
        StudyError: A range is empty or contradicts itself; all such faults at once.
    """
    faults: list[Fault] = []
    axes = []
    for path, value in leaves(data):
        if isinstance(value, Mapping):
            try:
                axes.append(axis_of(path, value))
            except ValueError as error:
                faults.append(Fault(path_words(path), str(error)))
    if faults:
        raise StudyError(name, faults)
    return axes


def named_axis(text: str, data: Mapping[str, Any]) -> Axis:
    """An axis named at the command line: ``key=from:to:steps``, ``key=from:to:steps:log`` or ``key=1,2,5``.

    Args:
        text: What was given.
        data: The study as plain data; which must have the key.

    Raises:
        StudyError: The text cannot be read, or the study has no such key.
    """
    key, _, spread = text.partition("=")
    try:
        return axis_of(_known_path(key.strip(), data), range_of(spread.strip()))
    except ValueError as error:
        raise StudyError("sweep", [Fault(key.strip() or "axis", f"{error}.")]) from None


def parse_path(text: str) -> Path:
    """A path such as ``strategy[2].split.time_constant_s``, lists counted from 1.

    Args:
        text: The path.

    Raises:
        ValueError: It cannot be read.
    """
    path: list[str | int] = []
    place = 0
    while place < len(text):
        step = _STEP.match(text, place)
        if step is None or (step[2] is not None and int(step[2]) < 1):
            raise ValueError(f'"{text}" is not a path of keys such as strategy[2].split.time_constant_s')
        path.append(step[1] if step[1] is not None else int(step[2]) - 1)
        place = step.end()
        if place < len(text) and text[place] == ".":
            place += 1
    if not path:
        raise ValueError("the path is empty")
    return tuple(path)


def is_price(path: Path) -> bool:
    """Whether a key is money only: it moves costs, and no life.

    Args:
        path: Place in the study.
    """
    return path[0] == "cost" or path[1:2] == ("price",)


def concerns(path: Path, strategy: int, *, has_ultracapacitor: bool) -> bool:
    """Whether a key has to do with a strategy: its own, or one outside the strategies; a bank's only with a bank.

    Args:
        path: Place in the study.
        strategy: The strategy's place in the study, from 0.
        has_ultracapacitor: Whether the strategy uses the ultracapacitor bank.
    """
    if path[0] == "strategy":
        return path[1] == strategy
    return has_ultracapacitor or path[0] != "ultracapacitor"


def with_values(data: Mapping[str, Any], axes: Sequence[Axis], values: Sequence[float]) -> dict[str, Any]:
    """The study with one value for each axis.

    Args:
        data: The study as plain data; not changed.
        axes: The axes.
        values: One value each.
    """
    changed: dict[str, Any] = copy.deepcopy(dict(data))
    for axis, value in zip(axes, values, strict=True):
        holder: Any = changed
        for part in axis.path[:-1]:
            holder = holder[part]
        holder[axis.path[-1]] = int(value) if axis.whole else float(value)
    return changed


def _known_path(key: str, data: Mapping[str, Any]) -> Path:
    path = parse_path(key)
    if not _has(data, path):
        raise ValueError(f"the study has no number there.{_hint(key, data)}")
    return path


def _hint(key: str, data: Mapping[str, Any]) -> str:
    """What the writer may have meant."""
    from difflib import get_close_matches  # noqa: PLC0415 - only needed for the message

    known = [path_words(path) for path, value in leaves(data) if _is_number(value)]
    near = get_close_matches(key, known, 3)
    if near:
        return f" Near it are {', '.join(near)}"
    return " Write the key as in the study, with any number; lists count from 1"


def _has(data: Any, path: Path) -> bool:
    for part in path:
        if isinstance(part, int):
            if not isinstance(data, list) or part >= len(data):
                return False
        elif not isinstance(data, Mapping) or part not in data:
            return False
        data = data[part]
    return _is_number(data) or isinstance(data, Mapping)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
