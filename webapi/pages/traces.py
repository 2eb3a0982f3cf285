"""The zoomable picture of a stored history."""

from collections.abc import Iterator
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.report.downsampling import MOST_POINTS, downsampled
from lifetime.report.figures import style
from lifetime.report.figures.plotly_base import Json, axis, layout, numbers
from lifetime.text import printable
from webapi.errors import QueryError
from webapi.models import History
from webapi.store import HistoryStore

_DIGITS: Final = 9
"""Times deep into a long history differ late in their digits."""


def number_names(columns: list[dict[str, Any]]) -> list[str]:
    """Names of the columns that hold numbers and can be told apart.

    Args:
        columns: As the history's row holds them.
    """
    names = [one["name"] for one in columns]
    return [one["name"] for one in columns if one["kind"] == "numbers" and names.count(one["name"]) == 1]


def first_choice(columns: list[dict[str, Any]]) -> tuple[str, str] | None:
    """Which columns to show before anybody chose: what looks like time, and what looks like the drive.

    Args:
        columns: As the history's row holds them.
    """
    names = number_names(columns)
    if len(names) < 2:
        return None
    could_be = {one["could_be"]: one["name"] for one in columns if one["could_be"] and one["name"] in names}
    along = could_be.get("time", names[0])
    rest = [name for name in names if name != along]
    return along, next((could_be[role] for role in ("current", "power", "voltage") if role in could_be), rest[0])


def trace(store: HistoryStore, row: History, along: str, shown: str, start: float | None, end: float | None) -> Json:
    """A stretch of one column along another, downsampled so that no peak is lost.

    Args:
        store: Where the numbers are.
        row: The history.
        along: Column on the horizontal axis, usually the time.
        shown: Column on the vertical axis.
        start: First value of ``along`` shown; None for the beginning.
        end: Last value shown; None for the end.

    Raises:
        QueryError: A column is not there, or the stretch is empty.
    """
    names = number_names(row.columns)
    for key, name in (("x", along), ("y", shown)):
        if name not in names:
            raise QueryError(key, f'must be one of the columns of numbers, got "{name[:80]}".')
    if start is None or end is None:
        start, end = _bounds(store, row, along)
    if not start < end:
        raise QueryError("end", "must lie after start.")
    time, value, seen = _stretch(store, row, along, shown, start, end)
    words = f"{seen:,} samples between {start:.6g} and {end:.6g}"
    if seen > time.size:
        words += f", drawn as {time.size:,} points: the lowest and highest of each stretch"
    return {
        "data": [
            {
                "type": "scatter",
                "mode": "lines" if seen > 1 else "markers",
                "x": [float(f"{one:.{_DIGITS}g}") for one in time.tolist()],
                "y": numbers(value),
                "line": {"color": style.BLUE, "width": 1},
                "hovertemplate": "%{y} at %{x}<extra></extra>",
            }
        ],
        "layout": layout(
            f"{printable(shown)} along {printable(along)}",
            height=380,
            xaxis=axis(printable(along), range=[start, end]),
            yaxis=axis(printable(shown)),
            margin={"l": 60, "r": 20, "t": 20, "b": 50},
            dragmode="zoom",
            showlegend=False,
        )
        | {"meta": {"title": f"{printable(shown)} along {printable(along)}", "shown": words, "most": MOST_POINTS}},
    }


def _stretch(
    store: HistoryStore, row: History, along: str, shown: str, start: float, end: float
) -> tuple[FloatArray, FloatArray, int]:
    if along == shown:
        return downsampled(((values, values) for (values,) in _pieces(store, row, along)), start, end)
    return downsampled(((x, y) for x, y in _pieces(store, row, along, shown)), start, end)


def _bounds(store: HistoryStore, row: History, along: str) -> tuple[float, float]:
    low, high = np.inf, -np.inf
    for (values,) in _pieces(store, row, along):
        finite = values[np.isfinite(values)]
        if finite.size:
            low, high = min(low, float(finite.min())), max(high, float(finite.max()))
    if not low < high:
        raise QueryError("x", "has no two different numbers to draw over.")
    return low, high


def _pieces(store: HistoryStore, row: History, *columns: str) -> Iterator[tuple[FloatArray, ...]]:
    names = [one["name"] for one in row.columns]
    reader = store.reader(row.store_key, row.file_name)
    for chunk in reader.chunks([names.index(column) for column in columns], drop_unfinished=True):
        yield chunk.values
