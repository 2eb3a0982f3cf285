"""What pydantic finds wrong with given data, in a person's words: the one place that translates its errors."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from pydantic import ValidationError

_WORDS: Final[Mapping[str, str]] = {
    "extra_forbidden": "is not a key",
    "missing": "is missing",
    "literal_error": "must be one of {expected}",
    "string_type": "must be text",
    "string_too_short": "must not be empty",
    "model_type": "must be a table",
    "dict_type": "must be a table",
    "tuple_type": "must be a list",
    "list_type": "must be a list",
    "union_tag_invalid": "must be one of {expected_tags}",
    "union_tag_not_found": "is missing",
    "value_error": "{error}",
}
"""By kind of error; others are told in pydantic's words, which are plain English."""
_WITHOUT_VALUE: Final = frozenset({"extra_forbidden", "missing", "union_tag_not_found", "value_error", "too_short"})
_LONGEST_VALUE: Final = 80


@dataclass(frozen=True, slots=True)
class InvalidValue:
    """One thing that is wrong.

    Args:
        place: Keys from the top, lists counted from 0, with parts of the schema's types among them.
        kind: Pydantic's name for what is wrong, such as ``missing``.
        message: What is expected, to be put after the place: "must be greater than 0".
        given: The value as it was given.
        context: What comes with the error, such as bounds, or the faults of a parameter set's section.
    """

    place: tuple[str | int, ...]
    kind: str
    message: str
    given: Any
    context: Mapping[str, Any]

    @property
    def got(self) -> str:
        """The value in words after the message, cut where it is long; empty where it is not to be shown."""
        if self.kind in _WITHOUT_VALUE or not isinstance(self.given, int | float | str | bool | list | tuple):
            return ""
        text = repr(self.given)
        return f", got {text if len(text) <= _LONGEST_VALUE else f'{text[: _LONGEST_VALUE - 3]}...'}"


def invalid_values(error: ValidationError) -> Iterator[InvalidValue]:
    """Everything a validation found, in the order of the schema.

    Args:
        error: What the validation raised.
    """
    for item in error.errors(include_url=False):
        place, kind, given = item["loc"], item["type"], item["input"]
        context = item.get("ctx", {})
        if kind in {"union_tag_invalid", "union_tag_not_found"}:
            place, given = (*place, context["discriminator"].strip("'")), context.get("tag")
        if kind == "too_short":
            # Entries with faults of their own are not counted by pydantic; those are reported already.
            if isinstance(given, Sequence) and len(given) >= context["min_length"]:
                continue
            least = context["min_length"]
            message = f"needs at least {least} {'entry' if least == 1 else 'entries'}"
        else:
            words = _WORDS.get(kind)
            message = item["msg"].replace("Input should", "must") if words is None else words.format(**context)
        yield InvalidValue(place, kind, message, given, context)
