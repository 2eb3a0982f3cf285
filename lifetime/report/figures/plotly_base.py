"""What every Plotly figure of ours shares: plain layout, our fonts, and texts that are never taken for markup.

Figures are built as the plain JSON that Plotly draws, without its Python package: nothing to import, a tenth of the
size, and every number stands there as a number.
"""

from collections.abc import Sequence
from html import escape
from typing import Any

from lifetime.checks import FloatArray
from lifetime.report.words import label_lines
from lifetime.text import short_numbers

Json = dict[str, Any]

_FONT = {"family": "system-ui, 'DejaVu Sans', Verdana, Arial, sans-serif", "size": 13, "color": "#1a1a1a"}
_DIGITS = 6


def layout(title: str, **parts: Any) -> Json:
    """A layout with our fonts and a white ground.

    ``title`` says what the figure shows, and pages use it as its accessible name; ``parts`` are further keys of a
    Plotly layout, which come on top.
    """
    return {
        "meta": {"title": title},
        "font": _FONT,
        "paper_bgcolor": "#ffffff",
        "plot_bgcolor": "#ffffff",
        "margin": {"l": 60, "r": 20, "t": 30, "b": 90},
        "hoverlabel": {"align": "left"},
        "legend": {"orientation": "h", "yref": "container", "y": 0, "yanchor": "bottom", "x": 0},
        **parts,
    }


def axis(title: str, **parts: Any) -> Json:
    """An axis with quiet grid lines.

    ``title`` carries the unit in square brackets; ``parts`` are further keys of a Plotly axis, which come on top.
    """
    return {
        "title": {"text": text(title)},
        "gridcolor": "#e6e6e6",
        "zerolinecolor": "#999999",
        "linecolor": "#666666",
        "automargin": True,
        **parts,
    }


def names_axis(names: Sequence[str]) -> Json:
    """A vertical axis with one row a name, the first on top; names never become numbers or dates.

    Args:
        names: Any texts.
    """
    return axis(
        "",
        tickvals=list(range(len(names))),
        ticktext=["<br>".join(text(line) for line in label_lines(name)) for name in names],
        range=[len(names) - 0.45, -0.55],
        showgrid=False,
        zeroline=False,
    )


def text(words: str) -> str:
    """Words as Plotly shows them literally; it reads a few HTML tags, so they are escaped.

    Args:
        words: Any text.
    """
    return escape(words, quote=False)


def numbers(values: FloatArray) -> list[Any]:
    """An array as nested lists of numbers, with as many digits as a picture can use.

    Args:
        values: Finite values, any shape.
    """
    if values.ndim > 1:
        return [numbers(row) for row in values]
    return short_numbers(values, _DIGITS)


def upright(at: float, colour: str, dash: str, words: str, side: str = "center") -> tuple[Json, Json]:
    """A vertical line over the whole height, and the words at its top.

    Args:
        at: Where on the horizontal axis.
        colour: Of the line.
        dash: Plotly's name of the dash.
        words: What it marks.
        side: Side of the words that stands at the line: ``left``, ``center`` or ``right``.
    """
    line = {
        "type": "line",
        "x0": at,
        "x1": at,
        "y0": 0,
        "y1": 1,
        "yref": "paper",
        "line": {"color": colour, "dash": dash, "width": 1.5},
    }
    label: Json = {"x": at, "y": 1, "yref": "paper", "xanchor": side, "yanchor": "bottom"}
    label |= {"text": text(words), "showarrow": False}
    return line, label
