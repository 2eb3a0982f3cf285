"""Which column of numbers is the time: the one that runs forward row by row, whatever the others are called."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.reader import Reader
from lifetime.history.mapping.role_ratings import UNFIT, Rating

_ROWS: Final = 10_000
_FEWEST_ROWS: Final = 3
_MOVES: Final = 0.5
_RUNS: Final = 10
"""More than any name gives: what runs like a clock comes before what is only called so."""


def judged_times(
    reader: Reader, ratings: Mapping[int, Rating], looked_at: Mapping[int, FloatArray]
) -> dict[int, Rating]:
    """Ratings of columns as time, after a look at their first rows.

    A column that never moves is no time. One that runs forward in most rows comes before a counter that seldom moves,
    and before a clock that starts anew at every step of a test.

    Args:
        reader: The file.
        ratings: How likely each column is the time by its name and unit.
        looked_at: First numbers of columns that were read before.
    """
    stored = reader.seconds
    named = [at for at, rating in ratings.items() if rating.points > 0 and at not in stored]
    judged = dict(ratings)
    first = {at: _finite(looked_at[at]) for at in named if at in looked_at}
    first |= _first_values(reader, [at for at in named if at not in looked_at])
    for at, values in first.items():
        if values.size < _FEWEST_ROWS:
            continue
        with np.errstate(over="ignore"):  # absurd magnitudes are named by their own finding
            steps = np.diff(values)
        if not steps.any():
            judged[at] = UNFIT
        elif steps.min() >= 0.0 and np.count_nonzero(steps) >= _MOVES * steps.size:
            judged[at] = Rating(ratings[at].points + _RUNS, f"{ratings[at].evidence} and it runs forward row by row")
    return judged


def _first_values(reader: Reader, positions: list[int]) -> dict[int, FloatArray]:
    """The first numbers of columns; none where the first rows cannot be read, which reading will say."""
    if not positions:
        return {}
    together = reader.together(positions[0])
    groups = [positions] if together is None or together.issuperset(positions) else [[at] for at in positions]
    found: dict[int, FloatArray] = {}
    for group in groups:
        try:
            chunk = next(iter(reader.chunks(group)), None)
        except HistoryError:
            continue
        if chunk is not None:
            found.update((at, _finite(values[:_ROWS])) for at, values in zip(group, chunk.values, strict=True))
    return found


def _finite(values: FloatArray) -> FloatArray:
    kept: FloatArray = values[np.isfinite(values)]
    return kept
