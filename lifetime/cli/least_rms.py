"""The command ``least-rms``: the least-rms split of every demand of a study."""

from dataclasses import asdict
from importlib.util import find_spec
from typing import TYPE_CHECKING

from lifetime.cli.options import AsJson, StudyFile
from lifetime.cli.terminal import console, exit_codes, print_json

if TYPE_CHECKING:
    from lifetime.assessment.bounds import Bound

_END_OF_DAY = (
    "The bank ends the day as full as it begins. In an assessment the least-rms split may end it as empty as the "
    "emptiest of the strategies does, so its figures can be a little lower there."
)


def least_rms(study: StudyFile, as_json: AsJson = False) -> None:
    """Print the least battery power that any split can reach.

    For each demand of the study: rms and peak, with the battery alone and with the least-rms split.
    """
    with exit_codes():
        from lifetime.assessment.bounds import bounds  # noqa: PLC0415
        from lifetime.study.load import load_study  # noqa: PLC0415

        found = bounds(load_study(study), with_losses=find_spec("cvxpy") is not None)
        if as_json:
            print_json([asdict(bound) for bound in found])
        else:
            _print_bounds(found)


def _print_bounds(bounds: "list[Bound]") -> None:
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    from lifetime.text import printable  # noqa: PLC0415

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column(Text("battery power [kW]"), overflow="fold")
    for heading in ("rms", "peak"):
        table.add_column(heading, justify="right")
    for bound in bounds:
        table.add_row(Text(printable(bound.demand), style="bold"), "", "")
        table.add_row("  battery alone", _kW(bound.alone_rms_W), _kW(bound.alone_peak_W))
        table.add_row("  least-rms split", _kW(bound.best_rms_W), _kW(bound.best_peak_W))
        if bound.with_losses_rms_W is not None and bound.with_losses_wasted_J is not None:
            label = f"  with losses and limits, {bound.with_losses_wasted_J / 1e3:.3g} kJ dissipated"
            table.add_row(label, _kW(bound.with_losses_rms_W), "")
    out = console()
    out.print(table)
    out.print(_END_OF_DAY)
    for reason in dict.fromkeys(
        bound.with_losses_left_out for bound in bounds if bound.with_losses_left_out is not None
    ):
        out.print(reason, markup=False, highlight=False)


def _kW(power_W: float) -> str:
    return f"{power_W / 1e3:.3g}"
