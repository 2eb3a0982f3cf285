"""The first rows of the columns that may have a role: their numbers and words, as evidence for suggestions."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.reader import Reader
from lifetime.history.mapping.mode_words import WordCollector, is_named_like_mode

_ROWS: Final = 8192
_MOST_TABLES: Final = 24
_LONGEST_MODE: Final = 30


@dataclass(frozen=True, slots=True)
class HeadRows:
    """The first rows of some columns, as they are in the file.

    Args:
        numbers: Numbers by position, NaN where a field has none; columns of one table are of one length.
        words: Distinct words by position, of text columns that may be modes.
    """

    numbers: dict[int, FloatArray] = field(default_factory=dict)
    words: dict[int, frozenset[str]] = field(default_factory=dict)

    def moves(self, position: int) -> bool:
        """True where a column has at least two different numbers, or was not looked at.

        Args:
            position: Position of the column.
        """
        known = self.known(position)
        return known is None or (known.size > 0 and float(known.min()) < float(known.max()))

    def known(self, position: int) -> FloatArray | None:
        """The finite numbers of a column, or None where it was not looked at.

        Args:
            position: Position of the column.
        """
        values = self.numbers.get(position)
        return None if values is None else values[np.isfinite(values)]


def mode_columns(reader: Reader) -> tuple[int, ...]:
    """Positions of the text columns that may be modes: named like one, or with short words.

    Args:
        reader: The file.
    """
    numeric, named, seconds = set(reader.number_columns()), Counter(reader.columns), reader.seconds
    positions = []
    for at, name in enumerate(reader.columns):
        if at in numeric or at in seconds or (name and named[name] > 1):
            continue
        words = {text for text in reader.text_sample(at) if text}
        short = all(len(word) <= _LONGEST_MODE and not any(mark.isdigit() for mark in word) for word in words)
        if words and (is_named_like_mode(name) or short):
            positions.append(at)
    return tuple(positions)


def head_rows(reader: Reader, numeric: Sequence[int], modes: Sequence[int]) -> HeadRows:
    """Read the first rows of columns; a row that spoils reading only ends it.

    Args:
        reader: The file.
        numeric: Positions of columns of numbers.
        modes: Positions of text columns that may be modes.
    """
    head = HeadRows()
    for number, (positions, words) in enumerate(_tables(reader, numeric, modes)):
        if number >= _MOST_TABLES:
            break
        collectors = {at: WordCollector() for at in words}
        try:
            chunk = next(iter(reader.chunks((*positions, *words), texts=collectors)), None)
        except HistoryError:
            continue
        if chunk is None:
            continue
        for at, values in zip(positions, chunk.values, strict=False):
            head.numbers[at] = values[:_ROWS]
        for at, collector in collectors.items():
            head.words[at] = frozenset(collector.words)
    return head


def _tables(
    reader: Reader, numeric: Sequence[int], modes: Sequence[int]
) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """The positions, grouped by the tables whose columns have the same rows."""
    rest, words = list(numeric), list(modes)
    while rest or words:
        together = reader.together((rest or words)[0])
        if together is None:
            yield tuple(rest), tuple(words)
            return
        yield tuple(at for at in rest if at in together), tuple(at for at in words if at in together)
        lead = (rest or words)[0]
        rest = [at for at in rest if at not in together and at != lead]
        words = [at for at in words if at not in together and at != lead]
