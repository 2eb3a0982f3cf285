"""The contract by which a column of text becomes numbers: timestamps, modes of a cycler."""

from collections.abc import Mapping, Sequence
from typing import Final, Protocol

from lifetime.checks import FloatArray


class TextValues(Protocol):
    """Turns the fields of a text column into numbers."""

    def numbers(self, texts: Sequence[str]) -> FloatArray:
        """Give one number a field, NaN where a field is not understood.

        Args:
            texts: Fields, surrounding white space removed.
        """
        ...


Texts = Mapping[int, TextValues]
"""By position of a column, how its text becomes numbers; columns not named contain numbers."""

NO_TEXTS: Final[Texts] = {}
