"""Faults of a study's text: what the schema finds, and what is still to be filled in."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from pydantic import ValidationError

from lifetime.errors import Fault
from lifetime.split.rules import RULES
from lifetime.study.paths import RANGE_KEYS, leaves, path_words

_RULE_KEYS: Final = frozenset(rule.key() for rule in RULES)
_INSIDE_TYPES: Final = ("function-", "constrained-", "tuple[", "float")
"""Beginnings of what a location names besides keys: parts of the schema's types."""


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
    for item in error.errors(include_url=False):
        place = _place(item["loc"])
        kind = item["type"]
        if kind == "extra_forbidden":
            yield Fault(place, "is not a key of a study file. Check its spelling, or remove it.")
        elif kind == "missing":
            yield Fault(place, "is missing; the README's table of keys says what belongs there.")
        elif kind == "union_tag_invalid":
            expected = item["ctx"]["expected_tags"].replace("'", "")
            yield Fault(f"{place}.rule", f"must be one of {expected}; got {item['ctx']['tag']}.")
        elif kind == "union_tag_not_found":
            yield Fault(f"{place}.rule", 'is missing: name a rule, for example rule = "low_pass".')
        elif kind == "too_short":
            # Items with faults of their own are not counted; those are reported already.
            given, least = item["input"], item["ctx"]["min_length"]
            if not isinstance(given, Sequence) or len(given) < least:
                yield Fault(place, f"needs at least {least} {'entry' if least == 1 else 'entries'}.")
        elif kind == "value_error":
            yield Fault(place or "study", f"{item['ctx']['error']}.")
        else:
            given = item.get("input")
            if isinstance(given, Mapping) and set(given) & RANGE_KEYS:
                yield Fault(place, "is a range, and one number is needed here. packwear sweep assesses ranges.")
                continue
            shown = f", got {given!r}" if isinstance(given, int | float | str | bool) else ""
            yield Fault(place or "study", f"{item['msg'].replace('Input should', 'should')}{shown}.")


def _place(location: Sequence[str | int]) -> str:
    """A location in the schema as a path of keys in words."""
    return path_words([part for part in location if isinstance(part, int) or not _is_of_a_type(part)])


def _is_of_a_type(part: str) -> bool:
    return part in _RULE_KEYS or part.startswith(_INSIDE_TYPES)
