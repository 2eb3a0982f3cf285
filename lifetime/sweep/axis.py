"""One varied key of a study: where it is, the values it takes, and how they are given."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from lifetime.study.paths import Path, path_words

Scale = Literal["linear", "log"]

_WHOLE: Final = frozenset({"series", "parallel", "drive_repeats"})
"""Keys that are counts."""
_AT_END: Final = 0.02
_NEAR_END: Final = 0.05
"""How far a value on a log scale may be from the end itself, relative to it, to lie at the end."""


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

        A count lies at an end only where it is that end, a value on a log scale only within 5 % of the end itself.

        Args:
            value: Within the range.
        """
        low, high = min(self.values), max(self.values)
        if self.listed or low == high:
            return None
        if self.whole:
            return "lowest" if value <= low else "highest" if value >= high else None
        if self.scale == "log":
            if low * (1.0 + _NEAR_END) < value < high * (1.0 - _NEAR_END):
                return None
            low, value, high = math.log(low), math.log(value), math.log(high)
        fraction = (value - low) / (high - low)
        return "lowest" if fraction <= _AT_END else "highest" if fraction >= 1.0 - _AT_END else None


def axis_of(path: Path, given: Mapping[str, Any]) -> Axis:
    """The axis of a range: ``from``, ``to``, ``steps`` and perhaps ``scale``, or ``values`` alone.

    Args:
        path: Place of the key in the study.
        given: The range.

    Raises:
        ValueError: The range is empty or contradicts itself.
    """
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


def range_of(text: str) -> dict[str, Any]:
    """A range as a table, from ``from:to:steps``, ``from:to:steps:log`` or ``value,value``.

    Args:
        text: What was given at the command line.

    Raises:
        ValueError: It cannot be read.
    """
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


def _along(low: float, high: float, fraction: float, scale: Scale) -> float:
    """The value a fraction of the way from low to high."""
    if scale == "log":
        return math.exp(math.log(low) + fraction * (math.log(high) - math.log(low)))
    return low + fraction * (high - low)
