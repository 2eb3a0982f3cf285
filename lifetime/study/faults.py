"""Faults of a study's text: what the schema finds, and what is still to be filled in."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from pydantic import ValidationError

from lifetime.errors import Fault
from lifetime.split.rules import RULES
from lifetime.study.paths import RANGE_KEYS, leaves, path_words
from lifetime.validation import invalid_values

_RULE_KEYS: Final = frozenset(rule.key() for rule in RULES)
_INSIDE_TYPES: Final = ("function-", "constrained-", "tuple[", "float")
"""Beginnings of what a location names besides keys: parts of the schema's types."""


_HINTS: Final = {
    "extra_forbidden": " of a study file. Check its spelling, or remove it",
    "missing": "; the README's table of keys says what belongs there",
    "union_tag_not_found": ': name a rule, for example rule = "low_pass"',
}
"""What helps beyond the message, by kind of error."""


def with_question_marks(data: Mapping[str, Any], faults: list[Fault]) -> list[Fault]:
    """The faults of a study, with each question mark still in it named once and first.

    Args:
        data: The study as plain data.
        faults: What else was found; what was found at a question mark is left out.
    """
    marks = [path_words(path) for path, value in leaves(data) if value == "?" and not _may_be_called_so(path)]
    others = [one for one in faults if not any(one.place == mark or one.place.startswith(f"{mark}[") for mark in marks)]
    return [Fault(mark, 'is still "?"; it is yours to fill in.') for mark in marks] + others


def _may_be_called_so(path: Sequence[str | int]) -> bool:
    """Whether a history's column, or a strategy, may have a question mark for its name there."""
    return path[0] == "strategy" and not str(path[-1]).endswith(("discharge_is", "_unit"))


def schema_faults(error: ValidationError) -> Iterator[Fault]:
    """What the schema finds, in a person's words.

    Args:
        error: What the validation raised.
    """
    for invalid in invalid_values(error):
        place = _place(invalid.place) or "study"
        is_range = isinstance(invalid.given, Mapping) and bool(set(invalid.given) & RANGE_KEYS)
        if is_range and invalid.kind not in {"missing", "extra_forbidden", "value_error"}:
            yield Fault(place, "is a range, and one number is needed here. packwear sweep assesses ranges.")
        else:
            yield Fault(place, f"{invalid.message}{_HINTS.get(invalid.kind, invalid.got)}.")


def _place(location: Sequence[str | int]) -> str:
    """A location in the schema as a path of keys in words."""
    return path_words([part for part in location if isinstance(part, int) or not _is_of_a_type(part)])


def _is_of_a_type(part: str) -> bool:
    return part in _RULE_KEYS or part.startswith(_INSIDE_TYPES)
