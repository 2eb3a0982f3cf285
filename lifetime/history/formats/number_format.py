"""How numbers are written in a text: decimal mark, and marks between thousands."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from lifetime.errors import HistoryError

Decimal = Literal[".", ","]

_EXPONENT: Final = r"(?:[eE][+-]?\d+)?"
_PLAIN: Final = {
    ".": re.compile(rf"[+-]?(?:\d++(?:\.\d*+)?|\.\d++){_EXPONENT}", re.ASCII),
    ",": re.compile(rf"[+-]?(?:\d++(?:,\d*+)?|,\d++){_EXPONENT}", re.ASCII),
}
_MARKS: Final = {".": ",' \u00a0\u202f", ",": ".' \u00a0\u202f"}
_GROUPED: Final = {
    ".": re.compile(r"[+-]?[1-9]\d{0,2}(?:([,' \u00a0\u202f])\d{3})(?:\1\d{3})*(?:\.\d*)?"),
    ",": re.compile(r"[+-]?[1-9]\d{0,2}(?:([.' \u00a0\u202f])\d{3})(?:\1\d{3})*(?:,\d*)?"),
}

_ANY: Final = (*_PLAIN.values(), *_GROUPED.values())
_FIRST: Final = frozenset("+-.,0123456789")


@dataclass(frozen=True, slots=True)
class NumberFormat:
    """How the numbers of a text are written.

    Args:
        decimal: The decimal mark.
        grouped: True where marks between thousands occur.
    """

    decimal: Decimal = "."
    grouped: bool = False

    def is_number(self, text: str) -> bool:
        """Tell whether a field, surrounding white space removed, is a number.

        Args:
            text: The field.
        """
        if _PLAIN[self.decimal].fullmatch(text):
            return True
        return self.grouped and _GROUPED[self.decimal].fullmatch(text) is not None

    def number(self, text: str) -> float:
        """The number in a field, or NaN where it is none.

        Args:
            text: The field.
        """
        bare = text.strip()
        if not self.is_number(bare):
            return float("nan")
        if self.grouped:
            for mark in _MARKS[self.decimal]:
                bare = bare.replace(mark, "")
        return float(bare.replace(self.decimal, "."))

    @property
    def words(self) -> str:
        """What is unusual about the numbers, with a comma in front; empty for a plain decimal point."""
        comma = ", decimal comma" if self.decimal == "," else ""
        return comma + (", thousands marked" if self.grouped else "")


def looks_numeric(text: str) -> bool:
    """Tell whether a field is a number in any spelling known here.

    Args:
        text: The field, surrounding white space removed.
    """
    if not text or text[0] not in _FIRST:
        return False
    return any(pattern.fullmatch(text) is not None for pattern in _ANY)


def find_number_format(fields: Iterable[str], stated: Decimal | None, label: str) -> NumberFormat:
    """Find how the numbers of a table are written.

    Args:
        fields: Fields of many rows, surrounding white space removed.
        stated: The study's own word on the decimal mark, or None.
        label: The file's name, for messages.

    Raises:
        HistoryError: A mark could be a decimal comma or could mark thousands, and nothing shows which.
    """
    plain = _PLAIN["."].fullmatch
    marked = [text for text in fields if "," in text or "." in text or "'" in text]
    if stated is None and not any(looks_numeric(text) for text in marked if not plain(text)):
        return NumberFormat(".")  # nothing but plain decimal points
    numbers = [text for text in marked if looks_numeric(text)]
    grouped_point = [text for text in numbers if not _PLAIN["."].fullmatch(text) and _GROUPED["."].fullmatch(text)]
    comma_only = [text for text in numbers if not _PLAIN["."].fullmatch(text) and not _GROUPED["."].fullmatch(text)]
    if stated is not None:
        other = [text for text in numbers if not _PLAIN[stated].fullmatch(text) and _GROUPED[stated].fullmatch(text)]
        return NumberFormat(stated, grouped=bool(other))
    if comma_only:
        # Something like "0,5" or "1.234,5", which no decimal point explains.
        if any(_PLAIN["."].fullmatch(text) and not _GROUPED[","].fullmatch(text) and "." in text for text in numbers):
            return NumberFormat(".")  # both marks are used as decimals; fields with a comma will be refused by row
        return NumberFormat(",", grouped=any(_GROUPED[","].fullmatch(text) and "." in text for text in numbers))
    if not grouped_point:
        return NumberFormat(".")
    if all(_PLAIN[","].fullmatch(text) for text in grouped_point) and not any("." in text for text in numbers):
        raise HistoryError(
            f'contains "{grouped_point[0]}", which could be a decimal comma or mark thousands, and nothing in the file '
            "shows which.",
            file=label,
            remedy='Add decimal = "," or decimal = "." to the history in the study.',
        )
    return NumberFormat(".", grouped=True)
