"""What the command ``bound`` does."""

import json
import sys
from dataclasses import asdict
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console


_ENDS = (
    "The bank ends the day as full as it begins. In an assessment the best possible split may end it as empty as the "
    "emptiest of the strategies does, so its figures can be a little lower there."
)


def bound_and_print(study: Path, console: "Console", *, as_json: bool) -> None:
    """Print the bounds of every demand of a study.

    Args:
        study: The study file.
        console: Where to print.
        as_json: Print one JSON document.

    Raises:
        InputError: The study cannot be read.
        AssessmentError: It has no bank, or no demand.
    """
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    from lifetime.assess.bounds import bounds  # noqa: PLC0415
    from lifetime.study.load import load_study  # noqa: PLC0415
    from lifetime.text import printable  # noqa: PLC0415

    found = bounds(load_study(study), with_losses=find_spec("cvxpy") is not None)
    if as_json:
        sys.stdout.write(json.dumps([asdict(one) for one in found], indent=2, allow_nan=False) + "\n")
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column(Text("battery power [kW]"), overflow="fold")
    for heading in ("rms", "peak"):
        table.add_column(heading, justify="right")
    for one in found:
        table.add_row(Text(printable(one.demand), style="bold"), "", "")
        table.add_row("  alone", f"{one.alone_rms_W / 1e3:.2f}", f"{one.alone_peak_W / 1e3:.2f}")
        table.add_row("  best possible split", f"{one.best_rms_W / 1e3:.2f}", f"{one.best_peak_W / 1e3:.2f}")
        if one.with_losses_rms_W is not None and one.with_losses_wasted_J is not None:
            label = f"  with losses and limits, {one.with_losses_wasted_J / 1e3:.0f} kJ thrown away"
            table.add_row(label, f"{one.with_losses_rms_W / 1e3:.2f}", "")
    console.print(table)
    console.print(_ENDS)
    for reason in dict.fromkeys(one.with_losses_left_out for one in found if one.with_losses_left_out is not None):
        console.print(reason, markup=False, highlight=False)
