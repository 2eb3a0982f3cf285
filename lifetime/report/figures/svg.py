"""A canvas for static pictures: the same data always give the same SVG text, small and fit to stand in a page.

Text stays text, so a reader can select it; names are never taken for formulas; nothing global is touched.
"""

import io
import re
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_STYLE: Any = {
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8.0,
    "axes.titlesize": 8.5,
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.6,
    "axes.unicode_minus": True,
    "axes.formatter.use_mathtext": False,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "legend.frameon": False,
    "legend.fontsize": 7.5,
    "legend.borderaxespad": 0.2,
    "hatch.linewidth": 0.5,
}
_ONE_AT_A_TIME = threading.RLock()
"""The drawing library keeps its style per process, not per thread; a web server draws in many threads."""
_COMMENT: Final = re.compile(r"<!--(?:[^-]++|-(?!->))*+(?:-->)?")
_METADATA: Final = re.compile(r"<metadata>(?:[^<]++|<(?!/metadata>))*+(?:</metadata>)?")
_USED_ID: Final = re.compile(r"#([\w-]++)")
_ID: Final = re.compile(r' id="([\w.-]++)"')
_LINE_ENDS: Final = re.compile(r"(?<!\s)[^\S\n]*+\n\s*+")
_VIEW_BOX: Final = re.compile(r'viewBox="0 0 ([\d.]++) ([\d.]++)"')
_FONTS = "'DejaVu Sans', Verdana, Arial, Helvetica, sans-serif"


@contextmanager
def drawing() -> Iterator[None]:
    """Draw in the house style, one thread at a time; what the process has set otherwise is put back afterwards."""
    import matplotlib as mpl  # noqa: PLC0415

    with _ONE_AT_A_TIME, mpl.rc_context(_STYLE), warnings.catch_warnings():
        # The font that measures a text may lack a script that the reader's own fonts have.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


def new_figure(width_in: float, height_in: float) -> "tuple[Figure, Axes]":
    """An empty figure with one set of axes.

    Args:
        width_in: Width [inch].
        height_in: Height [inch].
    """
    from matplotlib.figure import Figure  # noqa: PLC0415

    figure = Figure(figsize=(width_in, height_in), layout="constrained")
    return figure, figure.add_subplot()


def svg_text(figure: "Figure", title: str, salt: str) -> str:
    """The figure as one ``<svg>`` element.

    Args:
        figure: A finished figure.
        title: What a reader who cannot see it is told, as plain text.
        salt: Told into the ids, so that pictures in one page never share one.
    """
    import matplotlib as mpl  # noqa: PLC0415
    from markupsafe import escape  # noqa: PLC0415

    buffer = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": salt}):
        figure.savefig(buffer, format="svg", metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")))
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = _METADATA.sub("", _COMMENT.sub("", text))
    used = set(_USED_ID.findall(text))
    text = _ID.sub(lambda found: found[0] if found[1] in used else "", text)
    text = text.replace("'DejaVu Sans'", _FONTS)
    text = _LINE_ENDS.sub("\n", text)
    head, rest = text.split(">", 1)
    size = _VIEW_BOX.search(head)
    width, height = (size[1], size[2]) if size else ("0", "0")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img" '
        f'aria-label="{escape(title)}" viewBox="0 0 {width} {height}">{rest}'
    )
