"""A key of a study as text in a field, and back: fractions as %, several numbers with spaces, one row a line."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from lifetime.study.outline import Kind, StudyKey

_FRACTION: Final = "fraction"
_BOUND_WORDS: Final = {"ge": "at least", "gt": "above", "le": "at most", "lt": "below"}
_MOST_QUOTED: Final = 40


def unit_of(key: StudyKey) -> str:
    """The unit in which people give the key; % for a fraction.

    Args:
        key: The key.
    """
    return key.unit.replace(_FRACTION, "%")


def shown(key: StudyKey, value: Any) -> str:
    """A value as a field shows it.

    Args:
        key: The key.
        value: As a study document holds it.
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number_text(value, _shift(key))
    if key.kind == "rows":
        return "\n".join(" ".join(shown(column, _cell(row, column)) for column in key.columns) for row in value)
    if key.kind == "matrix":
        return "\n".join(" ".join(shown(key, number) for number in row) for row in value)
    if isinstance(value, list | tuple):
        return ("\n" if key.kind == "texts" else " ").join(shown(key, part) for part in value)
    return str(value)


def parsed(key: StudyKey, text: str) -> Any:
    """The value that a field's text stands for.

    Args:
        key: The key.
        text: What was typed or chosen, not empty.

    Raises:
        ValueError: It cannot be read, or is out of bounds; the message says what is expected.
    """
    return _READERS.get(key.kind, _as_it_is)(key, text)


def expected(key: StudyKey) -> str:
    """What a field takes, in words for its hint; empty where that is plain.

    Args:
        key: The key.
    """
    if key.kind == "numbers":
        return "Numbers with spaces between."
    if key.kind == "matrix":
        return "One row a line, numbers with spaces between."
    if key.kind == "texts":
        return "One name a line."
    if key.kind == "rows":
        return f"One row a line: {', '.join(_column_words(column) for column in key.columns)}."
    return ""


def _column_words(column: StudyKey) -> str:
    unit = unit_of(column)
    words = column.title.lower() + (f" [{unit}]" if unit else "")
    return f"{words} ({', '.join(column.choices)})" if column.choices else words


def _cell(row: Mapping[str, Any], column: StudyKey) -> Any:
    return row.get(column.key, column.default)


def _row(columns: Sequence[StudyKey], number: int, parts: Sequence[str]) -> dict[str, Any]:
    if len(parts) != len(columns):
        raise ValueError(f"line {number} needs {len(columns)} entries with spaces between, got {len(parts)}")
    try:
        return {column.key: parsed(column, part) for column, part in zip(columns, parts, strict=True)}
    except ValueError as error:
        raise ValueError(f"line {number} {error}") from None


def _rows(key: StudyKey, text: str) -> list[dict[str, Any]]:
    return [_row(key.columns, number, line.split()) for number, line in _lines(text)]


def _matrix(key: StudyKey, text: str) -> list[list[int | float]]:
    return [[_number(key, part) for part in line.split()] for _, line in _lines(text)]


def _numbers(key: StudyKey, text: str) -> int | float | list[int | float]:
    numbers = [_number(key, part) for part in text.split()]
    return numbers[0] if key.one_allowed and len(numbers) == 1 else numbers


def _texts(_: StudyKey, text: str) -> list[str]:
    return [line.strip() for _, line in _lines(text)]


def _choices(key: StudyKey, text: str) -> list[str]:
    return [_choice(key, part) for part in text.split()]


def _yes_no(_: StudyKey, text: str) -> bool:
    return text == "yes"


def _as_it_is(_: StudyKey, text: str) -> str:
    return text


def _lines(text: str) -> Iterable[tuple[int, str]]:
    return ((number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip())


def _choice(key: StudyKey, text: str) -> str:
    if text not in key.choices:
        raise ValueError(f"must be one of {', '.join(key.choices)}, got “{text[:_MOST_QUOTED]}”")
    return text


def _shift(key: StudyKey) -> int:
    """Decimal places between what the document holds and what people read."""
    return 2 if key.unit.startswith(_FRACTION) else 0


def _number(key: StudyKey, text: str) -> int | float:
    """Decimal arithmetic moves the point, so that 33.3 % is 0.333 to the last bit."""
    try:
        value = int(text) if key.kind == "integer" else float(Decimal(text).scaleb(-_shift(key)))
    except (ValueError, InvalidOperation):
        kind = "a whole number" if key.kind == "integer" else "a number with a decimal point"
        raise ValueError(f"must be {kind}, got “{text[:_MOST_QUOTED]}”") from None
    bounds = key.bounds
    if (
        not math.isfinite(value)
        or value < bounds.get("ge", -math.inf)
        or value <= bounds.get("gt", -math.inf)
        or value > bounds.get("le", math.inf)
        or value >= bounds.get("lt", math.inf)
    ):
        words = [f"{_BOUND_WORDS[name]} {_number_text(bound, _shift(key))}" for name, bound in bounds.items()]
        unit = unit_of(key)
        limits = " and ".join(words) or "finite"
        raise ValueError(f"must be {limits}{f' {unit}' if unit and words else ''}, got {text[:_MOST_QUOTED]}")
    return value


def _number_text(value: float, shift: int) -> str:
    text = format(Decimal(repr(value)).scaleb(shift), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


_READERS: Final[Mapping[Kind, Callable[[StudyKey, str], Any]]] = {
    "number": _number,
    "integer": _number,
    "numbers": _numbers,
    "matrix": _matrix,
    "rows": _rows,
    "texts": _texts,
    "choice": _choice,
    "choices": _choices,
    "yes_no": _yes_no,
}
