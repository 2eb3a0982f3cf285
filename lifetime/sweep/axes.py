"""Which keys of a study are varied, and over what: written in the study in place of a number, or named beside it."""

import copy
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from lifetime.errors import Fault, StudyError
from lifetime.study.paths import Path, leaves, path_words

Scale = Literal["linear", "log"]

_WHOLE: Final = frozenset({"series", "parallel", "drive_repeats"})
"""Keys that are counts."""
_AT_END: Final = 0.02
_STEP: Final = re.compile(r"([A-Za-z_]\w*)|\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class Axis:
    """One varied key.

    Args:
        path: Place in the study, lists counted from 0.
        values: What it takes on a grid, at least one; the ends are the bounds of a drawn sample.
        scale: How it is spread.
        whole: True where it must stay a whole number.
        listed: True where it takes the listed values only, and nothing between them.
    """

    path: Path
    values: tuple[float, ...]
    scale: Scale
    whole: bool
    listed: bool = False

    @property
    def name(self) -> str:
        """The path as a person writes it, lists counted from 1."""
        return path_words(self.path)

    def at(self, fraction: float) -> float:
        """The value a fraction of the way from its lowest to its highest, on its scale; of a list one of its values.

        Args:
            fraction: 0 to 1.
        """
        if self.listed:
            return sorted(self.values)[min(int(fraction * len(self.values)), len(self.values) - 1)]
        value = _along(min(self.values), max(self.values), fraction, self.scale)
        return float(round(value)) if self.whole else value

    def end_at(self, value: float) -> Literal["lowest", "highest"] | None:
        """Which end of its range a value lies at, within a fiftieth of it; None between them, and for a list.

        Args:
            value: Within the range.
        """
        low, high = min(self.values), max(self.values)
        if self.listed or low == high:
            return None
        if self.scale == "log":
            low, value, high = math.log(low), math.log(value), math.log(high)
        fraction = (value - low) / (high - low)
        return "lowest" if fraction <= _AT_END else "highest" if fraction >= 1.0 - _AT_END else None


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
                axes.append(_axis(path, value))
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
        return _axis(_known_path(key.strip(), data), _spread(spread.strip()))
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
        found = _STEP.match(text, place)
        if found is None or (found[2] is not None and int(found[2]) < 1):
            raise ValueError(f'"{text}" is not a path of keys such as strategy[2].split.time_constant_s')
        path.append(found[1] if found[1] is not None else int(found[2]) - 1)
        place = found.end()
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


def belongs_to(key: str, strategy: int) -> bool:
    """Whether a key has to do with a strategy: one of its own, or one outside the strategies.

    Args:
        key: The path as a person writes it.
        strategy: The strategy's place in the study, from 0.
    """
    path = parse_path(key)
    return path[0] != "strategy" or path[1] == strategy


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


def _axis(path: Path, given: Mapping[str, Any]) -> Axis:
    scale: Scale = "log" if given.get("scale", "linear") == "log" else "linear"
    if given.get("scale", "linear") not in ("linear", "log"):
        raise ValueError('scale must be "linear" or "log"')
    if "values" in given:
        if set(given) != {"values"} or not isinstance(given["values"], list) or not given["values"]:
            raise ValueError("values must be a list of at least one number, without from, to or steps")
        values = [_number(value) for value in given["values"]]
    else:
        missing = {"from", "to", "steps"} - set(given)
        if missing:
            raise ValueError(f"the range lacks {', '.join(sorted(missing))}; give from, to and steps")
        values = _between(_number(given["from"]), _number(given["to"]), given["steps"], scale)
    whole = path[-1] in _WHOLE
    rounded = tuple(dict.fromkeys(float(round(value)) if whole else value for value in values))
    return Axis(path, rounded, scale, whole, listed="values" in given)


def _between(low: float, high: float, steps: object, scale: Scale) -> list[float]:
    if not isinstance(steps, int) or isinstance(steps, bool) or steps < 2:
        raise ValueError("steps must be a whole number of at least 2, with both ends among them")
    if not low < high:
        raise ValueError(f"the range from {low:g} to {high:g} is empty; from must be below to")
    if scale == "log" and low <= 0.0:
        raise ValueError("a log range must begin above 0")
    return [_along(low, high, step / (steps - 1), scale) for step in range(steps)]


def _along(low: float, high: float, fraction: float, scale: Scale) -> float:
    """The value a fraction of the way from low to high."""
    if scale == "log":
        return math.exp(math.log(low) + fraction * (math.log(high) - math.log(low)))
    return low + fraction * (high - low)


def _spread(text: str) -> dict[str, Any]:
    if not text:
        raise ValueError("give key=from:to:steps, key=from:to:steps:log or key=value,value")
    parts = text.split(":")
    if len(parts) == 1:
        return {"values": [_literal(part) for part in text.split(",")]}
    if len(parts) not in (3, 4):
        raise ValueError("give from:to:steps, with :log behind it for a log range")
    spread = {"from": _literal(parts[0]), "to": _literal(parts[1]), "steps": _literal(parts[2])}
    return spread | ({"scale": parts[3].strip()} if len(parts) == 4 else {})


def _literal(text: str) -> int | float:
    bare = text.strip()
    try:
        return int(bare)
    except ValueError:
        pass
    try:
        return _number(float(bare))
    except ValueError:
        raise ValueError(f'"{bare}" is not a finite number') from None


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{value!r} is not a finite number")
    return float(value)


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
