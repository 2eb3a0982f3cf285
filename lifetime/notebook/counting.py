"""Counting alone, for a colleague's question."""

from typing import TYPE_CHECKING

from lifetime.checks import FloatArray
from lifetime.stress.rainflow import count_cycles as count

if TYPE_CHECKING:
    import pandas as pd


def count_cycles(values: FloatArray, *, repeating: bool = False, smallest_range: float = 0.0) -> "pd.DataFrame":
    """Count the cycles of a series by rainflow counting, as a table with one row a cycle.

    Args:
        values: The series, shape (n,), finite, in any unit, for example state of charge.
        repeating: True where the series repeats for ever, such as a day that ends as it began: every cycle closes.
            False counts it once; what stays open counts as half cycles.
        smallest_range: Cycles of this range or less are left out after counting [unit of the values], >= 0.

    Returns:
        Columns ``range`` and ``mean`` [unit of the values], ``count`` (1 or 0.5), ``start`` and ``end`` (positions in
        the series), in the order in which the ranges end.

    Raises:
        NumberError: A value is NaN or infinite.

    Source:
        ASTM E1049-85 (reapproved 2017), 5.4.4 and, repeating, 5.4.5.

    Example:
        The half cycle of 0.5 from 0.8 to 0.3 is open where the series is counted once (positions 1 and 2):

        >>> import lifetime as pw
        >>> pw.count_cycles([0.5, 0.8, 0.3, 0.6]).round(3)
           range  mean  count  start  end
        0    0.3  0.65    0.5      0    1
        1    0.5  0.55    0.5      1    2
        2    0.3  0.45    0.5      2    3
        >>> pw.count_cycles([0.5, 0.8, 0.3, 0.6], repeating=True).round(3)
           range  mean  count  start  end
        0    0.1  0.55    1.0      3    0
        1    0.5  0.55    1.0      1    2
    """
    import pandas as pd  # noqa: PLC0415 - slow import

    cycles = count(values, repeating=repeating, smallest_range=smallest_range)
    columns = ("range", "mean", "count", "start", "end")
    return pd.DataFrame({name: getattr(cycles, name) for name in columns})
