"""The channels of a history file over time, one below the other, as static SVG."""

from typing import Final

from lifetime.report.figures import style
from lifetime.report.figures.svg import drawing, svg_text
from lifetime.report.file_trace import Trace
from lifetime.text import printable

_WIDTH_IN: Final = 7.2
_ROW_IN: Final = 1.35
_COLOURS: Final = {
    "current": style.BLUE,
    "power": style.BLACK,
    "voltage": style.GREEN,
    "temperature": style.VERMILION,
}
_HOUR_FROM_S: Final = 7200.0


def traces_svg(traces: list[Trace], *, seconds: bool) -> str:
    """Draw channels over one time axis.

    Args:
        traces: The channels, at least one.
        seconds: True where times are in seconds; false where the file's unit of time is not known.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415 - slow import

    end = max(float(one.time[-1]) for one in traces if one.time.size)
    hours = seconds and end >= _HOUR_FROM_S
    scale = 3600.0 if hours else 1.0
    with drawing():
        figure = Figure(figsize=(_WIDTH_IN, 0.5 + _ROW_IN * len(traces)), layout="constrained")
        for number, one in enumerate(traces, start=1):
            axes = figure.add_subplot(len(traces), 1, number)
            axes.plot(one.time / scale, one.values, color=_COLOURS[one.quantity], linewidth=0.7)
            axes.set_xlim(0.0, end / scale)
            axes.set_ylabel(f"{one.quantity} [{one.unit or 'unit not stated'}]")
            axes.set_title(printable(one.column))
            axes.grid(color=style.LIGHT_GREY, linewidth=0.4)
            if number == len(traces):
                axes.set_xlabel("time [h]" if hours else "time [s]" if seconds else "time [unit not stated]")
            else:
                axes.tick_params(labelbottom=False)
        names = ", ".join(printable(one.column) for one in traces)
        return svg_text(figure, f"Over time: {names}", "file-traces")
